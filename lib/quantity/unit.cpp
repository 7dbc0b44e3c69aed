// The grammar of units:
//
//   unit    = factor { separator factor }
//   separator = blank | '*' | '·' | '/'          (no product after a '/': "W/m K" can be read two ways)
//   factor  = symbol [ [ '^' ] [ '-' ] digits ]  | symbol [ '⁻' ] ( '¹' | '²' | '³' )  | "1" (only first)
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>
#include <stdexcept>

#include "quantity/symbols.hpp"

namespace vacuary {
namespace detail {
namespace {

constexpr std::size_t longest_unit = 64;
constexpr std::size_t most_factors = 8;
constexpr int largest_power = 9;

// A unit taken apart: its factor is numerator / denominator.
struct Composed {
  Dimension dimension;
  double numerator = 1;
  double denominator = 1;
  double offset = 0;
  std::size_t factors = 0;
  bool divided = false;
  const Symbol* only = nullptr;  // when the unit is one symbol to the power one
};

using Step = std::optional<TextProblem>;

TextProblem problem(std::size_t offset, std::size_t length, std::string message, std::string remedy) {
  return {offset, length, std::move(message), std::move(remedy)};
}

bool starts(std::string_view text, std::string_view with) { return text.substr(0, with.size()) == with; }

bool is_digit(char c) { return c >= '0' && c <= '9'; }

constexpr std::string_view superscript_minus = "\u207B";
constexpr std::pair<std::string_view, int> superscripts[] = {{"\u00B9", 1}, {"\u00B2", 2}, {"\u00B3", 3}};
constexpr std::string_view middle_dot = "\u00B7";

bool is_superscript(std::string_view rest) {
  return starts(rest, superscript_minus) ||
         std::any_of(std::begin(superscripts), std::end(superscripts),
                     [rest](const auto& superscript) { return starts(rest, superscript.first); });
}

// Bytes of `text` that make a symbol: letters, '%', and anything that is not ASCII.
std::size_t symbol_length(std::string_view text) {
  std::size_t n = 0;
  while (n < text.size()) {
    const auto c = static_cast<unsigned char>(text[n]);
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '%' || c >= 0x80;
    const std::string_view rest = text.substr(n);
    if (!letter || is_superscript(rest) || starts(rest, middle_dot) || blank_at(rest) != 0) break;
    ++n;
  }
  return n;
}

// German practice. "U" (Umdrehung) is a turn in this alone and no symbol: a voltage is called U too.
std::string_view in_our_symbols(std::string_view text) { return text == "U/min" ? "turn/min" : text; }

class UnitReader {
 public:
  UnitReader(std::string_view text, Kind wanted) : text_(in_our_symbols(text)), wanted_(wanted) {}

  std::variant<Composed, TextProblem> read() {
    if (text_.size() > longest_unit) {
      return problem(0, text_.size(), "the unit is too long to be one", "write a number, a blank and a unit");
    }
    if (Step bad = factor(1)) return *bad;
    while (at_ < text_.size()) {
      if (Step bad = next()) return *bad;
    }
    name_turns();
    const double unit_factor = composed_.numerator / composed_.denominator;
    if (!std::isnormal(unit_factor)) {
      return problem(0, text_.size(), fmt::format("{} is too large or too small a unit", quoted(text_)),
                     "use smaller powers");
    }
    return composed_;
  }

 private:
  [[nodiscard]] std::string_view rest() const { return text_.substr(at_); }

  bool skip_blanks() {
    const std::size_t before = at_;
    while (const std::size_t n = blank_at(rest())) at_ += n;
    return at_ != before;
  }

  // "1/min" and "min-1" are turns, as on the rating plates of motors and pumps (common practice):
  // nothing else here is counted by the minute. "1/s" stays a frequency.
  void name_turns() {
    const Symbol& minute = *find_symbol("min");
    if (composed_.dimension != product({}, minute.dimension, -1)) return;
    if (composed_.numerator * minute.numerator != composed_.denominator) return;
    const Symbol& turn = *find_symbol("turn");
    composed_.dimension = product(composed_.dimension, turn.dimension, 1);
    composed_.numerator *= turn.numerator;
  }

