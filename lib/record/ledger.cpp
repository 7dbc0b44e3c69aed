#include "record/ledger.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "record/digest.hpp"
#include "record/lines.hpp"
#include "record/sums.hpp"

namespace vacuary::record {
namespace {

constexpr std::uint64_t entries_per_folder = 1000;

Diagnostic malformed(const std::string& file, std::string message) {
  return file_fault(file, "ledger-form", std::move(message), "schemas/record.md describes this file");
}

bool read_number(const std::string& text, std::uint64_t& number) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  return error == std::errc{} && end == text.data() + text.size() && text == std::to_string(number);
}

// The values of exactly these keys, in this order.
bool read_fields(const Sums& sums, const std::vector<std::string>& keys) {
  return std::equal(sums.fields.begin(), sums.fields.end(), keys.begin(), keys.end(),
                    [](const auto& field, const std::string& key) { return field.first == key; });
}

}  // namespace

std::string Entry::sum_of(const std::string& path) const {
  for (const Checksum& file : files) {
    if (file.path == path) return file.sha256;
  }
  return {};
}

std::string entry_path(std::uint64_t number) {
  return fmt::format("ledger/{:05}/{:08}.txt", number / entries_per_folder, number);
}
std::string bag_path(std::uint64_t number) {
  return fmt::format("bags/{:05}/{:08}", number / entries_per_folder, number);
}
std::string stamp_path(std::uint64_t number) { return fmt::format("stamps/{:08}.tsr", number); }
std::string signers_path(const std::string& sha256) { return "signers/" + sha256 + ".txt"; }

std::string to_text(const Entry& e) {
  std::vector<Checksum> sums;
  if (e.number > 1) sums.push_back({e.before, entry_path(e.number - 1)});
  sums.insert(sums.end(), e.files.begin(), e.files.end());
  return sums_text("vacuary-ledger 1",
                   {{"entry", std::to_string(e.number)},
                    {"time", to_rfc3339(e.time)},
                    {"run", e.run},
                    {"revision", e.revision}},
                   sums);
}

Result<Entry> parse_entry(const std::string& file, std::string_view bytes) {
  const Result<Sums> parsed = parse_sums(file, bytes, "vacuary-ledger 1");
  if (!parsed.has_value()) return parsed.diagnostics();
  const Sums& sums = parsed.value();
  Entry e;
  if (!read_fields(sums, {"entry", "time", "run", "revision"})) {
    return malformed(file, "a ledger entry has the '#' lines entry, time, run and revision, in this order");
  }
  if (!read_number(sums.fields[0].second, e.number) || e.number == 0 ||
      !from_rfc3339(sums.fields[1].second, e.time)) {
    return malformed(file, "the entry's number or time is none");
  }
  e.run = sums.fields[2].second;
  e.revision = sums.fields[3].second;
  e.files = sums.sums;
  if (e.number > 1) {
    if (e.files.empty() || e.files.front().path != entry_path(e.number - 1)) {
      return malformed(file, "the first checksum is not that of the entry before");
    }
    e.before = e.files.front().sha256;
    e.files.erase(e.files.begin());
  }
  const std::string bag = bag_path(e.number) + "/";
  for (const Checksum& sum : e.files) {
    if (sum.path.rfind(bag, 0) != 0 && sum.path.rfind("signers/", 0) != 0) {
      return malformed(file, fmt::format("the entry lists '{}', which is not of its run", sum.path));
    }
  }
  if (to_text(e) != bytes) return malformed(file, "the text is not written in the one agreed way");
  e.sha256 = sha256_hex(bytes);
  return e;
}

std::string to_text(const Head& head) {
  std::vector<Checksum> sums;
  if (head.entries > 0) sums.push_back({head.sha256, entry_path(head.entries)});
  return sums_text("vacuary-head 1", {{"entries", std::to_string(head.entries)}}, sums);
}

Result<Head> parse_head(const std::string& file, std::string_view bytes) {
  const Result<Sums> parsed = parse_sums(file, bytes, "vacuary-head 1");
  if (!parsed.has_value()) return parsed.diagnostics();
  Head head;
  if (!read_fields(parsed.value(), {"entries"}) ||
      !read_number(parsed.value().fields[0].second, head.entries)) {
    return malformed(file, "the head does not say how many entries there are");
  }
  if (!parsed.value().sums.empty()) head.sha256 = parsed.value().sums.front().sha256;
  if (to_text(head) != bytes)
    return malformed(file, "the head does not name its last entry, and nothing else");
  return head;
}

}  // namespace vacuary::record
