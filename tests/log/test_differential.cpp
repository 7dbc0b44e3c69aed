// The reader against the slow reference reader over random logs with everything wrong in them,
// and against itself on other numbers of threads and instruction sets.
#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <random>

#include "log/reference.hpp"
#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

class LogMaker {
 public:
  explicit LogMaker(std::uint64_t seed) : random_(seed) {
    delimiter = pick(3) == 0 ? ';' : pick(3) == 0 ? '\t' : ',';
    channels_ = 1 + pick(6);
    with_text_ = pick(2) == 0;
    quoting_ = pick(2) == 0 ? 0 : 8;
    odd_every_ = pick(4) == 0 ? 3 : 40;
    static const char* const ends[] = {"\n", "\r\n", "\r"};
    line_end_ = ends[pick(3)];
  }

  std::string make(std::size_t rows) {
    header_ = "time";
    for (std::uint64_t c = 0; c < channels_; ++c) header_ += fmt::format("{}g{}.pressure [Pa]", delimiter, c);
    if (with_text_) header_ += fmt::format("{}plant.state", delimiter);
    std::string out = header_ + line_end_;
    std::int64_t ms = 1930000000000;
    for (std::size_t r = 0; r < rows; ++r) {
      ms += pick(odd_every_ * 4) == 0 ? jump() : 1000;
      out += line(ms);
    }
    if (pick(3) == 0) out.resize(out.size() - pick(20));
    return out;
  }

  char delimiter = ',';

 private:
  // Forward, or so far back that it is no step of the clock, which the reference does not know.
  std::int64_t jump() {
    if (pick(2) == 0) return static_cast<std::int64_t>(pick(4000));
    return -12000 - static_cast<std::int64_t>(pick(20000));
  }
  std::uint64_t pick(std::uint64_t n) { return random_() % n; }
  bool odd() { return pick(odd_every_) == 0; }

  std::string line(std::int64_t ms) {
    if (odd() && odd()) return header_ + line_end_;
    if (odd() && odd()) return pick(2) == 0 ? line_end_ : "   " + line_end_;
    std::string out = odd() && odd() ? "no time" : to_rfc3339(Instant{ms * 1'000'000});
    for (std::uint64_t c = 0; c < channels_; ++c) out += delimiter + cell();
    if (with_text_) out += delimiter + text();
    if (odd() && odd()) out += delimiter + cell();
    if (odd() && odd()) out.resize(pick(out.size()));
    if (odd() && odd()) out += fmt::format("{}{}", delimiter, delimiter);
    const std::string end = odd() ? (pick(2) == 0 ? "\n" : "\r\n") : line_end_;
    return out + end;
  }

  std::string cell() {
    std::string s;
    if (odd()) {
      static const char* const odd_cells[] = {"",
                                              " ",
                                              "NaN",
                                              "nan",
                                              "off",
                                              "1e999",
                                              "1.2.3",
                                              "-",
                                              "1e-400",
                                              "\"",
                                              "\"x",
                                              "1\"",
                                              "+3",
                                              "-0",
                                              ".5",
                                              "5.",
                                              "1e5",
                                              "0x1",
                                              "99999999999999999999",
                                              "\"\""};
      s = odd_cells[pick(std::size(odd_cells))];
      if (s.find('"') != std::string::npos && quoting_ == 0) s.clear();
    } else if (pick(4) == 0) {
      s = fmt::format("{:.{}e}", std::ldexp(static_cast<double>(random_()), -static_cast<int>(pick(120))),
                      pick(18));
    } else {
      s = fmt::format("{:.{}f}", static_cast<double>(random_() % 2000000) / 999.0 - 500, pick(6));
    }
    if (odd()) s = " " + s + "\t ";
    if (delimiter == '\t') std::erase(s, '\t');
    if (quoting_ != 0 && pick(quoting_) == 0) s = "\"" + s + "\"";
    return s;
  }