  Step next() {
    const std::size_t separator_at = at_;
    bool separated = skip_blanks();
    int sign = 1;
    if (starts(rest(), "/")) {
      sign = -1;
      composed_.divided = true;
      ++at_;
      separated = true;
    } else if (starts(rest(), "*") || starts(rest(), middle_dot)) {
      at_ += starts(rest(), "*") ? 1 : middle_dot.size();
      separated = true;
    }
    skip_blanks();
    if (at_ >= text_.size()) {
      return problem(separator_at, text_.size() - separator_at, "the unit ends in the middle",
                     "add what is missing after the last sign, or take the sign away");
    }
    if (!separated) return odd_byte();
    if (sign == 1 && composed_.divided && (symbol_length(rest()) > 0 || is_digit(text_[at_]))) {
      return problem(separator_at, text_.size() - separator_at,
                     "a product after a '/' can be read in two ways",
                     "put products first and give every divisor its own '/', as in 'W/m/K'");
    }
    return factor(sign);
  }

  Step odd_byte() const {
    const char c = text_[at_];
    if (c == '(' || c == ')') {
      return problem(at_, 1, "units have no parentheses here",
                     "give every divisor its own '/', as in 'W/m/K'");
    }
    std::size_t n = 1;
    while (at_ + n < text_.size() && (static_cast<unsigned char>(text_[at_ + n]) & 0xC0U) == 0x80U) ++n;
    return problem(at_, n, fmt::format("{} has no place in a unit", quoted(text_.substr(at_, n))),
                   "units are symbols with blanks or '*', '/' and whole powers, as in 'mbar L/s/cm2'");
  }

  Step factor(int sign) {
    const std::size_t begin = at_;
    if (composed_.factors == 0 && starts(rest(), "1") && (text_.size() == 1 || !is_digit(text_[1]))) {
      ++at_;
      ++composed_.factors;
      return std::nullopt;
    }
    const std::size_t n = symbol_length(rest());
    if (n == 0) return odd_byte();
    at_ += n;
    int power = 1;
    if (Step bad = read_power(power)) return bad;
    const Symbol* symbol = find_symbol(text_.substr(begin, n));
    if (symbol == nullptr) return unknown(begin, n);
    return apply(*symbol, sign * power, begin);
  }

  bool read_superscript(int& power) {
    const bool negative = starts(rest(), superscript_minus);
    const std::string_view digit = rest().substr(negative ? superscript_minus.size() : 0);
    for (const auto& [mark, value] : superscripts) {
      if (!starts(digit, mark)) continue;
      at_ = text_.size() - digit.size() + mark.size();
      power = negative ? -value : value;
      return true;
    }
    return false;
  }

  Step read_power(int& power) {
    if (read_superscript(power)) return std::nullopt;
    const std::size_t begin = at_;
    const bool caret = starts(rest(), "^");
    if (caret) ++at_;
    const bool negative = starts(rest(), "-");
    if (negative) ++at_;
    const std::size_t digits_at = at_;
    while (at_ < text_.size() && is_digit(text_[at_])) ++at_;
    if (at_ == digits_at && !caret && !negative) return std::nullopt;
    power = at_ - digits_at == 1 ? text_[digits_at] - '0' : 0;
    if (power < 1 || power > largest_power) {
      return problem(begin, std::max<std::size_t>(at_ - begin, 1),
                     "a power of a unit is a whole number from 1 to 9", "write it like 'm3' or 's-1'");
    }
    if (negative) power = -power;
    return std::nullopt;
  }

  Step unknown(std::size_t begin, std::size_t n) const {
    const std::string_view word = text_.substr(begin, n);
    std::string remedy = normal_flow_remedy(text_);
    if (remedy.empty()) remedy = advice(word, wanted_);
    if (remedy.empty()) {
      const std::string near = suggestion(word, wanted_);
      remedy = near.empty() ? fmt::format("units that fit: {}", row(wanted_).fitting)
                            : fmt::format("did you mean '{}'?", near);
    }
    return problem(begin, n, fmt::format("unknown unit {}", quoted(word)), std::move(remedy));
  }

