// Devices that stopped reading: all their channels stand on identical digits. It does nothing to the
// film, but what happened meanwhile is not known.
//
// A log on change repeats nothing, so that standing digits say nothing there either; only a supply's
// energy counter must go on while the supply gives power.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <map>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

// How surprising n rows alike are follows from how often the channel repeated itself before: with a
// share s of repeats they have a chance of s^(n - 1). The channels of a device depend on each other
// (power and current), so the liveliest of them speaks for all and the chances are not multiplied.
// 1e-10: in a thousand runs of ten devices and a few thousand rows that is once in a hundred thousand.
constexpr double surprise_needed = 23;  // -ln 1e-10
constexpr double memory_rows = 128;     // that the share of repeats is taken over
constexpr std::size_t count_rows = 32;  // that are counted before what was known fades
const double fade_a_count = std::exp(-static_cast<double>(count_rows) / memory_rows);
constexpr double least_known = 20;  // rows before anything is said
constexpr double too_dull = 0.9;    // share of repeats above which a channel says nothing
constexpr double shortest_s = 5;
constexpr double beyond_longest = 3;  // times the longest stretch alike in this step

class FrozenWatch final : public Watch {
 public:
  FrozenWatch(const Scene& scene, std::string device) : scene_(scene), device_(std::move(device)) {
    for (const GaugeRoles& roles : scene.roles.gauges) {
      if (roles.gauge->name.value == device_) gauge_ = roles.gauge;
    }
    if (const plan::Supply* supply = plan::supply(scene.plan.chamber, device_))
      rated_w_ = supply->power_max.value.value();
  }

  void watch(int column, plan::What what) {
    Channel channel;
    channel.column = column;
    if (gauge_ != nullptr) {
      channel.above = 1.01 * gauge_->low.value.value();
      channel.below = 0.99 * gauge_->high.value.value();
    }
    channel.counts = what == plan::What::energy;
    channel.mute = what == plan::What::arcs;
    channels_.push_back(channel);
  }

  void row(const Row& row, Findings& findings) override {
    if (!row.gap && !row.first && all_alike(row) && any_alive(row)) {
      ++rows_;
      for (const int step : {row.step_before, row.step}) {
        if (!lays_film(step)) continue;
        if (film_step_ < 0) {
          film_step_ = step;
          film_start_ = row.before().time;
        }
        film_end_ = row.time;
        if (in_use()) film_kappa_m_j_ = row.kappa_m_j;
      }
      last_ = row.time;
      frozen_ |= surprise(row.hold) > surprise_needed && rows_ > beyond_longest * longest_ &&
                 seconds(start_.time, row.time) >= shortest_s;
    } else {
      end(row, findings);
    }
  }

  void finish(const Moment& last, Findings& findings) override {
    if (frozen_) tell(last, findings);
    // Only now, so that it does not matter which watch took which rows first.
    for (const auto& [step, squares_m2] : doubts_) scene_.film.doubt(step, std::sqrt(squares_m2));
  }

 protected:
  // Up to the first row on which all stand and one should not.
  const Row* pass(const Row* first, const Row* end) override {
    if (rows_ > 0 || frozen_) return first;
    const Row* row = first;
    while (row != end) {
      const Row* alike = next_alike(row, end);
      for (Channel& channel : channels_)
        channel.count(row->from(channel.column), static_cast<std::size_t>(alike - row));
      row = alike;
      if (row == end || any_alive(*row)) break;
      for (Channel& channel : channels_) channel.count(row->from(channel.column), 1);
      ++row;
    }
    if (row != first) start_at(row[-1]);
    return row;
  }

 private:
  // Two rows at once, as every machine can.
  static constexpr std::size_t lanes = 2;
  using Readings = double __attribute__((vector_size(lanes * sizeof(double))));
  using Lanes = std::int64_t __attribute__((vector_size(lanes * sizeof(double))));

  struct Channel {
    int column = -1;
    bool mute = false;    // a counter of rare things: that it stands says nothing
    bool counts = false;  // a counter of energy: rests by right while its supply is off
    // Off, at zero, or at the end of a gauge's range a reading stands by right.
    double above = -std::numeric_limits<double>::infinity(), below = -above;
    double value = no_value;  // last seen
    // Neighbours seen, and how many of them were alike: fading, and those since they last faded.
    double pairs = 0, repeats = 0;
    std::size_t new_pairs = 0, new_repeats = 0;