  std::string text() {
    static const char* const words[] = {"Pump", "Film", "", "a b", "Gr\xC3\xBCn"};
    std::string s = words[pick(16) < 14 ? state_ : state_ = pick(std::size(words))];
    if (quoting_ == 0) return s;
    if (odd()) return "\"two\nlines\r\nhere\"";
    if (odd()) return fmt::format("\"with {} and \"\"marks\"\"\"", delimiter);
    return pick(2) == 0 ? s : "\"" + s + "\"";
  }

  std::mt19937_64 random_;
  std::uint64_t channels_ = 1, quoting_ = 0, odd_every_ = 40, state_ = 0;
  bool with_text_ = false;
  std::string line_end_, header_;
};

plan::ChannelMap map_with(char delimiter) {
  plan::ChannelMap map = some_map();
  map.delimiter = delimiter;
  return map;
}

bool same_bits(double a, double b) {
  return (std::isnan(a) && std::isnan(b)) ||
         std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
}

std::string compare(const Outcome& fast, const Reference& slow) {
  if (fast.time.size() != slow.time_ns.size())
    return fmt::format("{} rows, not {}", fast.time.size(), slow.time_ns.size());
  for (std::size_t i = 0; i < fast.time.size(); ++i) {
    if (fast.time[i].ns != slow.time_ns[i]) return fmt::format("stamp of row {}", i);
    if (fast.line[i] != slow.line[i])
      return fmt::format("line of row {}: {} not {}", i, fast.line[i], slow.line[i]);
    for (const auto& [name, column] : fast.values) {
      if (!same_bits(column[i], slow.values.at(name)[i])) {
        return fmt::format("{} at line {}: {} not {}", name, fast.line[i], column[i],
                           slow.values.at(name)[i]);
      }
    }
    for (const auto& [name, column] : fast.texts) {
      if (first_invalid_utf8(slow.texts.at(name)[i]) != std::string::npos) continue;
      if (column[i] != slow.texts.at(name)[i]) {
        return fmt::format("{} at line {}: '{}' not '{}'", name, fast.line[i], column[i],
                           slow.texts.at(name)[i]);
      }
    }
  }
  for (const Oddity what :
       {Oddity::missing_cell, Oddity::not_a_number, Oddity::overrange, Oddity::unreadable_cell,
        Oddity::wrong_field_count, Oddity::cut_last_line, Oddity::repeated_header, Oddity::unreadable_time}) {
    const auto found = slow.count.find(what);
    const std::uint64_t expected = found == slow.count.end() ? 0 : found->second;
    const std::uint64_t got = fast.tally.count[static_cast<std::size_t>(what)];
    if (got != expected) return fmt::format("{}: {} not {}", name(what), got, expected);
  }
  return "";
}

}  // namespace

TEST_CASE("random logs read as the slow reference reads them") {
  int compared = 0;
  for (std::uint64_t seed = 1; seed <= 400; ++seed) {
    LogMaker maker(seed);
    const std::string text = maker.make(seed % 40 == 0 ? 6000 : 60);
    const Outcome fast = read(text, map_with(maker.delimiter));
    if (!fast.opened || !fast.failures.empty()) continue;  // a cut left no row, or a torn header
    ++compared;
    const std::string difference = compare(fast, read_slowly(text, maker.delimiter));
    CHECK_MESSAGE(difference.empty(), "seed ", seed, ": ", difference);
  }
  CHECK(compared > 360);
}

TEST_CASE("the same bits on any number of threads and any instruction set") {
  for (std::uint64_t seed = 1001; seed <= 1012; ++seed) {
    LogMaker maker(seed);
    const std::string text = maker.make(9000);
    const std::string once = fingerprint(read(text, map_with(maker.delimiter)));
    for (const InstructionSet set :
         {InstructionSet::portable, InstructionSet::avx2, InstructionSet::avx512}) {
      for (const unsigned threads : {1U, 2U, 5U}) {
        Options options;
        options.threads = threads;
        options.instructions = set;
        CHECK(fingerprint(read(text, map_with(maker.delimiter), options)) == once);
      }
    }
  }
}