  Step apply(const Symbol& symbol, int power, std::size_t begin) {
    if (++composed_.factors > most_factors) {
      return problem(begin, text_.size() - begin, "the unit has too many parts", "use at most 8");
    }
    composed_.dimension = product(composed_.dimension, symbol.dimension, power);
    for (int i = 0; i < std::abs(power); ++i) {
      composed_.numerator *= power > 0 ? symbol.numerator : symbol.denominator;
      composed_.denominator *= power > 0 ? symbol.denominator : symbol.numerator;
    }
    const bool alone = begin == 0 && at_ == text_.size() && power == 1;
    if (alone) composed_.only = &symbol;
    composed_.offset = symbol.offset;
    if (symbol.offset != 0 && !alone) {
      return problem(
          begin, symbol.text.size(),
          fmt::format("'{}' has its zero elsewhere and cannot be part of a composed unit", symbol.text),
          "use K");
    }
    return std::nullopt;
  }

  std::string_view text_;
  Kind wanted_;
  std::size_t at_ = 0;
  Composed composed_;
};

std::optional<Unit> as_kind(const Composed& c, Kind kind, std::string_view text) {
  const std::optional<FlowBasis> basis = basis_as(kind, c.dimension);
  if (!basis) return std::nullopt;
  if (c.offset != 0 && kind != Kind::temperature) return std::nullopt;
  // A composed or inverted unit is no temperature: "mK s/s" is nobody's thermometer.
  if (kind == Kind::temperature && c.only == nullptr) return std::nullopt;
  return Unit{std::string(text), kind, c.numerator / c.denominator, c.offset, *basis};
}

std::vector<Unit> all_kinds(const Composed& c, std::string_view text) {
  std::vector<Unit> units;
  for (std::size_t i = 0; i < kind_count; ++i) {
    if (auto unit = as_kind(c, kind_at(i), text)) units.push_back(std::move(*unit));
  }
  return units;
}

std::string article(const char* noun) {
  return fmt::format("{} {}", std::string_view("aeiou").find(noun[0]) == std::string_view::npos ? "a" : "an",
                     noun);
}

// Why a sound unit is not the wanted one, for the mistakes that people make.
std::string reason(Kind found, Kind wanted) {
  const auto either = [&](Kind a, Kind b) {
    return (found == a && wanted == b) || (found == b && wanted == a);
  };
  if (either(Kind::power, Kind::flow)) return ": a gas flow is an amount of gas per time, never a power";
  if (either(Kind::power_density, Kind::flux)) return ": a gas flow per area is never a power density";
  if (either(Kind::frequency, Kind::angular_speed)) return ": turning is an angle per time, not a frequency";
  if (either(Kind::pumping_speed, Kind::flow)) {
    return ": how much gas flows depends on its pressure too, a pumping speed does not say it";
  }
  if (found == Kind::temperature && wanted == Kind::temperature_difference) {
    return ": a difference is written in K, so that nobody has to guess what 5 degC meant";
  }
  if (found == Kind::temperature_difference && wanted == Kind::temperature) {
    return ": a temperature is written in degC or K alone";
  }
  if (found == Kind::count && wanted == Kind::ratio) return ": a ratio is not a number of things";
  return "";
}

// What was meant by a sound unit of another kind: another case, or a letter that means two things.
std::string meant_instead(std::string_view text, Kind wanted) {
  if (text == "A" && wanted == Kind::length) return "'angstrom'";
  if (text == "C" && wanted == Kind::temperature) return "'degC'";
  const std::string near = suggestion(text, wanted);
  const Symbol* symbol = find_symbol(near);
  const bool fits = symbol != nullptr && near != text && basis_as(wanted, symbol->dimension);
  return fits ? fmt::format("'{}'", near) : "";
}

// "L/min" written for a gas flow: the standard flow of as much volume, and what it means.
std::string standard_flow_instead(const Composed& c, Kind wanted) {
  if (wanted != Kind::flow || !as_kind(c, Kind::pumping_speed, "")) return "";
  for (const Symbol& symbol : symbols()) {
    if (basis_as(Kind::flow, symbol.dimension) != FlowBasis::standard) continue;
    if (symbol.numerator * c.denominator != c.numerator * symbol.denominator) continue;
    return fmt::format("'{}', {}", symbol.text, symbol.meaning);
  }
  return "";
}

TextProblem wrong_kind(const Composed& c, std::string_view text, Kind wanted) {
  const std::vector<Unit> units = all_kinds(c, text);
  std::string remedy =
      fmt::format("units that fit: {}; for example \"{}\"", row(wanted).fitting, example(wanted));
  const std::string meant =
      c.only != nullptr ? meant_instead(text, wanted) : standard_flow_instead(c, wanted);
  if (!meant.empty()) remedy = fmt::format("did you mean {}? Otherwise {}", meant, remedy);
  if (units.empty()) {
    return problem(0, text.size(),
                   fmt::format("{} is no unit of anything used here, {} was expected", quoted(text),
                               article(name(wanted))),
                   std::move(remedy));
  }
  const Kind found = units.front().kind;
  return problem(0, text.size(),
                 fmt::format("{} is {}, {} was expected{}", quoted(text), article(name(found)),
                             article(name(wanted)), reason(found, wanted)),
                 std::move(remedy));
}

std::string_view trimmed(std::string_view text, std::size_t& removed) {
  removed = 0;
  while (const std::size_t n = blank_at(text)) {
    text.remove_prefix(n);
    removed += n;
  }
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

TextProblem moved(TextProblem p, std::size_t by) {
  p.offset += by;
  return p;
}

}  // namespace

std::size_t blank_at(std::string_view text) {
  for (const std::string_view blank : {" ", "\t", "\u00A0", "\u2009", "\u202F"}) {
    if (starts(text, blank)) return blank.size();
  }
  return 0;
}

std::string quoted(std::string_view text) {
  constexpr std::size_t longest = 40;
  if (text.size() <= longest) return fmt::format("'{}'", text);
  std::size_t n = longest;
  while (n > 0 && (static_cast<unsigned char>(text[n]) & 0xC0U) == 0x80U) --n;
  return fmt::format("'{}...'", text.substr(0, n));
}

}  // namespace detail

std::variant<Unit, TextProblem> parse_unit(std::string_view text, Kind kind) {
  std::size_t removed = 0;
  text = detail::trimmed(text, removed);
  if (text.empty()) {
    if (kind == Kind::count) return Unit{"", kind, 1, 0, FlowBasis::amount};
    return detail::problem(removed, 0, fmt::format("the unit of {} is missing", detail::article(name(kind))),
                           fmt::format("units that fit: {}", detail::row(kind).fitting));
  }
  auto read = detail::UnitReader(text, kind).read();
  if (auto* bad = std::get_if<TextProblem>(&read)) return detail::moved(std::move(*bad), removed);
  const auto& composed = std::get<detail::Composed>(read);
  if (auto unit = detail::as_kind(composed, kind, text)) return std::move(*unit);
  return detail::moved(detail::wrong_kind(composed, text, kind), removed);
}

std::variant<std::vector<Unit>, TextProblem> parse_unit_of_any_kind(std::string_view text) {
  std::size_t removed = 0;
  text = detail::trimmed(text, removed);
  if (text.empty()) return detail::problem(removed, 0, "the unit is missing", "write a unit, like 'mbar'");
  auto read = detail::UnitReader(text, Kind::pressure).read();
  if (auto* bad = std::get_if<TextProblem>(&read)) return detail::moved(std::move(*bad), removed);
  std::vector<Unit> units = detail::all_kinds(std::get<detail::Composed>(read), text);
  if (!units.empty()) return units;
  return detail::problem(removed, text.size(),
                         fmt::format("{} is no unit of anything used here", detail::quoted(text)),
                         "units look like 'mbar', 'kW' or 'mbar L/s'");
}

const Unit& usual_unit(Kind kind) { return unit(detail::row(kind).usual, kind); }

const Unit& unit(std::string_view symbol, Kind kind) {
  static std::mutex mutex;
  static std::map<std::pair<Kind, std::string>, Unit> known;  // nodes stay where they are
  const std::lock_guard lock(mutex);
  const std::pair<Kind, std::string> key(kind, symbol);
  if (const auto at = known.find(key); at != known.end()) return at->second;
  auto read = parse_unit(symbol, kind);
  if (const auto* bad = std::get_if<TextProblem>(&read)) {
    throw std::logic_error(fmt::format("unit(\"{}\", {}): {}", symbol, name(kind), bad->message));
  }
  return known.emplace(key, std::get<Unit>(std::move(read))).first->second;
}

}  // namespace vacuary
