// Every oddity of a log, put into the middle of the film: found, counted, located, and carried into
// the film's uncertainty. The sample run without its energy counter, which would bridge the holes;
// truth is the same log undamaged.
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include <fstream>
#include <functional>

#include "run/both_ways.hpp"

namespace vacuary::run::test {
namespace {

using Lines = std::vector<std::string>;
using Cells = std::vector<std::string>;
constexpr std::int64_t second_ns = 1'000'000'000;

// The sample run; `middle`: a row in the middle of the film (its line is middle + 1).
class SampleLog {
 public:
  SampleLog() {
    std::ifstream in(std::string(VACUARY_SOURCE_DIR) + "/logs-example/clean.csv");
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    header_ = cells_of(lines[0]);
    lines[0].replace(lines[0].find("cathode-supply.energy [kWh]"), 27, "not.used");
    std::vector<std::size_t> film;
    for (std::size_t i = 1; i < lines.size(); ++i) {
      if (cells_of(lines[i])[column("run.step")] == "coat") film.push_back(i);
    }
    REQUIRE(film.size() > 600);
    middle = film[film.size() / 2];
  }

  [[nodiscard]] std::size_t column(const std::string& name) const {
    for (std::size_t i = 0; i < header_.size(); ++i) {
      if (header_[i].rfind(name, 0) == 0) return i;
    }
    FAIL("no column " << name);
    return 0;
  }
  void set(std::size_t row, const std::string& name, const std::string& text) {
    Cells cells = cells_of(lines[row]);
    cells[column(name)] = text;
    lines[row] = line_of(cells);
  }
  [[nodiscard]] std::string get(std::size_t row, const std::string& name) const {
    return cells_of(lines[row])[column(name)];
  }
  [[nodiscard]] std::int64_t stamp_ns(std::size_t row) const {
    Instant instant;
    REQUIRE(from_rfc3339(get(row, "time"), instant));
    return instant.ns;
  }
  void move_clock(std::size_t from, std::int64_t seconds) {
    for (std::size_t i = from; i < lines.size(); ++i)
      set(i, "time", to_rfc3339(Instant{stamp_ns(i) + seconds * second_ns}));
  }

  Lines lines;
  std::size_t middle = 0;

