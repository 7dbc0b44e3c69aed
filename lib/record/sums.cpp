#include "record/sums.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "base/files.hpp"
#include "record/bag.hpp"
#include "record/lines.hpp"

namespace vacuary::record {
namespace {

constexpr std::size_t longest_text = std::size_t{4} << 20U;

bool is_checksum(std::string_view text) {
  return text.size() == 64 && std::all_of(text.begin(), text.end(), [](char ch) {
           return (ch >= '0' && ch <= '9') || (ch >= 'a' && ch <= 'f');
         });
}

}  // namespace

std::string sums_text(const std::string& format, const Fields& fields, const std::vector<Checksum>& sums) {
  std::string text = fmt::format("# {}\n", format);
  for (const auto& [key, value] : fields)
    text += value.empty() ? fmt::format("# {}:\n", key) : fmt::format("# {}: {}\n", key, value);
  for (const Checksum& sum : sums) text += fmt::format("{}  {}\n", sum.sha256, sum.path);
  return text;
}

Result<Sums> parse_sums(const std::string& file, std::string_view bytes, const std::string& format) {
  const auto bad = [&](const Line& line, std::string message) {
    return line_fault(file, line, "record-text", std::move(message), "schemas/record.md describes this file");
  };
  if (bytes.size() > longest_text) return bad({}, "the file is longer than 4 MB");
  const bool clean = std::none_of(bytes.begin(), bytes.end(),
                                  [](unsigned char c) { return (c < 0x20 && c != '\n') || c == 0x7F; });
  if (!clean || first_invalid_utf8(bytes) != std::string_view::npos || bytes.empty() ||
      bytes.back() != '\n') {
    return bad({}, "the file is not plain UTF-8 text with LF line ends");
  }
  const std::vector<Line> lines = split_lines(bytes);
  if (lines.front().text != "# " + format)
    return bad(lines.front(), fmt::format("the first line is not '# {}'", format));
  Sums sums;
  std::set<std::string_view> seen;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    const std::string_view text = lines[i].text;
    if (text.substr(0, 2) == "# ") {
      const std::size_t colon = text.find(':');
      const bool formed =
          colon != std::string_view::npos && (colon + 1 == text.size() || text[colon + 1] == ' ');
      if (!formed || !sums.sums.empty())
        return bad(lines[i], "this line is not '# key: value' before the checksums");
      sums.fields.emplace_back(text.substr(2, colon - 2), text.substr(std::min(colon + 2, text.size())));
      continue;
    }
    if (text.size() < 67 || !is_checksum(text.substr(0, 64)) || text.substr(64, 2) != "  ") {
      return bad(lines[i], "this line is not a SHA-256 in lower-case hex, two blanks and a path");
    }
    const std::string_view path = text.substr(66);
    if (const std::string reason = unsafe_path_reason(path); !reason.empty()) {
      return bad(lines[i], fmt::format("the path must not be used: {}", reason));
    }
    if (!seen.insert(path).second) return bad(lines[i], "this path is listed before");
    sums.sums.push_back({std::string(text.substr(0, 64)), std::string(path)});
  }
  return sums;
}

}  // namespace vacuary::record
