// The grammar of units:
//
//   unit    = factor { separator factor }
//   separator = blank | '*' | '·' | '/'          (no product after a '/': "W/m K" can be read two ways)
//   factor  = symbol [ [ '^' ] [ '-' ] digits ]  | symbol '²' | symbol '³' | "1" (only first)
#include <fmt/format.h>

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

constexpr std::string_view superscript_two = "\u00B2";
constexpr std::string_view superscript_three = "\u00B3";
constexpr std::string_view middle_dot = "\u00B7";

// Bytes of `text` that make a symbol: letters, '%', and anything that is not ASCII.
std::size_t symbol_length(std::string_view text) {
  std::size_t n = 0;
  while (n < text.size()) {
    const auto c = static_cast<unsigned char>(text[n]);
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '%' || c >= 0x80;
    const std::string_view rest = text.substr(n);
    if (!letter || starts(rest, superscript_two) || starts(rest, superscript_three) ||
        starts(rest, middle_dot) || blank_at(rest) != 0) {
      break;
    }
    ++n;
  }
  return n;
}

class UnitReader {
 public:
  UnitReader(std::string_view text, Kind wanted) : text_(text), wanted_(wanted) {}

  std::variant<Composed, TextProblem> read() {
    if (text_.size() > longest_unit) {
      return problem(0, text_.size(), "the unit is too long to be one", "write a number, a blank and a unit");
    }
    if (Step bad = factor(1)) return *bad;
    while (at_ < text_.size()) {
      if (Step bad = next()) return *bad;
    }
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

  Step read_power(int& power) {
    for (const auto& [mark, value] : {std::pair{superscript_two, 2}, std::pair{superscript_three, 3}}) {
      if (!starts(rest(), mark)) continue;
      at_ += mark.size();
      power = value;
      return std::nullopt;
    }
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
    const std::string near = suggestion(word, wanted_);
    return problem(begin, n, fmt::format("unknown unit {}", quoted(word)),
                   near.empty() ? fmt::format("units that fit: {}", row(wanted_).fitting)
                                : fmt::format("did you mean '{}'?", near));
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
  if (text == "A" && wanted == Kind::length) return "angstrom";
  if (text == "C" && wanted == Kind::temperature) return "degC";
  const std::string near = suggestion(text, wanted);
  const Symbol* symbol = find_symbol(near);
  return symbol != nullptr && near != text && basis_as(wanted, symbol->dimension) ? near : "";
}

TextProblem wrong_kind(const Composed& c, std::string_view text, Kind wanted) {
  const std::vector<Unit> units = all_kinds(c, text);
  std::string remedy =
      fmt::format("units that fit: {}; for example \"{}\"", row(wanted).fitting, example(wanted));
  if (c.only != nullptr) {
    const std::string meant = meant_instead(text, wanted);
    if (!meant.empty()) remedy = fmt::format("did you mean '{}'? Otherwise {}", meant, remedy);
  }
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
