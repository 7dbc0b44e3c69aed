// The small text files of a bag: bytes in, values and complaints out.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdint>
#include <optional>
#include <set>

#include "base/files.hpp"
#include "base/utf8.hpp"
#include "record/bag.hpp"
#include "record/lines.hpp"

namespace vacuary::record {
namespace {

bool is_blank(char ch) { return ch == ' ' || ch == '\t'; }

std::string lowered(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(),
                 [](unsigned char ch) { return static_cast<char>(std::tolower(ch)); });
  return out;
}

bool is_hex(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](unsigned char ch) { return std::isxdigit(ch) != 0; });
}

// RFC 8493 section 2.1.3: LF, CR and the percent sign, and only those, are percent-encoded.
std::string decode_path(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const std::string code = text[i] == '%' ? lowered(text.substr(i + 1, 2)) : std::string{};
    const char decoded = code == "0a" ? '\n' : code == "0d" ? '\r' : code == "25" ? '%' : '\0';
    out += decoded == '\0' ? text[i] : decoded;
    if (decoded != '\0') i += 2;
  }
  return out;
}

constexpr std::size_t most_complaints = 100;

struct Complaints {
  std::string file;
  Diagnostics said;
  // After so many bad lines the rest of the file is not worth reading.
  [[nodiscard]] bool full() const { return said.size() >= most_complaints; }
  void add(const Line& line, const char* rule, std::string message, std::string remedy) {
    said.push_back(line_fault(file, line, rule, std::move(message), std::move(remedy)));
  }
};

// Nothing for an odd number of bytes or a surrogate without its partner.
std::optional<std::string> from_utf16(std::string_view bytes, bool little) {
  std::string out;
  std::uint32_t high = 0;
  for (std::size_t i = 0; i < bytes.size(); i += 2) {
    if (i + 1 == bytes.size()) return std::nullopt;
    const std::uint32_t first = static_cast<unsigned char>(bytes[i]);
    const std::uint32_t second = static_cast<unsigned char>(bytes[i + 1]);
    const std::uint32_t unit = little ? second << 8U | first : first << 8U | second;
    const bool is_high = unit >= 0xD800 && unit < 0xDC00;
    const bool is_low = unit >= 0xDC00 && unit < 0xE000;
    if (is_low != (high != 0)) return std::nullopt;
    if (is_low) {
      append_utf8(out, 0x10000U + ((high - 0xD800U) << 10U) + (unit - 0xDC00U));
      high = 0;
    } else if (is_high) {
      high = unit;
    } else {
      append_utf8(out, unit);
    }
  }
  if (high != 0) return std::nullopt;
  return out;
}

const char* const ask_the_maker = "ask whoever made the bag for an intact copy";

}  // namespace

std::string unsafe_path_reason(std::string_view path) {
  constexpr std::size_t longest = 4096;
  if (path.empty()) return "it is empty";
  if (path.size() > longest) return "it is longer than 4096 bytes";
  if (path.front() == '/') return "it is absolute";
  if (path.front() == '~') return "it starts with '~', which a shell takes for a home folder";
  if (path.find('\\') != std::string_view::npos)
    return "it holds a backslash, a folder separator on some systems";
  if (first_invalid_utf8(path) != std::string_view::npos) return "it is not UTF-8";
  if (std::any_of(path.begin(), path.end(), [](unsigned char c) { return c < 0x20 || c == 0x7F; })) {
    return "it holds a control character";
  }
  if (path.size() > 1 && path[1] == ':') return "it starts with a drive letter";
  for (std::size_t start = 0; start <= path.size();) {
    const std::size_t end = std::min(path.find('/', start), path.size());
    const std::string_view part = path.substr(start, end - start);
    if (part.empty()) return "it has an empty part";
    if (part == ".") return "it has a part '.'";
    if (part == "..") return "it climbs out with '..'";
    start = end + 1;
  }
  return {};
}