    [[nodiscard]] bool alive(double reading) const {
      return reading != 0 && reading > above && reading < below;
    }
    // Neighbours were seen, not many.
    void add(std::size_t more, std::size_t alike) {
      new_pairs += more;
      new_repeats += alike;
      if (new_pairs >= count_rows) fade(fade_a_count);
    }
    void fade(double by) {
      pairs = pairs * by + static_cast<double>(new_pairs);
      repeats = repeats * by + static_cast<double>(new_repeats);
      new_pairs = new_repeats = 0;
    }
    // So many rows without a change.
    void stood(double rows) {
      fade(1);
      const double by = std::exp(-rows / memory_rows);
      pairs = pairs * by + rows;
      repeats = repeats * by + rows;
    }
    // The next rows, none of them after a gap.
    void count(const double* readings, std::size_t n) {
      for (std::size_t from = 0; from < n;) {
        const std::size_t to = std::min(n, from + (count_rows - new_pairs));
        Lanes known = {}, alike = {};
        std::size_t i = from;
        count_pair(value, readings[i++], known, alike);
        for (; i + lanes <= to; i += lanes) {
          Readings now, before;
          std::memcpy(&now, readings + i, sizeof now);
          std::memcpy(&before, readings + i - 1, sizeof before);
          const Lanes pair = (now != 0) & (now > above) & (now < below) & (before != 0) & (before > above) &
                             (before < below);
          known -= pair;
          alike -= pair & (now == before);
        }
        for (; i < to; ++i) count_pair(readings[i - 1], readings[i], known, alike);
        value = readings[to - 1];
        std::size_t more = 0, same = 0;
        for (std::size_t k = 0; k < lanes; ++k) {
          more += static_cast<std::size_t>(known[k]);
          same += static_cast<std::size_t>(alike[k]);
        }
        add(more, same);
        from = to;
      }
    }
    void count_pair(double before, double now, Lanes& known, Lanes& alike) const {
      if (!alive(before) || !alive(now)) return;
      ++known[0];
      if (before == now) ++alike[0];
    }
    // By the share of repeats as large as it may be: two standard deviations of counting above.
    [[nodiscard]] double surprise_a_row() const {
      const double all = pairs + static_cast<double>(new_pairs);
      const double same = repeats + static_cast<double>(new_repeats);
      if (mute || all < least_known) return 0;
      const double share = (same + 1 + 2 * std::sqrt(same + 1)) / (all + 2);
      return share < too_dull ? -std::log(share) : 0;
    }
  };

  [[nodiscard]] bool all_alike(const Row& row) const {
    return std::all_of(channels_.begin(), channels_.end(),
                       [&](const Channel& channel) { return row.at(channel.column) == channel.value; });
  }
  [[nodiscard]] const Row* next_alike(const Row* first, const Row* end) const {
    if (all_alike(*first)) return first;
    const std::ptrdiff_t n = end - first;
    const double* one = first->from(channels_.front().column);
    for (std::ptrdiff_t r = 1; r < n; ++r) {
      if (one[r] != one[r - 1]) continue;
      if (std::all_of(channels_.begin() + 1, channels_.end(), [&](const Channel& channel) {
            const double* reading = first->from(channel.column) + r;
            return reading[0] == reading[-1];
          }))
        return first + r;
    }
    return end;
  }
  [[nodiscard]] bool any_alive(const Row& row) const {
    return std::any_of(channels_.begin(), channels_.end(), [&](const Channel& channel) {
      return channel.alive(row.at(channel.column)) && !channel.counts && !channel.mute &&
             (row.hold || channel.surprise_a_row() > 0);
    });
  }

  [[nodiscard]] double surprise(bool on_change) const {
    double most = 0;
    for (const Channel& channel : channels_) {
      if (channel.alive(channel.value) && channel.counts == on_change)
        most = greater(most, rows_ * channel.surprise_a_row());
    }
    return most;
  }

  void end(const Row& row, Findings& findings) {
    if (frozen_) {
      tell(row, findings);
    } else {
      longest_ = greater(longest_, rows_);
      for (Channel& channel : channels_) {
        if (rows_ > 0) channel.stood(rows_);
      }
    }
    for (Channel& channel : channels_) {
      const double now = row.at(channel.column);
      if (!row.gap && channel.alive(now) && channel.alive(channel.value))
        channel.add(1, now == channel.value ? 1 : 0);
      channel.value = now;
    }
    if (row.step != row.step_before) longest_ = 0;
    frozen_ = false;
    rows_ = 0;
    film_step_ = -1;
    start_at(row);
  }

  void start_at(const Row& row) {
    start_ = {row.time, row.line, row.step, no_value, no_value};
    if (!in_use()) return;
    start_.power_w = row.power_w;
    start_.counter_j = row.counter_j;
  }

