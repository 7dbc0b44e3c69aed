#include "record/statement.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

#include "base/files.hpp"
#include "record/lines.hpp"
#include "record/sums.hpp"

namespace vacuary::record {
namespace {

constexpr std::size_t longest_line = 1000;
constexpr std::array<const char*, 5> keys = {"role", "disposition", "reason", "signer", "time"};
constexpr std::array<Disposition, 3> dispositions = {Disposition::accept, Disposition::rework,
                                                     Disposition::reject};

Diagnostic complaint(const std::string& file, std::string message) {
  return file_fault(file, "statement-form", std::move(message),
                    "schemas/record.md describes a statement; have it signed again");
}

bool is_plain_line(const std::string& text) {
  return text.size() <= longest_line && first_invalid_utf8(text) == std::string::npos &&
         std::none_of(text.begin(), text.end(), [](unsigned char ch) { return ch < 0x20 || ch == 0x7F; }) &&
         (text.empty() || (text.front() != ' ' && text.back() != ' '));
}

}  // namespace

const char* name(Disposition disposition) {
  constexpr std::array<const char*, 3> names = {"accept", "rework", "reject"};
  return names.at(static_cast<std::size_t>(disposition));
}

bool disposition_of(std::string_view text, Disposition& disposition) {
  for (const Disposition d : dispositions) {
    if (text != name(d)) continue;
    disposition = d;
    return true;
  }
  return false;
}

std::string role_id(std::string_view role) {
  std::string id;
  for (const char ch : role) {
    const bool plain = (ch >= 'a' && ch <= 'z') || (ch >= '0' && ch <= '9');
    const bool joint = (ch == ' ' || ch == '-') && !id.empty() && id.back() != '-';
    if (!plain && !joint) return {};
    id += plain ? ch : '-';
  }
  return id.empty() || id.size() > 60 || id.back() == '-' ? std::string{} : id;
}

bool statement_name(std::string_view file_name, unsigned& number, std::string& role) {
  const std::size_t dash = file_name.find('-');
  if (dash == std::string_view::npos || dash > 3 || file_name.size() < dash + 6 || file_name.front() == '0')
    return false;
  if (file_name.substr(file_name.size() - 4) != ".txt") return false;
  const auto [end, error] = std::from_chars(file_name.data(), file_name.data() + dash, number);
  if (error != std::errc{} || end != file_name.data() + dash) return false;
  const std::string_view id = file_name.substr(dash + 1, file_name.size() - dash - 5);
  role = id;
  return role_id(id) == id;
}

std::string statement_path(unsigned number, const std::string& role) {
  return fmt::format("signatures/{}-{}.txt", number, role_id(role));
}

Diagnostics check_statement(const Statement& s) {
  Diagnostics said;
  if (role_id(s.role).empty()) {
    said.push_back(complaint("", fmt::format("'{}' is no role: lower-case words were expected", s.role)));
  }
  if (!is_plain_line(s.reason) || !is_plain_line(s.signer)) {
    said.push_back(
        complaint("", "the reason and the signer's name are one line of text each, at most 1000 bytes"));
  }
  if (s.signer.empty()) said.push_back(complaint("", "the signer's name is missing"));
  if (s.reason.empty() && s.disposition != Disposition::accept) {
    said.push_back(complaint("", fmt::format("'{}' needs a reason", name(s.disposition))));
  }
  if (s.time.ns % 1'000'000'000 != 0) said.push_back(complaint("", "the time is not in whole seconds"));
  return said;
}

std::string to_text(const Statement& s) {
  std::vector<Checksum> sums = {{s.tagmanifest, "tagmanifest-sha256.txt"}};
  sums.insert(sums.end(), s.after.begin(), s.after.end());
  return sums_text("vacuary-statement 1",
                   {{"role", s.role},
                    {"disposition", name(s.disposition)},
                    {"reason", s.reason},
                    {"signer", s.signer},
                    {"time", to_rfc3339(s.time)}},
                   sums);
}

Result<Statement> parse_statement(const std::string& file, std::string_view bytes) {
  const Result<Sums> sums = parse_sums(file, bytes, "vacuary-statement 1");
  if (!sums.has_value()) return sums.diagnostics();
  const Sums& text = sums.value();
  if (text.fields.size() != keys.size())
    return complaint(file, "a statement has five '#' lines after its first");
  for (std::size_t i = 0; i < keys.size(); ++i) {
    if (text.fields[i].first != keys.at(i)) {
      return complaint(
          file, fmt::format("'# {}:' was expected where '# {}:' stands", keys.at(i), text.fields[i].first));
    }
  }
  Statement s;
  s.role = text.fields[0].second;
  s.reason = text.fields[2].second;
  s.signer = text.fields[3].second;
  if (!disposition_of(text.fields[1].second, s.disposition)) {
    return complaint(file,
                     fmt::format("'{}' is no disposition: accept, rework or reject", text.fields[1].second));
  }
  if (!from_rfc3339(text.fields[4].second, s.time)) {
    return complaint(file, fmt::format("'{}' is no RFC 3339 time", text.fields[4].second));
  }
  if (text.sums.empty() || text.sums.size() > 2 || text.sums[0].path != "tagmanifest-sha256.txt") {
    return complaint(file,
                     "the checksums are of tagmanifest-sha256.txt and of the statement before, nothing else");
  }
  s.tagmanifest = text.sums[0].sha256;
  s.after.assign(text.sums.begin() + 1, text.sums.end());
  Diagnostics said = check_statement(s);
  // One statement, one text: nothing can hide in blanks, line ends or the way a number is written.
  if (said.empty() && to_text(s) != bytes)
    said.push_back(complaint(file, "the text is not written in the one agreed way"));
  for (Diagnostic& d : said) d.where = Place::whole_file(file);
  if (!said.empty()) return said;
  return s;
}

}  // namespace vacuary::record
