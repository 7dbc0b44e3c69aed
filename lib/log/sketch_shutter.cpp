// What the words of a shutter's column say of how far it is open.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>

#include "log/sketch.hpp"

namespace vacuary::log {
namespace {

constexpr std::array open_words = {"open",   "opened",  "offen",   "auf",     "ge\u00F6ffnet", "geoeffnet",
                                   "ouvert", "ouverte", "abierto", "abierta", "aperto",        "aperta"};
constexpr std::array shut_words = {"closed",     "close",       "shut",  "zu",     "geschlossen",
                                   "ferm\u00E9", "ferm\u00E9e", "ferme", "fermee", "cerrado",
                                   "cerrada",    "chiuso",      "chiusa"};
constexpr std::array doubts = {"not", "no", "nicht", "non", "pas", "kein", "un", "half", "partly"};

template <std::size_t N>
bool holds_one(const std::vector<std::string>& words, const std::array<const char*, N>& wanted) {
  return std::any_of(words.begin(), words.end(), [&wanted](const std::string& word) {
    return std::find(wanted.begin(), wanted.end(), word) != wanted.end();
  });
}

// 1: open, 0: shut; none: nothing shows which. "on" may be either: the shutter is driven, or the beam is.
std::optional<int> how_open(const std::string& text) {
  std::vector<std::string> words(1);
  for (const char c : lower(text)) {
    const auto u = static_cast<unsigned char>(c);
    if (std::isalnum(u) != 0 || u >= 0x80) {
      words.back() += c;
    } else {
      words.emplace_back();
    }
  }
  const bool open = holds_one(words, open_words), shut = holds_one(words, shut_words);
  if (open == shut || holds_one(words, doubts)) return std::nullopt;
  return open ? 1 : 0;
}

std::string listed(const std::vector<std::string>& words) {
  std::string out;
  for (const std::string& word : words) out += (out.empty() ? "" : ", ") + word;
  return out;
}

}  // namespace

std::string states_line(const Content& cells) {
  std::vector<std::string> known, unknown, open_ones;
  for (const std::string& word : cells.words) {
    const std::string text = toml_text(word);
    if (const auto open = how_open(word)) {
      known.push_back(fmt::format("{} = {}", text, *open));
    } else {
      unknown.push_back(comment_text(text));
      open_ones.push_back(text + " = ");
    }
  }
  if (known.empty())
    return fmt::format(
        "# states = {{ {} }}  # STATE how far it is open at each: 0 is shut, 1 is open; then take the '#' "
        "away\n",
        listed(open_ones));
  std::string out = fmt::format("states = {{ {} }}  # CONFIRM: 1 is open, 0 is shut\n", listed(known));
  if (!unknown.empty())
    out += fmt::format(
        "# STATE how far it is open at {} (0 is shut, 1 is open) and put that into 'states', which has no "
        "value for "
        "it\n",
        listed(unknown));
  return out;
}

}  // namespace vacuary::log
