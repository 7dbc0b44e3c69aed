#include "log/support.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
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

// Bounds that half of most channels' values lie outside of, whatever they are.
constexpr Bounds odd_bounds{-1, 3};

// A part's figures by the definition, in the simplest way there is.
void check_part(const Block& block, const Part& part, std::size_t c) {
  const auto& values = block.values[c];
  const Figures& f = part.of[c];
  std::uint64_t good = 0;
  double least = std::nan(""), greatest = std::nan("");
  using Exact = long double;
  Exact sum = 0, integral = 0, size = 0, area = 0, covered = 0, outside = 0;
  for (std::size_t i = part.from; i < part.to; ++i) {
    const double now = values[i];
    const bool counts =
        i > part.from && std::find(block.breaks.begin(), block.breaks.end(), i) == block.breaks.end();
    const double dt_s = counts ? static_cast<double>(block.time[i].ns - block.time[i - 1].ns) * 1e-9 : 0;
    if (counts && (now < odd_bounds.low || now > odd_bounds.high)) outside += static_cast<Exact>(dt_s);
    if (counts && !std::isnan(now) && !std::isnan(values[i - 1])) {
      const Exact both =
          (static_cast<Exact>(now) + static_cast<Exact>(values[i - 1])) / 2 * static_cast<Exact>(dt_s);
      integral += both;
      area += std::abs(both);
      covered += static_cast<Exact>(dt_s);
    }
    if (std::isnan(now)) continue;
    ++good;
    least = std::fmin(least, now);
    greatest = std::fmax(greatest, now);
    sum += static_cast<Exact>(now);
    size += std::abs(static_cast<Exact>(now));
  }
  const auto same = [](double a, double b) { return std::isnan(a) ? std::isnan(b) : a == b; };
  CHECK(f.good == good);
  CHECK(same(f.least, least));
  CHECK(same(f.greatest, greatest));
  CHECK(same(f.first, values[part.from]));
  CHECK(same(f.last, values[part.to - 1]));
  CHECK(std::abs(static_cast<double>(static_cast<Exact>(f.sum) - sum)) <= 1e-13 * static_cast<double>(size));
  CHECK(std::abs(static_cast<double>(static_cast<Exact>(f.integral) - integral)) <=
        1e-15 * static_cast<double>(area));
  CHECK(std::abs(static_cast<double>(static_cast<Exact>(f.covered_s) - covered)) <=
        1e-13 * static_cast<double>(covered));
  CHECK(std::abs(static_cast<double>(static_cast<Exact>(f.outside_s) - outside)) <=
        1e-13 * static_cast<double>(outside));
}

// Parts hold all rows in order and change where the step's text does, and nowhere else.
void check_parts(const Block& block, Outcome& out) {
  const int step = out.header.find({"run", plan::What::step});
  std::size_t from = 0;
  for (const Part& part : block.parts) {
    CHECK(part.from == from);
    CHECK(part.to > part.from);
    from = part.to;
    if (step >= 0 && part.from > 0) {
      const auto& changes = block.texts[static_cast<std::size_t>(step)];
      CHECK(std::any_of(changes.begin(), changes.end(),
                        [&](const TextChange& change) { return change.row == part.from; }));
    }
    for (std::size_t c = 0; c < out.header.channels.size(); ++c) {
      if (out.header.channels[c].text) continue;
      check_part(block, part, c);
      const Figures& f = part.of[c];
      for (const double x : {f.least, f.greatest, f.sum, f.integral, f.covered_s, f.outside_s})
        out.figures.push_back(std::isnan(x) ? 0 : std::bit_cast<std::uint64_t>(x));
    }
  }
  CHECK(from == block.rows());
}

void add(const Block& block, Outcome& out) {
  check_parts(block, out);
  const std::size_t before = out.time.size();
  for (const std::size_t row : block.breaks) out.breaks.push_back(before + row);
  out.time.insert(out.time.end(), block.time.begin(), block.time.end());
  out.line.insert(out.line.end(), block.line.begin(), block.line.end());
  for (std::size_t row = 0; row < block.rows(); ++row) out.file.push_back(block.file_of(row));
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
                   const Options& asked) {
  Outcome out;
  Options options = asked;
  options.figures = true;
  Options quietly = asked;
  quietly.received = nullptr;
  if (auto peek = Reader::open(files, map, quietly); peek.ok()) {
    for (const ChannelInfo& info : peek.value().header().channels)
      options.bounds[info.channel.name()] = odd_bounds;
  }
  auto opened = Reader::open(files, map, options);
  note(opened.diagnostics(), out);
  if (!opened.ok()) return out;
  out.opened = true;
  Reader reader = std::move(opened).value();
  out.header = reader.header();
  while (const Block* block = reader.next()) {
    ++out.blocks;
    add(*block, out);
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
  for (const std::uint64_t bits : o.figures) out += fmt::format("{:x} ", bits);
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