 private:
  Cells header_;
};

Result<Account> read(const Lines& lines, const plan::ChannelMap& map, const std::string& end = "\n") {
  std::string text;
  for (std::size_t i = 0; i < lines.size(); ++i) text += lines[i] + (i + 1 == lines.size() ? end : "\n");
  return account_of_text(text, map);
}

struct Seen {
  std::uint64_t count = 0, line = 0;
  double mean_nm = 0, doubt_nm = 0;  // doubt: expanded, k = 2
  std::string rules;
  bool known = false;
};

Seen seen(const Result<Account>& result, log::Oddity what) {
  REQUIRE(result.has_value());
  const Account& a = result.value();
  Seen out;
  out.count = a.log.count[static_cast<std::size_t>(what)];
  for (const log::Event& event : a.log.first) {
    if (event.what == what && out.line == 0) out.line = event.line;
  }
  out.known = a.film.claimed;
  out.mean_nm = a.film.mean.value.value() * 1e9;
  out.doubt_nm = 2 * a.film.mean.standard_uncertainty.value() * 1e9;
  out.rules = rules_of(a);
  return out;
}

Seen undamaged() {
  static const Seen seen_once = seen(read(SampleLog().lines, sample_map()), log::Oddity::gap);
  return seen_once;
}

// The film is claimed, the undamaged run's lies in its interval, and the interval is no narrower in
// proportion to the film: most of it is relative.
void check_film(const Seen& s, double wider_by_nm) {
  INFO(s.rules);
  const Seen whole = undamaged();
  INFO("mean " << s.mean_nm << " nm, of the whole " << whole.mean_nm << " +/- " << whole.doubt_nm << " nm");
  REQUIRE(s.known);
  CHECK(std::abs(s.mean_nm - whole.mean_nm) < s.doubt_nm);
  CHECK(s.doubt_nm >= whole.doubt_nm * s.mean_nm / whole.mean_nm + wider_by_nm - 0.001);
}

plan::ChannelMap map_with_codes() {
  plan::ChannelMap map = sample_map();
  plan::Column column;
  column.header.value = "cathode-supply.power";
  column.channel = *plan::parse_channel("cathode-supply.power");
  column.bad_values = {-1};
  column.overrange = 99;
  map.columns.push_back(column);
  return map;
}

}  // namespace

TEST_CASE("cells of the power that say nothing widen the film's uncertainty") {
  struct Case {
    const char* cell;
    log::Oddity what;
  };
  for (const Case& c : {Case{"", log::Oddity::missing_cell}, Case{"nan", log::Oddity::not_a_number},
                        Case{"-1", log::Oddity::bad_value}, Case{"99", log::Oddity::overrange},
                        Case{"1S.0", log::Oddity::unreadable_cell}}) {
    CAPTURE(c.cell);
    SampleLog log;
    for (std::size_t i = 0; i < 20; ++i) {
      log.set(log.middle + i, "cathode-supply.power", c.cell);
      log.set(log.middle + i, "cathode-supply.voltage", "");  // no power by voltage and current either
    }
    const Seen s = seen(read(log.lines, map_with_codes()), c.what);
    CHECK(s.count >= 20);
    if (c.what != log::Oddity::missing_cell) CHECK(s.line == log.middle + 1);
    check_film(s, 0.05);
  }
}

TEST_CASE("rows that are not there widen it: gap, wrong field count, unreadable time, a line cut off") {
  SampleLog gap;
  gap.lines.erase(gap.lines.begin() + static_cast<std::ptrdiff_t>(gap.middle),
                  gap.lines.begin() + static_cast<std::ptrdiff_t>(gap.middle) + 20);
  const Seen missing = seen(read(gap.lines, sample_map()), log::Oddity::gap);
  CHECK(missing.count == 1);
  CHECK(missing.line == gap.middle + 1);
  check_film(missing, 0.05);

  SampleLog shifted;
  SampleLog undated;
  for (std::size_t i = 0; i < 20; ++i) {
    shifted.lines[shifted.middle + i] += ",7";
    undated.set(undated.middle + i, "time", "12:00");
  }
  const Seen fields = seen(read(shifted.lines, sample_map()), log::Oddity::wrong_field_count);
  CHECK(fields.count == 20);
  CHECK(fields.line == shifted.middle + 1);
  check_film(fields, 0.05);
  const Seen times = seen(read(undated.lines, sample_map()), log::Oddity::unreadable_time);
  CHECK(times.count == 20);
  CHECK(times.line == undated.middle + 1);
  check_film(times, 0.05);

  SampleLog cut;
  cut.lines.resize(cut.middle + 1);
  cut.lines.back().resize(40);
  const Seen last = seen(read(cut.lines, sample_map(), ""), log::Oddity::cut_last_line);
  CHECK(last.count == 1);
  CHECK(last.line == cut.middle + 1);
  INFO(last.rules);
  CHECK(last.mean_nm < 0.6 * undamaged().mean_nm);  // half the film is not in this log, and is not claimed
}

TEST_CASE("stamps: repeated, backward, a clock set back, forward, and for the winter") {
  SampleLog repeated;
  repeated.set(repeated.middle, "time", repeated.get(repeated.middle - 1, "time"));
  const Seen twice = seen(read(repeated.lines, sample_map()), log::Oddity::repeated_stamp);
  CHECK(twice.count == 1);
  CHECK(twice.line == repeated.middle + 1);
  check_film(twice, 0);

  SampleLog backward;
  backward.set(backward.middle, "time", backward.get(backward.middle - 5, "time"));
  const Seen back = seen(read(backward.lines, sample_map()), log::Oddity::backward_stamp);
  CHECK(back.count == 1);
  CHECK(back.line == backward.middle + 1);
  check_film(back, 0);

  for (const std::int64_t step_s : {-2, -3, -3600}) {
    CAPTURE(step_s);
    SampleLog log;
    log.move_clock(log.middle, step_s);
    const Seen s = seen(read(log.lines, sample_map()), log::Oddity::clock_step);
    CHECK(s.count == 1);
    CHECK(s.line == log.middle + 1);
    CHECK(s.rules.find("clock-step") != std::string::npos);
    check_film(s, 0);
    CHECK(s.doubt_nm < undamaged().doubt_nm + 0.5);  // one row's worth, not the hour's
  }

  // Forward: a gap as far as the reader can know; that nothing was lost is told by the angle.
  for (const std::int64_t step_s : {2, 3}) {
    CAPTURE(step_s);
    SampleLog log;
    log.move_clock(log.middle, step_s);
    const Seen s = seen(read(log.lines, sample_map()), log::Oddity::gap);
    CHECK(s.count == 1);
    CHECK(s.line == log.middle + 1);
    CHECK(s.rules.find("clock-step") != std::string::npos);
    check_film(s, 0);
  }
}

TEST_CASE("the hour that the clocks repeat, in the middle of the film") {
  SampleLog log;
  plan::ChannelMap map = sample_map();
  map.time_form = plan::TimeForm::local;
  map.time_format = "%Y-%m-%d %H:%M:%S";
  map.zone = "Europe/Berlin";  // back from 03:00 to 02:00 at 2031-10-26T01:00:00Z
  Instant fold;
  REQUIRE(from_rfc3339("2031-10-26T01:00:00Z", fold));
  const std::int64_t by = fold.ns - log.stamp_ns(log.middle);
  for (std::size_t i = 1; i < log.lines.size(); ++i) {
    const std::int64_t utc = log.stamp_ns(i) + by;
    std::string local = to_rfc3339(Instant{utc + (utc < fold.ns ? 2 : 1) * 3600 * second_ns});
    local[10] = ' ';
    log.set(i, "time", local.substr(0, 19));
  }
  const Seen s = seen(read(log.lines, map), log::Oddity::daylight_saving_fold);
  CHECK(s.count > 600);
  check_film(s, 0);
  CHECK(s.mean_nm == doctest::Approx(undamaged().mean_nm).epsilon(1e-9));  // nothing was lost
}

TEST_CASE("headers in the middle: repeated, with another unit; two exports pasted together") {
  const auto at = [](SampleLog& log, std::size_t row) {
    return log.lines.begin() + static_cast<std::ptrdiff_t>(row);
  };
  SampleLog repeated;
  repeated.lines.insert(at(repeated, repeated.middle), repeated.lines[0]);
  const Seen again = seen(read(repeated.lines, sample_map()), log::Oddity::repeated_header);
  CHECK(again.count == 1);
  CHECK(again.line == repeated.middle + 1);
  check_film(again, 0);
  CHECK(again.mean_nm == doctest::Approx(undamaged().mean_nm).epsilon(1e-9));

  SampleLog pasted;
  Lines overlap(at(pasted, pasted.middle - 60), at(pasted, pasted.middle));
  overlap.insert(overlap.begin(), pasted.lines[0]);
  pasted.lines.insert(at(pasted, pasted.middle), overlap.begin(), overlap.end());
  const Seen joined = seen(read(pasted.lines, sample_map()), log::Oddity::joined_export);
  CHECK(joined.count == 60);
  CHECK(joined.line == pasted.middle + 2);
  check_film(joined, 0);

  // Another unit from there on: there is no account of half a run.
  SampleLog contradictory;
  std::string header = contradictory.lines[0];
  header.replace(header.find("cathode-supply.power [kW]"), 25, "cathode-supply.power [W]");
  contradictory.lines.insert(at(contradictory, contradictory.middle), header);
  const auto refused = read(contradictory.lines, sample_map());
  CHECK_FALSE(refused.ok());
  CHECK(to_text(refused.diagnostics()).find("second-header") != std::string::npos);
}

TEST_CASE("cells of another kind of unit are not used, and said so") {
  SampleLog log;
  for (std::size_t i = log.middle; i < log.middle + 5; ++i)
    log.set(i, "cathode-supply.power", log.get(i, "cathode-supply.power") + " A");
  const auto made = read(log.lines, sample_map());
  const Seen s = seen(made, log::Oddity::contradictory_unit);
  CHECK(s.count == 5);
  CHECK(s.line == log.middle + 1);
  const auto& deviations = made.value().deviations;
  const auto told = std::find_if(deviations.begin(), deviations.end(),
                                 [](const Deviation& d) { return d.rule == "contradictory-unit"; });
  REQUIRE(told != deviations.end());
  CHECK(told->step == "coat");
  CHECK(told->line == log.middle + 1);
  CHECK(
      told->effect ==
      fmt::format("'{}' (5 times). Cells that name a unit of another kind than their channel's are not used.",
                  log.get(log.middle, "cathode-supply.power")));
  CHECK(s.mean_nm == doctest::Approx(undamaged().mean_nm).epsilon(0.01));
}

TEST_CASE("a flow reading that failed in the step before the film is still the reading that failed") {
  SampleLog log;
  std::size_t from = log.middle;
  while (log.get(from, "run.step") == "coat") --from;
  const std::string step_before = log.get(from, "run.step");
  for (std::size_t i = from - 60; i < log.lines.size(); ++i) log.set(i, "argon.flow", "0");
  const auto made = read(log.lines, sample_map());
  REQUIRE(made.has_value());
  std::vector<std::string> off_in;
  for (const Deviation& d : made.value().deviations) {
    CHECK(d.rule != "gas-missing");
    CHECK(d.severity != Severity::error);
    if (d.rule == "flow-reading-off") off_in.push_back(d.step);
  }
  CHECK(off_in == std::vector<std::string>{step_before, "coat"});
}

TEST_CASE("of a log in several files a deviation says whose line it means") {
  SampleLog log;
  const std::size_t from = log.middle - 100;
  for (std::size_t i = log.middle; i < log.middle + 4; ++i) {
    log.set(i, "cathode-supply.power", "0");
    log.set(i, "cathode-supply.current", "0");
  }
  const auto folder =
      std::filesystem::temp_directory_path() / fmt::format("vacuary-test-files-{}", ::getpid());
  std::filesystem::create_directories(folder);
  {
    std::ofstream first(folder / "1.csv"), second(folder / "2.csv");
    second << log.lines[0] << "\n";
    for (std::size_t i = 0; i < log.lines.size(); ++i) (i < from ? first : second) << log.lines[i] << "\n";
  }
  log::Options options;
  options.gas = sample_plan().chamber.reference;
  auto reader = log::Reader::open({folder / "1.csv", folder / "2.csv"}, sample_map(), options);
  REQUIRE(reader.ok());
  const auto made = account(sample_plan(), sample_map(), reader.value());
  REQUIRE(made.has_value());
  const Deviation* trip = one_of(made.value(), "power-interruption");
  REQUIRE(trip != nullptr);
  CHECK(trip->line.file == 1);
  CHECK(trip->line.number == log.middle - from + 2);
  std::filesystem::remove_all(folder);
}

TEST_CASE("on change a reading that ended does not stand, in whatever file its row is") {
  plan::ChannelMap map = sample_map();
  map.logging = plan::Logging::on_change;
  map.period.reset();
  map.step_periods.clear();
  SampleLog log;
  const std::size_t from = log.middle - 400;  // before the film
  for (std::size_t i = from; i < log.lines.size(); ++i)
    log.set(i, "cathode-supply.voltage", i == from ? "nan" : "");
  const auto folder =
      std::filesystem::temp_directory_path() / fmt::format("vacuary-test-ended-{}", ::getpid());
  std::filesystem::create_directories(folder);
  {
    std::ofstream first(folder / "1.csv"), second(folder / "2.csv");
    second << log.lines[0] << "\n";
    for (std::size_t i = 0; i < log.lines.size(); ++i) (i <= from ? first : second) << log.lines[i] << "\n";
  }
  log::Options options;
  options.gas = sample_plan().chamber.reference;
  auto reader = log::Reader::open({folder / "1.csv", folder / "2.csv"}, map, options);
  REQUIRE(reader.ok());
  const auto made = account(sample_plan(), map, reader.value());
  REQUIRE(made.has_value());
  CHECK_FALSE(made.value().film.claimed);
  std::filesystem::remove_all(folder);
}

TEST_CASE("a supply that stopped reading, and one that lost its digits") {
  SampleLog frozen;
  for (std::size_t i = 1; i < 40; ++i) {
    for (const char* name : {"cathode-supply.power", "cathode-supply.voltage", "cathode-supply.current"})
      frozen.set(frozen.middle + i, name, frozen.get(frozen.middle, name));
  }
  const Seen stuck = seen(read(frozen.lines, sample_map()), log::Oddity::stuck_value);
  CHECK(stuck.count >= 40);
  CHECK(stuck.line == frozen.middle + 1);
  CHECK(stuck.rules.find("frozen-channels") != std::string::npos);
  check_film(stuck, 0.05);

  for (const int decimals : {2, 0}) {  // without any, the regulated power stands still
    CAPTURE(decimals);
    SampleLog coarse;
    for (std::size_t i = coarse.middle - 150; i < coarse.lines.size(); ++i) {
      const double v = std::strtod(coarse.get(i, "cathode-supply.power").c_str(), nullptr);
      coarse.set(i, "cathode-supply.power", fmt::format("{:.{}f}", v, decimals));
    }
    const Seen lost = seen(read(coarse.lines, sample_map()), log::Oddity::quantisation_change);
    CHECK(lost.count >= 1);
    check_film(lost, 0);
  }
}

}  // namespace vacuary::run::test
