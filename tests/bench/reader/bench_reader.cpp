// The reader's part of the benchmark: makes the wide log, and reads it.
//
//   bench_reader make FILE MEGABYTES   writes a log: RFC 3339 stamp, 24 numeric columns, step text
//   bench_reader read FILE [THREADS [all|ten [best|portable|avx2|avx512]]]
//
// `read` gives for each step and channel: samples, minimum, maximum, mean, time integral
// (trapezoid, compensated) and time above a bound, and prints a line of figures and a checksum.
#include <fmt/format.h>
#include <sys/resource.h>

#include <bit>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "log/log.hpp"

namespace {

using namespace vacuary;

struct Made {
  const char* header;
  double level, noise;
  const char* format;  // printf
};

// 24 columns like a coating hall's: pressures in exponent form, the rest with fixed decimals.
constexpr Made columns[] = {{"ion.pressure [mbar]", 3e-6, 0.05, "%.3e"},
                            {"manometer.pressure [mbar]", 3.02e-3, 0.01, "%.4e"},
                            {"pirani.pressure [mbar]", 2.9e-3, 0.02, "%.2e"},
                            {"argon.flow [sccm]", 250, 0.002, "%.2f"},
                            {"oxygen.flow [sccm]", 1.5, 0.1, "%.3f"},
                            {"al.power [kW]", 15, 0.003, "%.3f"},
                            {"al.voltage [V]", 480, 0.004, "%.1f"},
                            {"al.current [A]", 31.3, 0.004, "%.2f"},
                            {"al.energy [kWh]", 1.25, 0, "%.4f"},
                            {"glow.power [kW]", 1.5, 0.01, "%.3f"},
                            {"glow.voltage [V]", 1500, 0.01, "%.1f"},
                            {"glow.current [A]", 1, 0.02, "%.3f"},
                            {"optic.angle [deg]", 180, 0, "%.2f"},
                            {"optic.speed [rpm]", 0.5, 0.01, "%.4f"},
                            {"cold1.temperature [K]", 12, 0.01, "%.2f"},
                            {"cold2.temperature [K]", 12.4, 0.01, "%.2f"},
                            {"optic1.temperature [degC]", 21, 0.02, "%.2f"},
                            {"optic2.temperature [degC]", 21, 0.02, "%.2f"},
                            {"optic3.temperature [degC]", 20, 0.02, "%.2f"},
                            {"wall1.temperature [degC]", 18, 0.02, "%.1f"},
                            {"wall2.temperature [degC]", 18, 0.02, "%.1f"},
                            {"target.temperature [degC]", 45, 0.05, "%.1f"},
                            {"water1.temperature [degC]", 16, 0.01, "%.2f"},
                            {"water2.temperature [degC]", 17, 0.01, "%.2f"}};

struct Noise {
  std::uint64_t state = 20310304;
  double next() {  // -1 to 1
    state = state * 6364136223846793005U + 1442695040888963407U;
    return static_cast<double>(state >> 11U) * 0x1p-52 - 1;
  }
};

int make(const char* path, double megabytes) {
  std::FILE* file = std::fopen(path, "wb");
  if (file == nullptr) return 2;
  static const char* const steps[] = {"pump down", "glow clean", "pump again", "pre-sputter", "film", "vent"};
  std::string text = "time";
  for (const Made& column : columns) text += std::string(",") + column.header;
  text += ",run.step\n";
  Noise noise;
  char cell[64];
  double written = 0;
  for (std::int64_t row = 0; written < megabytes * 1e6; ++row) {
    text += to_rfc3339(Instant{1930367167000000000 + row * 100'000'000});
    if (row % 10 == 0) text.insert(text.size() - 1, ".000");  // a logger writes its milliseconds always
    for (const Made& column : columns) {
      // The optic turns and the energy counter runs; the rest is noise about a level.
      double value = column.level * (1 + column.noise * noise.next());
      if (column.header == std::string_view("optic.angle [deg]")) {
        value = std::fmod(0.3 * static_cast<double>(row), 360);  // 0.5 rpm at 10 Hz
      } else if (column.header == std::string_view("al.energy [kWh]")) {
        value = 15.0 / 36000 * static_cast<double>(row);
      }
      std::snprintf(cell, sizeof cell, column.format, value);
      text += ',';
      text += cell;
    }
    text += std::string(",") + steps[row / 5000 % 6] + "\n";
    if (text.size() > 1U << 20U) {
      written += static_cast<double>(text.size());
      std::fwrite(text.data(), 1, text.size(), file);
      text.clear();
    }
  }
  std::fwrite(text.data(), 1, text.size(), file);
  return std::fclose(file) == 0 ? 0 : 2;
}

// Sum with the rounding of each addition carried along (Neumaier).
struct Sum {
  double sum = 0, rest = 0;
  void add(double x) {
    const double t = sum + x;
    rest += std::abs(sum) >= std::abs(x) ? (sum - t) + x : (x - t) + sum;
    sum = t;
  }
  [[nodiscard]] double value() const { return sum + rest; }
};

struct Figures {
  std::uint64_t good = 0;
  double minimum = HUGE_VAL, maximum = -HUGE_VAL, above_s = 0;
  Sum sum, integral;
};

// For each instruction set its own code, chosen when the program runs.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#define ON_EACH_SET __attribute__((target_clones("arch=x86-64-v4", "avx2", "default")))
#else
#define ON_EACH_SET
#endif

// Rows [from, to) of one channel in one step. Eight lanes, combined in order: the same bits always.
ON_EACH_SET void account(const std::vector<double>& v, const std::vector<double>& dt, double bound,
                         std::size_t from, std::size_t to, Figures& out) {
  constexpr std::size_t lanes = 8;
  double low[lanes], high[lanes], sum[lanes] = {}, area[lanes] = {}, above[lanes] = {}, good[lanes] = {};
  for (std::size_t k = 0; k < lanes; ++k) {
    low[k] = HUGE_VAL;
    high[k] = -HUGE_VAL;
  }
  const auto one = [&](std::size_t i, std::size_t k) {
    const double x = v[i];
    const double part = 0.5 * (x + v[i - 1]) * dt[i];
    low[k] = x < low[k] ? x : low[k];
    high[k] = x > high[k] ? x : high[k];
    sum[k] += x == x ? x : 0;
    good[k] += x == x ? 1 : 0;
    area[k] += part == part ? part : 0;
    above[k] += x > bound ? dt[i] : 0;
  };
  std::size_t i = from;
  if (i == 0) {  // dt[0] is 0: the block before is not looked at
    low[0] = v[0] == v[0] ? v[0] : low[0];
    high[0] = v[0] == v[0] ? v[0] : high[0];
    sum[0] = v[0] == v[0] ? v[0] : 0;
    good[0] = v[0] == v[0] ? 1 : 0;
    ++i;
  }
  for (; i + lanes <= to; i += lanes) {
    for (std::size_t k = 0; k < lanes; ++k) one(i + k, k);
  }
  for (; i < to; ++i) one(i, 0);
  for (std::size_t k = 0; k < lanes; ++k) {
    out.minimum = low[k] < out.minimum ? low[k] : out.minimum;
    out.maximum = high[k] > out.maximum ? high[k] : out.maximum;
    out.sum.add(sum[k]);
    out.integral.add(area[k]);
    out.above_s += above[k];
    out.good += static_cast<std::uint64_t>(good[k]);
  }
}

class Account {
 public:
  explicit Account(const log::Header& header) : step_(header.find({"run", plan::What::step})) {
    for (std::size_t c = 0; c < header.channels.size(); ++c) {
      if (!header.channels[c].text) numeric_.push_back(c);
    }
  }

