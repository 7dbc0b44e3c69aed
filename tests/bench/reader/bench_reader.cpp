// The reader's part of the benchmark: makes the wide log, and reads it.
//
//   bench_reader make FILE MEGABYTES   writes a log: RFC 3339 stamp, 24 numeric columns, step text
//   bench_reader read FILE [THREADS [all|ten [best|portable|avx2|avx512]]]
//
// `read` gives for each step and channel: samples, minimum, maximum, mean, time integral
// (trapezoid, compensated) and time above a bound, and prints a line of figures and a checksum.
#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
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

struct Total {
  std::uint64_t good = 0;
  double minimum = HUGE_VAL, maximum = -HUGE_VAL, above_s = 0;
  Sum sum, integral;
};

// Brings together what the reader says of each part.
class Account {
 public:
  Account(const log::Header& header, const std::map<std::string, log::Bounds>& bounds)
      : step_(header.find({"run", plan::What::step})) {
    for (std::size_t c = 0; c < header.channels.size(); ++c) {
      if (header.channels[c].text) continue;
      numeric_.push_back(c);
      high_.push_back(bounds.at(header.channels[c].channel.name()).high);
    }
    last_.resize(header.channels.size(), NAN);
  }

  void add(const log::Block& block) {
    std::size_t change = 0;
    for (const log::Part& part : block.parts) {
      const bool broken = std::binary_search(block.breaks.begin(), block.breaks.end(), part.from);
      if (totals_ != nullptr && !broken) between(block, part);
      if (step_ >= 0) {
        const auto& changes = block.texts[static_cast<std::size_t>(step_)];
        for (; change < changes.size() && changes[change].row <= part.from; ++change)
          now_ = changes[change].text;
      }
      totals_ = &steps_[now_];
      totals_->resize(numeric_.size());
      for (std::size_t k = 0; k < numeric_.size(); ++k) {
        const log::Figures& f = part.of[numeric_[k]];
        Total& total = (*totals_)[k];
        total.good += f.good;
        total.minimum = f.least < total.minimum ? f.least : total.minimum;
        total.maximum = f.greatest > total.maximum ? f.greatest : total.maximum;
        total.sum.add(f.sum);
        total.integral.add(f.integral);
        total.above_s += f.outside_s;
        last_[numeric_[k]] = f.last;
      }
      last_ns_ = block.time[part.to - 1].ns;
    }
  }

  [[nodiscard]] std::uint64_t checksum() const {
    std::uint64_t out = 0;
    for (const auto& [step, totals] : steps_) {
      for (const Total& t : totals) {
        for (const double x : {t.minimum, t.maximum, t.sum.value(), t.integral.value(), t.above_s}) {
          out = out * 0x9E3779B97F4A7C15U + std::bit_cast<std::uint64_t>(x);
        }
      }
    }
    return out;
  }

 private:
  // The interval from the part before belongs to the step that it began in.
  void between(const log::Block& block, const log::Part& part) {
    const double dt_s = static_cast<double>(block.time[part.from].ns - last_ns_) * 1e-9;
    for (std::size_t k = 0; k < numeric_.size(); ++k) {
      const double now = part.of[numeric_[k]].first;
      const double area = 0.5 * (now + last_[numeric_[k]]) * dt_s;
      if (area == area) (*totals_)[k].integral.add(area);
      if (now > high_[k]) (*totals_)[k].above_s += dt_s;
    }
  }

  int step_;
  std::string now_;
  std::vector<std::size_t> numeric_;
  std::vector<double> high_;  // bound of each numeric channel, SI
  std::vector<double> last_;  // by channel
  std::int64_t last_ns_ = 0;
  std::vector<Total>* totals_ = nullptr;  // of the part before
  std::map<std::string, std::vector<Total>> steps_;
};

// Each column's level, which half of its values are above, as a bound.
std::map<std::string, log::Bounds> bounds_of(const char* path) {
  std::map<std::string, log::Bounds> bounds;
  const auto opened = log::Reader::open({path}, {});
  if (!opened.ok()) return bounds;
  const log::Header& header = opened.value().header();
  for (const Made& column : columns) {
    for (const log::ChannelInfo& info : header.channels) {
      if (info.header != column.header) continue;
      bounds[info.channel.name()].high = (column.level + info.unit.offset) * info.unit.factor;
    }
  }
  return bounds;
}

int read(const char* path, const log::Options& options) {
  const auto start = std::chrono::steady_clock::now();
  auto opened = log::Reader::open({path}, {}, options);
  if (!opened.ok()) {
    std::fputs(to_text(opened.diagnostics()).c_str(), stderr);
    return 2;
  }
  log::Reader reader = std::move(opened).value();
  Account account(reader.header(), options.bounds);
  std::uint64_t events = 0;
  while (const log::Block* block = reader.next()) {
    account.add(*block);
    events += block->events.size();
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
  options.figures = true;
  options.bounds = bounds_of(words[1].c_str());
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
