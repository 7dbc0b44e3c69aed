#include "log/words.hpp"

#include <algorithm>
#include <cctype>

namespace vacuary::log {

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), [](unsigned char c) { return std::tolower(c); });
  return out;
}

std::string plain_blanks(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const std::size_t blank = text.starts_with("\xC2\xA0")                                           ? 2
                              : text.starts_with("\xE2\x80\xAF") || text.starts_with("\xE2\x80\x89") ? 3
                                                                                                     : 0;
    out += blank > 0 ? ' ' : text.front();
    text.remove_prefix(std::max<std::size_t>(1, blank));
  }
  return std::string(trim(out));
}

bool is_value(std::string_view cell) {
  if (!cell.empty() && (cell[0] == '-' || cell[0] == '+' || cell[0] == '.')) cell.remove_prefix(1);
  const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
  if (cell.empty() || !is_digit(cell[0])) return false;
  return 2 * std::count_if(cell.begin(), cell.end(), is_digit) >= static_cast<std::ptrdiff_t>(cell.size());
}

bool named_like_time(std::string_view header) {
  // The mark before the first name, as of comments, is no part of it.
  const std::string name = lower(trim(header.substr(header.starts_with('#') ? 1 : 0)));
  for (const char* word : {"time", "elapsed", "zeit", "tiempo", "temps", "tempo", "stamp", "epoch", "date",
                           "datum", "fecha", "hora", "heure", "uhr", "julian"}) {
    if (name.find(word) != std::string::npos) return true;
  }
  return name == "t" || name.starts_with("t [") || name.starts_with("t (") || name.starts_with("t/");
}

}  // namespace vacuary::log
