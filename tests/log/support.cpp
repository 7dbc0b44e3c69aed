#include "log/support.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <bit>
#include <cmath>
#include <fstream>

namespace vacuary::log::test {
namespace {

class Folder {
 public:
  Folder() : path_(std::filesystem::temp_directory_path() / fmt::format("vacuary-test-log-{}", ::getpid())) {
    std::filesystem::create_directories(path_);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

void note(const Diagnostics& diagnostics, Outcome& out) {
  for (const Diagnostic& d : diagnostics) {
    (d.severity == Severity::error ? out.failures : out.warnings).push_back(d.rule + ": " + d.message);
  }
}

std::string say(const Event& e, const Header& header) {
  std::string out = header.files.size() > 1 ? fmt::format("file {} ", e.file) : "";
  out += e.last_line == e.line ? fmt::format("line {}", e.line)
                               : fmt::format("lines {}-{}", e.line, e.last_line);
  if (e.channel >= 0) out += " " + header.channels[static_cast<std::size_t>(e.channel)].channel.name();
  out += fmt::format(": {}", name(e.what));
  if (e.count > 1) out += fmt::format(" x{}", e.count);
  return e.detail.empty() ? out : out + ": " + e.detail;
}

void add(const Block& block, Outcome& out) {
  const std::size_t before = out.time.size();
  for (const std::size_t row : block.breaks) out.breaks.push_back(before + row);
  out.time.insert(out.time.end(), block.time.begin(), block.time.end());
  out.line.insert(out.line.end(), block.line.begin(), block.line.end());
  for (std::size_t c = 0; c < out.header.channels.size(); ++c) {
    const std::string name = out.header.channels[c].channel.name();
    if (!out.header.channels[c].text) {
      auto& to = out.values[name];
      to.insert(to.end(), block.values[c].begin(), block.values[c].end());
      continue;
    }
    auto& to = out.texts[name];
    std::string now = to.empty() ? "(never said)" : to.back();
    std::size_t next = 0;
    for (std::size_t row = 0; row < block.rows(); ++row) {
      if (next < block.texts[c].size() && block.texts[c][next].row == row) now = block.texts[c][next++].text;
      to.push_back(now);
    }
  }
  for (const Event& e : block.events) {
    out.events.push_back(e);
    out.said.push_back(say(e, out.header));
  }
}

}  // namespace

std::filesystem::path write(const std::string& name, const std::string& bytes) {
  static const Folder folder;
  const std::filesystem::path path = folder.path() / name;
  std::ofstream(path, std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  return path;
}

Outcome read_files(const std::vector<std::filesystem::path>& files, const plan::ChannelMap& map,
                   const Options& options) {
  Outcome out;
  auto opened = Reader::open(files, map, options);
  note(opened.diagnostics(), out);
  if (!opened.ok()) return out;
  out.opened = true;
  Reader reader = std::move(opened).value();
  out.header = reader.header();
  Block block;
  while (reader.next(block)) {
    ++out.blocks;
    add(block, out);
  }
  note(reader.diagnostics(), out);
  out.after = to_text(reader.diagnostics());
  out.tally = reader.tally();
  return out;
}

Outcome read(const std::string& bytes, const plan::ChannelMap& map, const Options& options) {
  return read_files({write("log.csv", bytes)}, map, options);
}

std::string fingerprint(const Outcome& o) {
  std::string out = fmt::format("{} {} {} {} {} {}\n", o.opened, o.tally.rows, o.tally.lines, o.tally.bytes,
                                o.tally.start.ns, o.tally.period.value());
  for (const auto& list : {o.failures, o.warnings, o.said}) {
    for (const std::string& line : list) out += line + "\n";
  }
  for (std::size_t i = 0; i < o.time.size(); ++i) {
    out += fmt::format("{} {}", o.line[i], o.time[i].ns);
    for (const auto& [name, column] : o.values)
      out += fmt::format(" {:016x}", std::bit_cast<std::uint64_t>(column[i]));
    for (const auto& [name, column] : o.texts) out += " " + column[i];
    out += "\n";
  }
  for (const std::size_t row : o.breaks) out += fmt::format("{} ", row);
  for (const std::uint64_t n : o.tally.count) out += fmt::format("{} ", n);
  return out;
}

plan::ChannelMap some_map() {
  plan::ChannelMap map;
  map.file = plan::File{"channels.toml", nullptr};
  return map;
}

plan::Column column(const std::string& header, const std::string& channel, const std::string& unit_text) {
  plan::Column out;
  out.header.value = header;
  out.channel = *plan::parse_channel(channel);
  if (!unit_text.empty()) out.unit = unit(unit_text, plan::kind_of(out.channel.what));
  return out;
}

}  // namespace vacuary::log::test
