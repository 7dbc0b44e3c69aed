// Devices that stopped reading: all their channels stand on identical digits. It does nothing to the
// film, but what happened meanwhile is not known.
//
// A log on change repeats nothing, so that standing digits say nothing there either; only a supply's
// energy counter must go on while the supply gives power.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
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
const double fade_a_row = std::exp(-1 / memory_rows);
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
  }

  void watch(int column, plan::What what) {
    Channel channel;
    channel.column = column;
    channel.counts = what == plan::What::energy;
    channel.mute = what == plan::What::arcs;
    channels_.push_back(channel);
  }

  void row(const Row& row, Findings& findings) override {
    if (!row.gap && !row.first && all_alike(row) && any_alive(row)) {
      ++rows_;
      last_ = row.time;
      frozen_ |= surprise(row.hold) > surprise_needed && rows_ > beyond_longest * longest_ &&
                 seconds(start_.time, row.time) >= shortest_s;
    } else {
      end(row, findings);
    }
  }

  void finish(const Moment& last, Findings& findings) override {
    if (frozen_) tell(last, findings);
  }

 private:
  struct Channel {
    int column = -1;
    bool mute = false;    // a counter of rare things: that it stands says nothing
    bool counts = false;  // a counter of energy: rests by right while its supply is off
    double value = no_value;
    double pairs = 0, repeats = 0;  // neighbours seen, and how many of them were alike; fading

    void count(double times, bool alike) {
      const double fade = times == 1 ? fade_a_row : std::exp(-times / memory_rows);
      pairs = pairs * fade + times;
      repeats = repeats * fade + (alike ? times : 0);
    }
    // By the share of repeats as large as it may be: two standard deviations of counting above.
    [[nodiscard]] double surprise_a_row() const {
      if (mute || pairs < least_known) return 0;
      const double share = (repeats + 1 + 2 * std::sqrt(repeats + 1)) / (pairs + 2);
      return share < too_dull ? -std::log(share) : 0;
    }
  };

  [[nodiscard]] bool all_alike(const Row& row) const {
    return std::all_of(channels_.begin(), channels_.end(),
                       [&](const Channel& channel) { return row.at(channel.column) == channel.value; });
  }
  [[nodiscard]] bool any_alive(const Row& row) const {
    return std::any_of(channels_.begin(), channels_.end(), [&](const Channel& channel) {
      return alive(row.at(channel.column)) && !channel.counts && !channel.mute &&
             (row.hold || channel.surprise_a_row() > 0);
    });
  }

  // Off, at zero, or at the end of a gauge's range a reading stands by right.
  [[nodiscard]] bool alive(double value) const {
    if (std::isnan(value) || value == 0) return false;
    if (gauge_ == nullptr) return true;
    return value > 1.01 * gauge_->low.value.value() && value < 0.99 * gauge_->high.value.value();
  }

  [[nodiscard]] double surprise(bool on_change) const {
    double most = 0;
    for (const Channel& channel : channels_) {
      if (alive(channel.value) && channel.counts == on_change)
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
        if (rows_ > 0) channel.count(rows_, true);
      }
    }
    for (Channel& channel : channels_) {
      const double now = row.at(channel.column);
      if (!row.gap && alive(now) && alive(channel.value)) channel.count(1, now == channel.value);
      channel.value = now;
    }
    if (row.step != row.step_before) longest_ = 0;
    frozen_ = false;
    rows_ = 0;
    start_ = {row.time, row.line, row.step, row.power_w, row.counter_j};
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
      scene_.film.doubt(start_.step, doubt_m);
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

  // What could have happened while the supply of the cathode was not read.
  [[nodiscard]] double doubt(const Moment& back) const {
    const CathodeRoles* cathode = scene_.film.roles_in_use();
    const plan::Step* step = scene_.step(start_.step);
    if (cathode == nullptr || cathode->supply->name.value != device_ || step == nullptr ||
        step->kind != plan::StepKind::sputter) {
      return 0;
    }
    const double lasted_s = seconds(start_.time, last_);
    const double laid_j = start_.power_w * lasted_s;
    const double counted_j = back.counter_j - start_.counter_j - back.power_w * seconds(last_, back.time);
    if (counted_j >= 0) return std::abs(counted_j - laid_j) * back.kappa_m_j;
    return greater(laid_j, scene_.film.rated_w() * lasted_s - laid_j) * back.kappa_m_j;
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
    std::uint64_t line = 0;
    int step = -1;
    double power_w = no_value, counter_j = no_value;
  };
  Start start_;
  Instant last_;
};

}  // namespace

// The optic's angle is looked after by the rotation watch, which can tell a reading that stands from
// an optic that stands. Temperatures are too slow to judge.
void watch_frozen(const Scene& scene, Watches& watches) {
  std::map<std::string, std::unique_ptr<FrozenWatch>> devices;
  for (std::size_t c = 0; c < scene.header.channels.size(); ++c) {
    const log::ChannelInfo& info = scene.header.channels[c];
    const plan::What what = info.channel.what;
    const bool by_nature = what == plan::What::temperature || what == plan::What::frequency;
    if (info.text || by_nature || info.channel.device == "optic") continue;
    auto& device = devices[info.channel.device];
    if (!device) device = std::make_unique<FrozenWatch>(scene, info.channel.device);
    device->watch(static_cast<int>(c), what);
  }
  for (auto& [name, device] : devices) watches.push_back(std::move(device));
}

}  // namespace vacuary::run
