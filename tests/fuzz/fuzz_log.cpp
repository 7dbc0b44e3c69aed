// Any bytes as a log, without a map, with one that asks for everything, with columns that have stamps and
// quality columns of their own, with cells apart by blanks, newest first; also as two files: no crash, rows
// in time order, nothing but finite values and NaN, the same with every instruction set, and a sketch of its
// channel map.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "log/log.hpp"

namespace {

using namespace vacuary;

void require(bool holds) {
  if (!holds) std::abort();
}

std::filesystem::path path_of(int file) {
  return std::filesystem::temp_directory_path() / fmt::format("vacuary-fuzz-log-{}-{}", ::getpid(), file);
}

std::filesystem::path write(int file, const std::uint8_t* data, std::size_t size) {
  static const bool at_exit = std::atexit([] {
                                for (const int each : {0, 1, 2}) std::filesystem::remove(path_of(each));
                              }) == 0;
  require(at_exit);
  const std::filesystem::path path = path_of(file);
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  out.write(reinterpret_cast<const char*>(data), static_cast<std::streamsize>(size));
  return path;
}

// As if it came from a file.
plan::ChannelMap given_map() {
  plan::ChannelMap map;
  map.file = plan::File{"channels.toml", nullptr};
  return map;
}

plan::ChannelMap full_map(bool long_form) {
  plan::ChannelMap map = given_map();
  map.delimiter = '\0';
  map.decimal_comma = true;
  map.thousands = '.';
  map.time_form = plan::TimeForm::local;
  map.zone = "Europe/Berlin";
  map.footer_lines = 1;
  map.long_form = long_form;
  map.time_column = "time";
  map.long_channel_column = "tag";
  map.long_value_column = "value";
  if (long_form) map.long_unit_column = "unit";
  plan::Column column;
  column.header.value = "p";
  column.channel = {"ion", plan::What::pressure};
  column.unit = unit("mbar", Kind::pressure);
  column.bad_values = {-1};
  column.overrange = 1000;
  map.columns = {column};
  return map;
}

plan::ChannelMap woven_map() {
  plan::ChannelMap map = full_map(false);
  map.decimal_comma = false;
  map.time_form = plan::TimeForm::elapsed_clock;
  map.start = Instant{1'930'367'167'000'000'000};
  map.columns.push_back(map.columns.front());
  plan::Column& own = map.columns.back();
  own.header.value = "u";
  own.channel = {"dc", plan::What::voltage};
  own.unit = unit("V", Kind::voltage);
  own.time = "time";
  own.quality = "q";
  map.good_quality = {"good"};
  map.step_column = "step";
  map.step_time = "t2";
  return map;
}

plan::ChannelMap parted_map() {
  plan::ChannelMap map = given_map();
  map.delimiter = '\t';
  map.blanks = 1;
  map.units_line = true;
  map.comment = '#';
  return map;
}

plan::ChannelMap joined_time_map() {
  plan::ChannelMap map = given_map();
  map.delimiter = '\0';
  map.comment = '#';
  map.time_columns = {"#year", "day", "time"};
  map.time_form = plan::TimeForm::local;
  map.time_format = "%Y %j %H:%M:%S";
  map.zone = "Europe/Berlin";
  return map;
}

plan::ChannelMap julian_map() {
  plan::ChannelMap map = given_map();
  map.time_form = plan::TimeForm::julian_date;
  return map;
}

plan::ChannelMap turned_map() {
  plan::ChannelMap map = given_map();
  map.newest_first = true;
  map.comment = '#';
  map.preamble_lines = 1;
  map.footer_lines = 1;
  return map;
}

std::uint64_t read(const std::vector<std::filesystem::path>& files, const plan::ChannelMap& map,
                   log::InstructionSet set) {
  log::Options options;
  options.instructions = set;
  options.largest_decompressed = 1U << 20U;
  auto opened = log::Reader::open(files, map, options);
  require(opened.has_value() || has_errors(opened.diagnostics()));
  if (!opened.ok()) return 0;
  log::Reader reader = std::move(opened).value();
  std::int64_t last = INT64_MIN;
  std::uint64_t sum = 1;
  while (const log::Block* next = reader.next()) {
    const log::Block& block = *next;
    for (std::size_t i = 0; i < block.rows(); ++i) {
      require(block.time[i].ns >= last);
      last = block.time[i].ns;
      sum = sum * 31 + static_cast<std::uint64_t>(last) + block.line[i];
    }
    for (const auto& column : block.values) {
      require(column.empty() || column.size() == block.rows());
      for (const double v : column) {
        require(!std::isinf(v));
        sum = sum * 31 + (std::isnan(v) ? 1 : std::bit_cast<std::uint64_t>(v));
      }
    }
    for (const std::size_t row : block.breaks) require(row < block.rows());
    for (const log::Event& e : block.events) {
      require(e.line >= 1 && e.last_line >= e.line && e.count >= 1);
      sum = sum * 31 + e.line + static_cast<std::uint64_t>(e.what);
    }
  }
  return sum;
}

// Whatever the export holds, its sketch is a channel map: what the loader has to say of it is about
// things to state, and about devices that the empty plant does not have.
void check_sketch(const std::string& text) {
  plan::Plan plant;
  plant.chamber.reference = GasReference::usual();
  const auto source = [&](const std::filesystem::path& name) -> Result<std::shared_ptr<const Source>> {
    return std::make_shared<const Source>(name.string(), text);
  };
  const auto map = plan::load_channels("channels.toml", plant, source);
  for (const Diagnostic& d : map.diagnostics()) {
    require(d.rule == "missing-key" || d.rule == "unknown-reference" || d.rule == "duplicate-name" ||
            d.rule == "bad-name");
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size > 1U << 16U) return 0;
  const std::filesystem::path path = write(0, data, size);
  for (const plan::ChannelMap& map : {plan::ChannelMap{}, full_map(false), full_map(true), woven_map(),
                                      parted_map(), turned_map(), joined_time_map(), julian_map()}) {
    const std::uint64_t sum = read({path}, map, log::InstructionSet::best);
    require(read({path}, map, log::InstructionSet::portable) == sum);
  }
  const auto* half = std::find(data + size / 2, data + size, '\f');
  half = half == data + size ? data + size / 2 : half + 1;
  const std::filesystem::path first = write(1, data, static_cast<std::size_t>(half - data));
  const std::filesystem::path second = write(2, half, static_cast<std::size_t>(data + size - half));
  static_cast<void>(read({first, second}, {}, log::InstructionSet::best));
  static_cast<void>(read({first, second}, full_map(true), log::InstructionSet::best));
  const auto joined = log::sketch_map({first, second});
  if (joined.has_value()) check_sketch(joined.value().map);
  const auto sketch = log::sketch_map({path});
  require(sketch.has_value() || !sketch.diagnostics().empty());
  if (sketch.has_value()) check_sketch(sketch.value().map);
  return 0;
}