  void tell(const Moment& back, Findings& findings) {
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "frozen-channels";
    d.origin = Origin::instrument;
    d.step = scene_.step_name(start_.step);
    d.channel = name_of(channels_.front());
    d.start = start_.time;
    d.end = last_;
    d.line = start_.line;
    d.effect = fmt::format(
        "{} showed the same digits for {}: it or its link had stopped reading. No effect on the film",
        device_, duration_words(seconds(start_.time, last_)));
    const double doubt_m = doubt(back);
    if (doubt_m > 0) {
      doubts_[film_step_] += doubt_m * doubt_m;
      d.effect +=
          fmt::format(" itself, but its energy in that time is known only to within {} of film", nm(doubt_m));
    }
    d.effect += ".";
    d.advice = fmt::format("Have the data link of {} looked at.", device_);
    finding.covers = {"rule:gauges-disagree", "rule:flow-reading-off", "rule:pressure-without-gas"};
    for (const Channel& channel : channels_) finding.covers.push_back(name_of(channel));
    if (gauge_ != nullptr) finding.covers.emplace_back("chamber.pressure");
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings.add(std::move(finding));
  }

  [[nodiscard]] std::string name_of(const Channel& channel) const {
    return scene_.header.channels[static_cast<std::size_t>(channel.column)].channel.name();
  }

  // The rows' power and counter are this supply's.
  [[nodiscard]] bool in_use() const {
    const CathodeRoles* cathode = scene_.film.roles_in_use();
    return cathode != nullptr && cathode->supply->name.value == device_;
  }
  // By this supply.
  [[nodiscard]] bool lays_film(int step) const {
    const plan::Step* of = scene_.step(step);
    if (of == nullptr || of->kind != plan::StepKind::sputter) return false;
    const auto& cathodes = scene_.roles.cathodes;
    return std::any_of(cathodes.begin(), cathodes.end(), [&](const CathodeRoles& one) {
      return one.supply->name.value == device_ &&
             (!of->cathode || of->cathode->value == one.cathode->name.value);
    });
  }

  // What could have happened in the film while the supply of the cathode was not read. What the counter went
  // on by also covers what of that time was not film, at anything up to full power; where another supply is
  // in use by the time this one is back, its counter is not read any more.
  [[nodiscard]] double doubt(const Moment& back) const {
    if (film_step_ < 0 || std::isnan(start_.power_w)) return 0;
    const bool counts = in_use();
    const double film_s = seconds(film_start_, film_end_);
    const double other_s = seconds(start_.time, last_) - film_s;
    const double laid_j = start_.power_w * film_s;
    const double counted_j =
        counts ? back.counter_j - start_.counter_j - back.power_w * seconds(last_, back.time) : no_value;
    double least_j = 0, most_j = rated_w_ * film_s;
    if (counted_j >= 0) {
      least_j = greater(0.0, counted_j - rated_w_ * other_s);
      most_j = other_s > 0 ? lesser(most_j, counted_j) : counted_j;
    }
    const double kappa_m_j = counts ? back.kappa_m_j : film_kappa_m_j_;
    return greater(std::abs(laid_j - least_j), std::abs(most_j - laid_j)) * kappa_m_j;
  }

  const Scene& scene_;
  std::string device_;
  const plan::Gauge* gauge_ = nullptr;
  std::vector<Channel> channels_;
  bool frozen_ = false;
  double rows_ = 0;     // alike so far
  double longest_ = 0;  // such stretch in this step that was none
  // What is told of the last row that was not alike.
  struct Start {
    Instant time;
    LogLine line;
    int step = -1;
    double power_w = no_value, counter_j = no_value;
  };
  Start start_;
  Instant last_;
  // What of that is film: its step, -1 if none.
  int film_step_ = -1;
  Instant film_start_, film_end_;
  double film_kappa_m_j_ = no_value;
  double rated_w_ = no_value;     // of a supply
  std::map<int, double> doubts_;  // by step: squares of the film that is in doubt, m2
};

}  // namespace

// The optic's angle is looked after by the rotation watch, which can tell a reading that stands from
// an optic that stands. Temperatures are too slow to judge, and a shutter rests by right wherever it came to.
void watch_frozen(const Scene& scene, Watches& watches) {
  std::map<std::string, std::unique_ptr<FrozenWatch>> devices;
  for (std::size_t c = 0; c < scene.header.channels.size(); ++c) {
    const log::ChannelInfo& info = scene.header.channels[c];
    const plan::What what = info.channel.what;
    const bool by_nature =
        what == plan::What::temperature || what == plan::What::frequency || what == plan::What::open;
    if (info.text || by_nature || info.channel.device == "optic") continue;
    auto& device = devices[info.channel.device];
    if (!device) device = std::make_unique<FrozenWatch>(scene, info.channel.device);
    device->watch(static_cast<int>(c), what);
  }
  for (auto& [name, device] : devices) watches.push_back(std::move(device));
}

}  // namespace vacuary::run