  void add(const log::Block& block) {
    dt_.assign(block.rows(), 0);
    for (std::size_t i = 0; i < block.rows(); ++i) {
      dt_[i] = i == 0 ? 0 : static_cast<double>(block.time[i].ns - block.time[i - 1].ns) * 1e-9;
    }
    for (const std::size_t row : block.breaks) dt_[row] = 0;
    std::size_t from = 0;
    if (step_ >= 0) {
      for (const log::TextChange& change : block.texts[static_cast<std::size_t>(step_)]) {
        part(block, from, change.row);
        from = change.row;
        now_ = change.text;
      }
    }
    part(block, from, block.rows());
  }

  [[nodiscard]] std::uint64_t checksum() const {
    std::uint64_t out = 0;
    for (const auto& [step, figures] : steps_) {
      for (const Figures& f : figures) {
        for (const double x : {f.minimum, f.maximum, f.sum.value(), f.integral.value(), f.above_s}) {
          out = out * 0x9E3779B97F4A7C15U + std::bit_cast<std::uint64_t>(x);
        }
      }
    }
    return out;
  }

 private:
  void part(const log::Block& block, std::size_t from, std::size_t to) {
    if (from == to) return;
    auto& figures = steps_[now_];
    figures.resize(numeric_.size());
    for (std::size_t k = 0; k < numeric_.size(); ++k) {
      account(block.values[numeric_[k]], dt_, columns[k].level, from, to, figures[k]);
    }
  }

  int step_;
  std::string now_;
  std::vector<std::size_t> numeric_;
  std::vector<double> dt_;
  std::map<std::string, std::vector<Figures>> steps_;
};

int read(const char* path, const log::Options& options) {
  const auto start = std::chrono::steady_clock::now();
  auto opened = log::Reader::open({path}, {}, options);
  if (!opened.ok()) {
    std::fputs(to_text(opened.diagnostics()).c_str(), stderr);
    return 2;
  }
  log::Reader reader = std::move(opened).value();
  Account account(reader.header());
  log::Block block;
  std::uint64_t events = 0;
  while (reader.next(block)) {
    account.add(block);
    events += block.events.size();
  }
  const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  const double bytes = static_cast<double>(reader.tally().bytes);
  fmt::print(
      "seconds {:.3f}  GB/s {:.3f}  cpu {:.3f}  peak-MiB {:.1f}  rows {}  events {}  checksum {:016x}\n",
      seconds, bytes / seconds / 1e9,
      static_cast<double>(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
          static_cast<double>(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1e6,
      static_cast<double>(usage.ru_maxrss) / 1024, reader.tally().rows, events, account.checksum());
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  const std::vector<std::string> words(argv + 1, argv + argc);
  if (words.size() == 3 && words[0] == "make")
    return make(words[1].c_str(), std::strtod(words[2].c_str(), nullptr));
  if (words.size() < 2 || words[0] != "read") return 2;
  log::Options options;
  if (words.size() > 2) options.threads = static_cast<unsigned>(std::stoul(words[2]));
  if (words.size() > 3 && words[3] == "ten") {
    options.wanted = {"run.step"};
    for (const char* name : {"ion.pressure", "manometer.pressure", "argon.flow", "al.power", "al.voltage",
                             "al.current", "al.energy", "optic.angle", "optic.speed", "optic1.temperature"}) {
      options.wanted.emplace_back(name);
    }
  }
  if (words.size() > 4) {
    options.instructions = words[4] == "portable" ? log::InstructionSet::portable
                           : words[4] == "avx2"   ? log::InstructionSet::avx2
                           : words[4] == "avx512" ? log::InstructionSet::avx512
                                                  : log::InstructionSet::best;
  }
  return read(words[1].c_str(), options);
}
