// Columns of an unknown export that say whether the values of others are good.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "log/layout.hpp"
#include "log/sketch.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

bool ends_word(std::string_view text, std::size_t at) {
  return at == text.size() || std::isalnum(static_cast<unsigned char>(text[at])) == 0;
}

// "P1 Quality" begins with the name "P1", "P12 Quality" does not.
bool begins_with_name(std::string_view header, std::string_view name) {
  return !name.empty() && header.starts_with(name) && ends_word(header, name.size());
}

// Common practice; 192 is "good" of the quality byte that industrial data servers hand on (from memory).
bool is_good(std::string_view word) {
  constexpr std::array<std::string_view, 6> good = {"good", "ok", "valid", "gut", "192", "0xc0"};
  return std::find(good.begin(), good.end(), lower(word)) != good.end();
}

bool is_called_quality(const std::string& header) {
  const std::string name = lower(header);
  constexpr std::array<std::string_view, 7> words = {"quality", "qualit",    "validity", "calidad",
                                                     "validez", "g\u00FCte", "guete"};
  return std::any_of(words.begin(), words.end(),
                     [&name](std::string_view word) { return name.find(word) != std::string::npos; });
}

// A pump has a status as well: of values it is that of a column before, in words of quality or in codes that
// go by fours up to 252, of which 192 is the usual one (as above).
bool is_status_of_values(const Table& table, std::size_t column) {
  const std::string& header = table.header[column];
  const bool of_another = std::any_of(table.header.begin(), table.header.end(), [&](const std::string& each) {
    return &each != &header && begins_with_name(header, split_header(each).name);
  });
  const std::string name = lower(header);
  if (name.find("status") == std::string::npos || (name != "status" && !of_another)) return false;
  bool good = false;
  for (const Cells& row : table.rows) {
    const std::string cell = lower(row[column]);
    if (cell.empty()) continue;
    const ParsedNumber number = parse_number(cell, {});
    const bool code = number.is == NumberIs::number && number.value >= 0 && number.value <= 252 &&
                      std::fmod(number.value, 4) == 0;
    if (!code && cell != "good" && cell != "bad" && cell != "uncertain" && cell != "0xc0") return false;
    good = good || cell == "192" || cell == "good" || cell == "0xc0";
  }
  return good;
}

}  // namespace

bool is_quality(const Table& table, std::size_t column) {
  return is_called_quality(table.header[column]) || is_status_of_values(table, column);
}

std::vector<int> quality_columns(const Table& table) {
  const std::vector<std::string>& headers = table.header;
  std::vector<int> out(headers.size(), -1);
  std::vector<std::size_t> unclaimed;
  std::vector<bool> of_quality;
  for (std::size_t i = 0; i < headers.size(); ++i) of_quality.push_back(is_quality(table, i));
  for (std::size_t quality = 0; quality < headers.size(); ++quality) {
    if (!of_quality[quality]) continue;
    bool claimed = false;
    for (std::size_t i = 0; i < headers.size(); ++i) {
      if (of_quality[i] || !begins_with_name(headers[quality], split_header(headers[i]).name)) continue;
      out[i] = static_cast<int>(quality);
      claimed = true;
    }
    if (!claimed) unclaimed.push_back(quality);
  }
  // Of no column's name: of the column before it, or, if there is no other, of all that have none. Where they
  // stand before their columns no map can say so.
  const bool before =
      unclaimed.size() > 1 && (unclaimed.front() == 0 || named_like_time(headers[unclaimed.front() - 1]));
  if (before) unclaimed.clear();
  for (const std::size_t quality : unclaimed) {
    for (std::size_t i = 0; i < headers.size(); ++i) {
      const bool meant = unclaimed.size() == 1 || i + 1 == quality;
      if (meant && out[i] < 0 && !of_quality[i]) out[i] = static_cast<int>(quality);
    }
  }
  return out;
}

std::string good_quality_line(const std::vector<Content>& qualities) {
  std::vector<std::string> good, others;
  for (const Content& cells : qualities) {
    std::vector<std::string> words = cells.words;
    if (cells.numbers > 0) words.push_back(fmt::format("{:g}", cells.least));
    if (cells.numbers > 0 && cells.most != cells.least) words.push_back(fmt::format("{:g}", cells.most));
    for (std::string& word : words) {
      std::vector<std::string>& to = is_good(word) ? good : others;
      if (std::find(to.begin(), to.end(), word) == to.end()) to.push_back(std::move(word));
    }
  }
  const auto list = [](const std::vector<std::string>& words) {
    std::string out;
    for (const std::string& word : words) out += (out.empty() ? "" : ", ") + toml_text(word);
    return out;
  };
  if (!good.empty()) {
    return fmt::format("good_quality = [{}]  # CONFIRM: anything else in quality columns is \"no value\"{}\n",
                       list(good), others.empty() ? "" : ", such as " + comment_text(list(others)));
  }
  return fmt::format("# good_quality = []  # STATE what quality columns say of good values; they hold {}\n",
                     comment_text(list(others)));
}

}  // namespace vacuary::log