Result<BagDeclaration> parse_declaration(const std::string& file, std::string_view bytes) {
  Complaints out{file, {}};
  constexpr std::size_t longest = 1000;
  const std::vector<Line> lines = split_lines(bytes.substr(0, longest));
  const Line whole{0, {}};
  const std::string remedy =
      "the file must hold the two lines 'BagIt-Version: 1.0' and "
      "'Tag-File-Character-Encoding: UTF-8', without stray blanks";
  if (bytes.substr(0, 3) == "\xEF\xBB\xBF") {
    out.add(whole, "bag-declaration", "the declaration starts with a byte-order mark, which BagIt forbids",
            remedy);
    return out.said;
  }
  constexpr std::array<std::string_view, 2> labels = {"BagIt-Version: ", "Tag-File-Character-Encoding: "};
  if (lines.size() != labels.size()) {
    out.add(whole, "bag-declaration",
            fmt::format("the declaration has {} lines, 2 were expected", lines.size()), remedy);
    return out.said;
  }
  std::array<std::string, 2> values;
  for (std::size_t i = 0; i < labels.size(); ++i) {
    const std::string_view text = lines[i].text;
    const std::string_view value = text.size() > labels.at(i).size() ? text.substr(labels.at(i).size()) : "";
    const bool clean =
        std::all_of(value.begin(), value.end(), [](unsigned char c) { return c > 0x20 && c < 0x7F; });
    if (text.substr(0, labels.at(i).size()) != labels.at(i) || value.empty() || !clean) {
      out.add(lines[i], "bag-declaration",
              fmt::format("this line is not '{}' followed by a value without blanks", labels.at(i)), remedy);
    }
    values.at(i) = value;
  }
  if (out.said.empty() && values[0] != "1.0") {
    out.add(lines[0], "bag-declaration", fmt::format("this is BagIt version {}, 1.0 was expected", values[0]),
            "have the bag made again as BagIt 1.0 (RFC 8493)");
  }
  if (!out.said.empty()) return out.said;
  return BagDeclaration{values[0], values[1]};
}

Result<std::vector<ManifestLine>> parse_manifest(const std::string& file, std::string_view text,
                                                 Algorithm algorithm, ManifestOf of) {
  Complaints out{file, {}};
  std::vector<ManifestLine> listed;
  std::set<std::string> seen;
  LineScanner scanner(text);
  for (Line line; !out.full() && scanner.next(line);) {
    const std::size_t end = std::min(line.text.find_first_of(" \t"), line.text.size());
    const std::size_t start = std::min(line.text.find_first_not_of(" \t", end), line.text.size());
    const std::string_view checksum = line.text.substr(0, end);
    const std::string path = decode_path(line.text.substr(start));
    if (checksum.size() != hex_length(algorithm) || !is_hex(checksum) || path.empty()) {
      out.add(line, "manifest-line",
              fmt::format("this line is not a {} checksum of {} hex digits, blanks and a path",
                          name(algorithm), hex_length(algorithm)),
              ask_the_maker);
      continue;
    }
    // A line break in a name is allowed, as ugly as it is; all else is judged as without it.
    std::string judged = path;
    std::replace_if(
        judged.begin(), judged.end(), [](char c) { return c == '\n' || c == '\r'; }, '_');
    const std::string reason = unsafe_path_reason(judged);
    if (!reason.empty()) {
      out.add(line, "unsafe-path", fmt::format("the path must not be used: {}", reason), ask_the_maker);
      continue;
    }
    if ((path.substr(0, 5) == "data/") != (of == ManifestOf::payload)) {
      out.add(line, "unsafe-path",
              of == ManifestOf::payload ? "a payload manifest lists only files under data/"
                                        : "a tag manifest lists no files under data/",
              ask_the_maker);
      continue;
    }
    if (!seen.insert(path).second) {
      out.add(line, "listed-twice", fmt::format("'{}' is listed before in this manifest", path),
              ask_the_maker);
      continue;
    }
    listed.push_back({lowered(checksum), path, line.number});
  }
  return {std::move(listed), std::move(out.said)};
}

