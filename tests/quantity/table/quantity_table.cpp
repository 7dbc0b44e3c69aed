// Prints what the room reads, for comparison with others:
//   quantity_table           kind, unit, value, value in SI, tab-separated, over a wide range of values
//   quantity_table --units   the table of symbols as in lib/quantity/README.md
//   quantity_table --kinds   the table of kinds as in lib/quantity/README.md
#include <fmt/format.h>

#include <cstdio>
#include <cstring>
#include <map>

#include "any_kind.hpp"

using namespace vacuary;

namespace {

double si(const WrittenFlow& q) { return q.value_si; }
double si(const WrittenFlux& q) { return q.value_si; }
template <class Q>
double si(const Q& q) {
  return q.value();
}

constexpr const char* composites[] = {
    "m2",       "cm2",      "mm2",       "m3",           "cm3",          "in2",    "kg/m3",
    "g/cm3",    "mg/mm3",   "nm/s",      "nm/min",       "angstrom/s",   "um/h",   "m s^-1",
    "1/s",      "1/h",      "1/min",     "min^-1",       "U/min",        "rad/s",  "deg/s",
    "turn/min", "turn/h",   "L/s",       "l/min",        "m3/h",         "m3/s",   "cm3/min",
    "mbar L/s", "mbar*l/s", "Torr L/s",  "mTorr L/s",    "Pa m3/s",      "Pa L/s", "mol/s",
    "mmol/min", "scc/s",    "atm cm3/s", "mbar L/s/cm2", "Torr L/s/cm2", "Pa m/s", "Pa m3/s/m2",
    "mol/s/m2", "sccm/m2",  "mol/m2/s",  "nm/kWh",       "nm/J",         "um/MJ",  "g/kWh",
    "kg/J",     "mg/kJ",    "W/cm2",     "W/m2",         "kW/m2",        "mW/mm2", "W/s",
    "kW/s",     "kW/min",   "V/s",       "V/min",        "mV/h",         "J/m2",   "kJ/m2",
    "J/cm2",    "eV/nm2",   "C/m2",      "mC/cm2",       "A h/m2",       "A s",    "A h",
    "mA min",   "Pa m",     "Pa cm",     "Torr cm",      "mbar mm",      "Pa/s",   "mbar/min",
    "mbar/h",   "Torr/d",   "W/m/K",     "W/cm/K",       "mW/mm/K",      "J/kg/K", "J/g/K",
    "kJ/kg/mK", "mbar L",   "Torr L",    "W s",          "kW h",         "V A",    "kV mA"};

// Values as text, so that both programs read the same decimals.
constexpr const char* values[] = {
    "1", "3", "0.1", "7.25e-12", "9.87654321e-7", "299.792458", "6.02214076e11"};

void print_unit(const Unit& unit) {
  for (const char* value : values) {
    any_kind::with_type(unit.kind, [&](auto sample) {
      using Q = decltype(sample);
      const std::string text = std::string(value) + " " + unit.symbol;
      const auto read = parse<Q>(text);
      double value_si = 0;
      if (const auto* written = std::get_if<Written<Q>>(&read)) {
        value_si = si(written->value);
      } else {
        value_si = si(of<Q>(std::stod(value), unit));  // heat density shares its type
      }
      fmt::print("{}\t{}\t{}\t{:.17g}\n", name(unit.kind), unit.symbol, value, value_si);
    });
  }
}

int print_table() {
  std::size_t rows = 0;
  const auto all_of = [&](const std::string& symbol) {
    const auto read = parse_unit_of_any_kind(symbol);
    const auto* units = std::get_if<std::vector<Unit>>(&read);
    if (units == nullptr) return false;
    for (const Unit& unit : *units) print_unit(unit);
    rows += units->size();
    return true;
  };
  for (const UnitSymbol& s : unit_symbols()) {
    // mol and scc are of no kind alone.
    if (!all_of(s.symbol) && !all_of(s.symbol + "/s")) return 1;
  }
  for (const char* symbol : composites) {
    if (!all_of(symbol)) {
      fmt::print(stderr, "{} is not read\n", symbol);
      return 1;
    }
  }
  return rows > 200 ? 0 : 1;
}

int print_units() {
  std::map<Kind, std::string> lines;
  for (const UnitSymbol& s : unit_symbols()) {
    std::string& line = lines[s.kind];
    line += (line.empty() ? "`" : " `") + s.symbol + "`";
  }
  fmt::print("| kind | symbols |\n|---|---|\n");
  for (const auto& [kind, line] : lines) fmt::print("| {} | {} |\n", name(kind), line);
  return 0;
}

int print_kinds() {
  fmt::print("| kind | for example | printed in, when nobody chose |\n|---|---|---|\n");
  for (int k = 0; k < any_kind::kind_count; ++k) {
    const auto kind = static_cast<Kind>(k);
    const std::string usual = usual_unit(kind).symbol;
    fmt::print("| {} | `{}` | {} |\n", name(kind), example(kind), usual.empty() ? "-" : "`" + usual + "`");
  }
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 1) return print_table();
  if (argc == 2 && std::strcmp(argv[1], "--units") == 0) return print_units();
  if (argc == 2 && std::strcmp(argv[1], "--kinds") == 0) return print_kinds();
  return 2;
}
