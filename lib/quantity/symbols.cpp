#include "quantity/symbols.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <map>
#include <numbers>
#include <unordered_map>

#include "base/diagnostic.hpp"

namespace vacuary::detail {
namespace {

constexpr Dimension length{.length = 1};
constexpr Dimension volume{.length = 3};
constexpr Dimension mass{.mass = 1};
constexpr Dimension duration{.time = 1};
constexpr Dimension current{.current = 1};
constexpr Dimension temperature{.temperature = 1};
constexpr Dimension amount{.amount = 1};
constexpr Dimension angle{.angle = 1};
constexpr Dimension angular_speed{.time = -1, .angle = 1};
constexpr Dimension frequency{.time = -1};
constexpr Dimension pressure{.length = -1, .mass = 1, .time = -2, .pressure = 1};
constexpr Dimension energy{.length = 2, .mass = 1, .time = -2};
constexpr Dimension power{.length = 2, .mass = 1, .time = -3};
constexpr Dimension voltage{.length = 2, .mass = 1, .time = -3, .current = -1};
constexpr Dimension charge{.time = 1, .current = 1};
constexpr Dimension standard_volume{.length = 3, .standard_gas = 1};
constexpr Dimension standard_flow{.length = 3, .time = -1, .standard_gas = 1};
constexpr Dimension ratio{.ratio = 1};
constexpr Dimension count{.count = 1};

constexpr double pi = std::numbers::pi;

// `prefixes`: which SI prefixes the symbol takes besides none.
struct Stem {
  const char* text;
  const char* meaning;
  Kind kind;
  Dimension dimension;
  double numerator;
  double denominator;
  double offset;
  const char* prefixes;
};

// Torr: 101325/760 Pa by definition. psi: 0.45359237 kg x 9.80665 m/s2 over (25.4 mm)^2, mmHg:
// 13595.1 kg/m3 x 9.80665 m/s2 x 1 mm, both NIST SP 811 (2008) appendix B. eV: CODATA 2018 (exact).
constexpr Stem stems[] = {
    {"m", "metre", Kind::length, length, 1, 1, 0, "kcmunp"},
    {"angstrom", "angstrom, 0.1 nm", Kind::length, length, 1, 1e10, 0, ""},
    {"\u00C5", "angstrom, 0.1 nm", Kind::length, length, 1, 1e10, 0, ""},
    {"\u212B", "angstrom, 0.1 nm", Kind::length, length, 1, 1e10, 0, ""},
    {"in", "inch, 25.4 mm", Kind::length, length, 254, 1e4, 0, ""},
    {"L", "litre", Kind::volume, volume, 1, 1e3, 0, "mu"},
    {"l", "litre", Kind::volume, volume, 1, 1e3, 0, "mu"},
    {"s", "second", Kind::duration, duration, 1, 1, 0, "mun"},
    {"min", "minute", Kind::duration, duration, 60, 1, 0, ""},
    {"h", "hour", Kind::duration, duration, 3600, 1, 0, ""},
    {"d", "day of 24 h", Kind::duration, duration, 86400, 1, 0, ""},
    {"g", "gram", Kind::mass, mass, 1, 1e3, 0, "kmun"},
    {"Pa", "pascal", Kind::pressure, pressure, 1, 1, 0, "Mkhmun"},
    {"bar", "bar", Kind::pressure, pressure, 1e5, 1, 0, "mun"},
    {"Torr", "torr, 1/760 atm", Kind::pressure, pressure, 101325, 760, 0, "mun"},
    {"atm", "standard atmosphere", Kind::pressure, pressure, 101325, 1, 0, ""},
    {"psi", "pound-force per square inch", Kind::pressure, pressure, 44482216152605.0, 6451600000.0, 0, ""},
    {"mmHg", "millimetre of mercury", Kind::pressure, pressure, 133322387415.0, 1e9, 0, ""},
    {"W", "watt", Kind::power, power, 1, 1, 0, "Mkmun"},
    {"J", "joule", Kind::energy, energy, 1, 1, 0, "Mkmu"},
    {"Wh", "watt-hour", Kind::energy, energy, 3600, 1, 0, "Mkm"},
    {"eV", "electronvolt", Kind::energy, energy, 1.602176634e-19, 1, 0, "Mkm"},
    {"V", "volt", Kind::voltage, voltage, 1, 1, 0, "kmu"},
    {"A", "ampere", Kind::current, current, 1, 1, 0, "kmunp"},
    {"C", "coulomb", Kind::charge, charge, 1, 1, 0, "kmun"},
    {"Hz", "hertz", Kind::frequency, frequency, 1, 1, 0, "GMkm"},
    {"rad", "radian", Kind::angle, angle, 1, 1, 0, "mu"},
    {"deg", "degree of angle", Kind::angle, angle, pi, 180, 0, ""},
    {"\u00B0", "degree of angle", Kind::angle, angle, pi, 180, 0, ""},
    {"arcmin", "minute of arc", Kind::angle, angle, pi, 10800, 0, ""},
    {"arcsec", "second of arc", Kind::angle, angle, pi, 648000, 0, ""},
    {"turn", "full turn", Kind::angle, angle, 2 * pi, 1, 0, ""},
    {"rpm", "turns per minute", Kind::angular_speed, angular_speed, 2 * pi, 60, 0, ""},
    {"mol", "mole, as in mol/s", Kind::flow, amount, 1, 1, 0, "kmun"},
    {"sccm", "standard cubic centimetre per minute", Kind::flow, standard_flow, 1, 6e7, 0, ""},
    {"slm", "standard litre per minute", Kind::flow, standard_flow, 1, 6e4, 0, ""},
    {"scc", "standard cubic centimetre, as in scc/s", Kind::flow, standard_volume, 1, 1e6, 0, ""},
    {"K", "kelvin", Kind::temperature, temperature, 1, 1, 0, "m"},
    {"degC", "degree Celsius", Kind::temperature, temperature, 1, 1, 273.15, ""},
    {"\u00B0C", "degree Celsius", Kind::temperature, temperature, 1, 1, 273.15, ""},
    {"%", "percent", Kind::ratio, ratio, 1, 100, 0, ""},
    {"ppm", "parts per million", Kind::ratio, ratio, 1, 1e6, 0, ""},
    {"ppb", "parts per thousand million", Kind::ratio, ratio, 1, 1e9, 0, ""},
    {"ratio", "plain ratio", Kind::ratio, ratio, 1, 1, 0, ""},
    {"count", "number of things", Kind::count, count, 1, 1, 0, ""},
};

struct Prefix {
  char letter;
  const char* name;
  double numerator;
  double denominator;
};
constexpr Prefix prefixes[] = {
    {'G', "giga", 1e9, 1},  {'M', "mega", 1e6, 1},  {'k', "kilo", 1e3, 1},
    {'h', "hecto", 100, 1}, {'c', "centi", 1, 100}, {'m', "milli", 1, 1e3},
    {'u', "micro", 1, 1e6}, {'n', "nano", 1, 1e9},  {'p', "pico", 1, 1e12},
};

Symbol with_prefix(const Stem& stem, const Prefix& prefix, const std::string& spelling) {
  return {
      spelling + stem.text, std::string(prefix.name) + stem.meaning, stem.kind,
      stem.dimension,       stem.numerator * prefix.numerator,       stem.denominator * prefix.denominator,
      stem.offset};
}

std::vector<Symbol> make_symbols() {
  std::vector<Symbol> all;
  for (const Stem& stem : stems) {
    all.push_back(
        {stem.text, stem.meaning, stem.kind, stem.dimension, stem.numerator, stem.denominator, stem.offset});
    for (const char* letter = stem.prefixes; *letter != '\0'; ++letter) {
      const Prefix& prefix = *std::find_if(std::begin(prefixes), std::end(prefixes),
                                           [&](const Prefix& p) { return p.letter == *letter; });
      all.push_back(with_prefix(stem, prefix, std::string(1, *letter)));
      if (*letter != 'u') continue;
      all.push_back(with_prefix(stem, prefix, "\u00B5"));
      all.push_back(with_prefix(stem, prefix, "\u03BC"));
    }
  }
  return all;
}

// What people write for a unit that has another symbol here.
const std::map<std::string, const char*, std::less<>>& slips() {
  static const std::map<std::string, const char*, std::less<>> table = {
      {"sec", "s"},          {"secs", "s"},       {"second", "s"},    {"seconds", "s"}, {"mins", "min"},
      {"minute", "min"},     {"minutes", "min"},  {"hr", "h"},        {"hrs", "h"},     {"hour", "h"},
      {"hours", "h"},        {"day", "d"},        {"days", "d"},      {"rev", "turn"},  {"revs", "turn"},
      {"micron", "um"},      {"microns", "um"},   {"percent", "%"},   {"pct", "%"},     {"degree", "deg"},
      {"degrees", "deg"},    {"celsius", "degC"}, {"kelvin", "K"},    {"watt", "W"},    {"watts", "W"},
      {"volt", "V"},         {"volts", "V"},      {"amp", "A"},       {"amps", "A"},    {"ampere", "A"},
      {"liter", "L"},        {"liters", "L"},     {"litre", "L"},     {"litres", "L"},  {"slpm", "slm"},
      {"lpm", "L/min"},      {"cc", "cm3"},       {"ccm", "cm3/min"}, {"inch", "in"},   {"inches", "in"},
      {"fraction", "ratio"}, {"counts", "count"}, {"lps", "L/s"},     {"mt", "mTorr"},  {"cbm", "m3"},
      {"pascal", "Pa"},      {"turns", "turn"},
  };
  return table;
}

// Flow meters' "normal" litres (common practice): gas at 0 degC and 101325 Pa (DIN 1343), while what
// sccm and slm count is the chamber file's to say.
const std::map<std::string, const char*, std::less<>>& normal_flows() {
  static const std::map<std::string, const char*, std::less<>> table = {
      {"ln/min", "slm"},   {"nl/min", "slm"},   {"nlm", "slm"},   {"nlpm", "slm"},
      {"mln/min", "sccm"}, {"nml/min", "sccm"}, {"nccm", "sccm"}, {"ncm3/min", "sccm"},
  };
  return table;
}

std::string folded(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

bool alone_is(const Symbol& symbol, Kind kind) { return basis_as(kind, symbol.dimension).has_value(); }

std::size_t bytes_apart(std::string_view a, std::string_view b) {
  std::size_t apart = 0;
  for (std::size_t i = 0; i < a.size(); ++i) apart += a[i] == b[i] ? 0U : 1U;
  return apart;
}

// The symbol that differs from `word` by upper and lower case only: those of the wanted kind first,
// then the one with fewest letters to change ("mw" is mW, not MW).
std::string same_but_case(std::string_view word, Kind wanted) {
  std::string best;
  std::size_t best_cost = std::string::npos;
  const std::string folded_word = folded(word);
  for (const Symbol& symbol : symbols()) {
    if (symbol.text.size() != word.size() || folded(symbol.text) != folded_word) continue;
    const std::size_t cost = bytes_apart(word, symbol.text) + (alone_is(symbol, wanted) ? 0 : 100);
    if (cost >= best_cost) continue;
    best = symbol.text;
    best_cost = cost;
  }
  return best;
}

}  // namespace

Dimension product(const Dimension& a, const Dimension& b, int n) {
  return {a.length + n * b.length,
          a.mass + n * b.mass,
          a.time + n * b.time,
          a.current + n * b.current,
          a.temperature + n * b.temperature,
          a.amount + n * b.amount,
          a.angle + n * b.angle,
          a.standard_gas + n * b.standard_gas,
          a.ratio + n * b.ratio,
          a.count + n * b.count,
          a.pressure + n * b.pressure};
}

const std::vector<Symbol>& symbols() {
  static const std::vector<Symbol> all = make_symbols();
  return all;
}

const Symbol* find_symbol(std::string_view text) {
  static const auto by_text = [] {
    std::unordered_map<std::string_view, const Symbol*> map;
    for (const Symbol& symbol : symbols()) map.emplace(symbol.text, &symbol);
    return map;
  }();
  const auto at = by_text.find(text);
  return at == by_text.end() ? nullptr : at->second;
}

std::string suggestion(std::string_view word, Kind wanted) {
  if (std::string same = same_but_case(word, wanted); !same.empty()) return same;
  if (const auto slip = slips().find(folded(word)); slip != slips().end()) return slip->second;
  std::vector<std::string> fitting;
  std::vector<std::string> all;
  for (const Symbol& symbol : symbols()) {
    all.push_back(symbol.text);
    if (alone_is(symbol, wanted)) fitting.push_back(symbol.text);
  }
  if (auto near = nearest(std::string(word), fitting)) return *near;
  return nearest(std::string(word), all).value_or("");
}

std::string advice(std::string_view word, Kind wanted) {
  const std::string text = folded(word);
  if (wanted != Kind::length && (text == "micron" || text == "microns"))
    return "as a pressure it is mTorr, as a length um";
  for (const char* fahrenheit : {"f", "degf", "fahrenheit", "\u00B0f", "\u2109"}) {
    if (text == fahrenheit) return "Fahrenheit is not read: export it in degC";
  }
  for (const char* apparent : {"va", "kva", "mva"}) {
    if (text == apparent) return "apparent power says little of what is dissipated: export it in kW";
  }
  return "";
}

std::string normal_flow_remedy(std::string_view unit) {
  const auto found = normal_flows().find(folded(unit));
  if (found == normal_flows().end()) return "";
  return fmt::format(
      "did you mean '{}'? Normal gas is at 0 degC and 101325 Pa: the chamber file must have this reference",
      found->second);
}

}  // namespace vacuary::detail

namespace vacuary {

const std::vector<UnitSymbol>& unit_symbols() {
  static const std::vector<UnitSymbol> all = [] {
    std::vector<UnitSymbol> list;
    for (const detail::Symbol& s : detail::symbols()) {
      list.push_back({s.text, s.meaning, s.kind, s.numerator / s.denominator, s.offset});
    }
    return list;
  }();
  return all;
}

}  // namespace vacuary