Result<Info> parse_info(const std::string& file, std::string_view text) {
  Complaints out{file, {}};
  Info info;
  LineScanner scanner(text);
  for (Line line; !out.full() && scanner.next(line);) {
    if (!line.text.empty() && is_blank(line.text.front()) && !info.empty()) {
      const std::size_t start = std::min(line.text.find_first_not_of(" \t"), line.text.size());
      info.back().second += " ";
      info.back().second += line.text.substr(start);
      continue;
    }
    const std::size_t colon = line.text.find(':');
    const bool labelled = colon != std::string_view::npos && colon > 0 && !is_blank(line.text.front()) &&
                          !is_blank(line.text[colon - 1]);
    if (!labelled || (colon + 1 < line.text.size() && !is_blank(line.text[colon + 1]))) {
      out.add(line, "tag-file-line", "this line is not a label, a colon, a blank and a value", ask_the_maker);
      continue;
    }
    const std::size_t start = std::min(colon + 2, line.text.size());
    info.emplace_back(line.text.substr(0, colon), line.text.substr(start));
  }
  return {std::move(info), std::move(out.said)};
}

Result<std::vector<FetchLine>> parse_fetch(const std::string& file, std::string_view text) {
  Complaints out{file, {}};
  std::vector<FetchLine> fetches;
  LineScanner scanner(text);
  for (Line line; !out.full() && scanner.next(line);) {
    const auto field_end = [&](std::size_t from) {
      return std::min(line.text.find_first_of(" \t", from), line.text.size());
    };
    const auto field_start = [&](std::size_t from) {
      return std::min(line.text.find_first_not_of(" \t", from), line.text.size());
    };
    const std::size_t url_end = field_end(0);
    const std::size_t length = field_start(url_end);
    const std::size_t length_end = field_end(length);
    const std::string path = decode_path(line.text.substr(field_start(length_end)));
    const std::string_view number = line.text.substr(length, length_end - length);
    const bool counted = number == "-" || (!number.empty() && number.size() < 20 &&
                                           std::all_of(number.begin(), number.end(),
                                                       [](unsigned char c) { return std::isdigit(c) != 0; }));
    if (url_end == 0 || !counted || path.empty()) {
      out.add(line, "tag-file-line", "this line is not an address, a length or '-', and a path",
              ask_the_maker);
      continue;
    }
    const std::string reason = unsafe_path_reason(path);
    if (!reason.empty() || path.substr(0, 5) != "data/") {
      out.add(line, "unsafe-path",
              fmt::format("the path must not be used: {}", reason.empty() ? "it is not under data/" : reason),
              ask_the_maker);
      continue;
    }
    fetches.push_back({std::string(line.text.substr(0, url_end)), path});
  }
  return {std::move(fetches), std::move(out.said)};
}

Result<std::string> decode_text(const std::string& file, std::string_view bytes,
                                const std::string& encoding) {
  const std::string wanted = lowered(encoding);
  Complaints out{file, {}};
  std::optional<std::string> text;
  if (wanted == "utf-8") {
    if (first_invalid_utf8(bytes) == std::string_view::npos) text = std::string(bytes);
  } else if (wanted == "us-ascii") {
    if (std::all_of(bytes.begin(), bytes.end(), [](unsigned char c) { return c < 0x80; }))
      text = std::string(bytes);
  } else if (wanted == "iso-8859-1") {
    text.emplace();
    for (const char ch : bytes) append_utf8(*text, static_cast<unsigned char>(ch));
  } else if (wanted == "utf-16" || wanted == "utf-16le" || wanted == "utf-16be") {
    // RFC 2781: without a byte-order mark, UTF-16 is big-endian.
    const bool marked_little = bytes.substr(0, 2) == "\xFF\xFE";
    text = from_utf16(bytes, wanted == "utf-16le" || (wanted == "utf-16" && marked_little));
  } else {
    out.add({0, {}}, "bag-declaration",
            fmt::format("tag files in the encoding '{}' cannot be read here", encoding),
            "have the bag made with UTF-8 tag files");
    return out.said;
  }
  if (!text) {
    out.add({0, {}}, "tag-file-line", fmt::format("the file is not {} text, as bagit.txt says", encoding),
            ask_the_maker);
    return out.said;
  }
  if (text->substr(0, 3) == "\xEF\xBB\xBF") text->erase(0, 3);
  return *text;
}

}  // namespace vacuary::record
