// Instruments that are not to be believed: devices that stopped reading, gauges that disagree or
// change their range. None of it does anything to the film.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double mixed_s = 120;  // until gas that was let in has pushed out what was there

// All channels of a device that used to move stand on identical digits. How surprising that is
// follows from how often each used to repeat itself: with a share s of repeats, n rows alike have
// a chance of s^(n - 1). A channel at zero is off, at the end of its range saturated: neither is
// frozen.
class FrozenWatch final : public Watch {
 public:
  FrozenWatch(const Scene& scene, std::string device) : scene_(scene), device_(std::move(device)) {
    for (const GaugeRoles& roles : scene.roles.gauges) {
      if (roles.gauge->name.value == device_) gauge_ = roles.gauge;
    }
  }

  void watch(int column) { channels_.push_back({column, no_value, 0, 0, 0}); }
  [[nodiscard]] bool watches_anything() const { return !channels_.empty(); }

  void row(const Row& row, Findings& findings) override {
    bool all_alike = true;
    double surprise = 0;
    std::size_t lively = 0;
    for (Channel& channel : channels_) {
      const double now = row.at(channel.column);
      const bool alike = now == channel.value;
      if (!alike) channel.lively_before = channel.lively;
      if (++channel.seen > 1) channel.lively += ((alike ? 0.0 : 1.0) - channel.lively) / 32;
      channel.value = now;
      // How lively it was before the present run of equal values.
      if (channel.lively_before < 0.5) continue;
      ++lively;
      if (!alike || !alive(now)) all_alike = false;
      surprise += -std::log(1.02 - channel.lively_before);
    }
    const bool ended = !all_alike || lively == 0 || row.gap;
    if (ended) {
      if (frozen_) {
        tell(row, findings);
      } else {
        longest_ = std::fmax(longest_, rows_);
      }
      if (row.step != row.step_before) longest_ = 0;
      frozen_ = false;
      rows_ = 0;
      start_ = row;
      return;
    }
    ++rows_;
    last_ = row;
    const bool alone = lively == 1;  // one channel: quantised readings repeat now and then
    const bool enough = lively > 1 || gauge_ != nullptr;
    if (enough && rows_ >= 7 && rows_ * surprise > (alone ? 35 : 23) && rows_ > 3 * longest_ &&
        seconds(start_.time, row.time) >= 5) {
      frozen_ = true;
    }
  }

  void finish(const Row& last, Findings& findings) override {
    if (frozen_) tell(last, findings);
  }

 private:
  struct Channel {
    int column;
    double value, lively, lively_before;
    std::uint64_t seen;
  };

  // Neither off nor at the end of a gauge's range.
  [[nodiscard]] bool alive(double value) const {
    if (std::isnan(value) || value == 0) return false;
    if (gauge_ == nullptr) return true;
    return value > 1.01 * gauge_->low.value.value() && value < 0.99 * gauge_->high.value.value();
  }

  void tell(const Row& back, Findings& findings) {
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "frozen-channels";
    d.origin = Origin::instrument;
    d.step = scene_.step_name(start_.step);
    d.channel = scene_.header.channels[static_cast<std::size_t>(channels_.front().column)].channel.name();
    d.start = start_.time;
    d.end = last_.time;
    d.line = start_.line;
    const double lasted_s = seconds(start_.time, last_.time);
    d.effect = fmt::format(
        "{} showed the same digits for {}: it or its link had stopped reading. No effect on the film",
        device_, duration_words(lasted_s));
    const double doubt_m = doubt(back);
    if (doubt_m > 0) {
      scene_.film.doubt(start_.step, doubt_m);
      d.effect +=
          fmt::format(" itself, but its energy in that time is known only to within {} of film", nm(doubt_m));
    }
    d.effect += ".";
    d.advice = fmt::format("Have the data link of {} looked at.", device_);
    finding.covers = {"rule:rotation-stall", "rule:gauges-disagree", "rule:flow-reading-off"};
    if (device_ != "optic") finding.covers.erase(finding.covers.begin());
    for (const Channel& channel : channels_) {
      finding.covers.push_back(
          scene_.header.channels[static_cast<std::size_t>(channel.column)].channel.name());
    }
    if (gauge_ != nullptr) finding.covers.emplace_back("chamber.pressure");
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings.add(std::move(finding));
  }

  // What could have happened while the supply of the cathode was not read.
  [[nodiscard]] double doubt(const Row& back) const {
    const CathodeRoles* cathode = scene_.film.roles_in_use();
    const plan::Step* step = scene_.step(start_.step);
    if (cathode == nullptr || cathode->supply->name.value != device_ || step == nullptr ||
        step->kind != plan::StepKind::sputter) {
      return 0;
    }
    const double lasted_s = seconds(start_.time, last_.time);
    const double laid_j = start_.power_w * lasted_s;
    const double counted_j =
        back.counter_j - start_.counter_j - back.power_w * seconds(last_.time, back.time);
    if (counted_j >= 0) return std::abs(counted_j - laid_j) * back.kappa_m_j;
    return std::fmax(laid_j, scene_.film.rated_w() * lasted_s - laid_j) * back.kappa_m_j;
  }

  const Scene& scene_;
  std::string device_;
  const plan::Gauge* gauge_ = nullptr;
  std::vector<Channel> channels_;
  bool frozen_ = false;
  double rows_ = 0;     // without a change so far
  double longest_ = 0;  // such stretch in this step that was none
  Row start_, last_;
};

// Two gauges that both should be right and are further apart than their accuracies allow.
class DisagreementWatch final : public Watch {
 public:
  DisagreementWatch(const Scene& scene, std::size_t a, std::size_t b) : scene_(scene), a_(a), b_(b) {}

  void row(const Row& row, Findings& findings) override {
    const double a = scene_.pressure.true_pressure_pa(a_, row);
    const double b = scene_.pressure.true_pressure_pa(b_, row);
    const double apart = std::abs(std::log(a / b));
    const double allowed = 3 * std::hypot(scene_.pressure.relative_uncertainty(a_, a),
                                          scene_.pressure.relative_uncertainty(b_, b)) +
                           std::log(1.1);
    // Right after gas was let in or shut off nobody knows what the vessel holds.
    if ((row.gas_mol_s > 0) != flowing_) changed_ = row.time;
    flowing_ = row.gas_mol_s > 0;
    const bool off = a > 0 && b > 0 && apart > allowed && seconds(changed_, row.time) > mixed_s;
    if (off && row.step == row.step_before) {
      if (!off_) start_ = row;
      off_ = true;
      ++rows_;
      last_ = row;
      if (apart > worst_) {
        worst_ = apart;
        a_pa_ = a;
        b_pa_ = b;
      }
    } else if (off_) {
      tell(findings);
    }
  }

  void finish(const Row& /*last*/, Findings& findings) override {
    if (off_) tell(findings);
  }

 private:
  void tell(Findings& findings) {
    const double lasted_s = seconds(start_.time, last_.time);
    off_ = false;
    worst_ = 0;
    const bool enough = rows_ >= 10 && lasted_s >= 60;
    rows_ = 0;
    if (!enough) return;
    const std::string& a = scene_.roles.gauges[a_].gauge->name.value;
    const std::string& b = scene_.roles.gauges[b_].gauge->name.value;
    Deviation d;
    d.rule = "gauges-disagree";
    d.origin = Origin::instrument;
    d.step = scene_.step_name(start_.step);
    d.channel = a + ".pressure";
    d.start = start_.time;
    d.end = last_.time;
    d.line = start_.line;
    const Unit& mbar = unit("mbar", Kind::pressure);
    d.unit = mbar;
    d.worst = in(Pressure::from_value(a_pa_), mbar);
    d.effect = fmt::format(
        "{} says {} where {} says {} (both as true pressure): further apart than their accuracies. No effect "
        "on the film.",
        a, brief(Pressure::from_value(a_pa_), mbar, 2), b, brief(Pressure::from_value(b_pa_), mbar, 2));
    d.advice = "Have both gauges checked; until then trust neither near this pressure.";
    findings.add(std::move(d));
  }

  const Scene& scene_;
  std::size_t a_, b_;
  bool off_ = false, flowing_ = false;
  Instant changed_;
  double rows_ = 0, worst_ = 0, a_pa_ = 0, b_pa_ = 0;
  Row start_, last_;
};

// A gauge that changes its reading by a factor from one row to the next and back again later: the
// vessel cannot do that, a range switch can.
class JumpWatch final : public Watch {
 public:
  JumpWatch(const Scene& scene, std::size_t gauge) : scene_(scene), gauge_(gauge) {}

  void row(const Row& row, Findings& findings) override {
    const double now = scene_.pressure.true_pressure_pa(gauge_, row);
    const bool quiet =
        !row.gap && row.step == row.step_before && row.gas_mol_s <= 0 && row.step_age_s > 10 * row.period_s;
    const double factor = now / before_pa_;
    if (quiet && (factor > 1.6 || factor < 1 / 1.6)) {
      if (jumped_ && std::abs(std::log(factor * factor_)) < 0.3 && row.step == start_.step) {
        tell(row, findings);
        jumped_ = false;
      } else {
        jumped_ = true;
        start_ = row;
        factor_ = factor;
      }
    }
    if (row.step != row.step_before) jumped_ = false;
    before_pa_ = now;
  }

 private:
  void tell(const Row& back, Findings& findings) const {
    const std::string& name = scene_.roles.gauges[gauge_].gauge->name.value;
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "gauge-jump";
    d.origin = Origin::instrument;
    d.step = scene_.step_name(back.step);
    d.channel = name + ".pressure";
    d.start = start_.time;
    d.end = back.time;
    d.line = start_.line;
    d.unit = unit("ratio", Kind::ratio);
    d.worst = factor_;
    d.effect = fmt::format(
        "{} jumped by a factor {:.2g} from one row to the next and back {} later: a change of its range or "
        "emission, not of the vacuum. No effect on the film.",
        name, factor_, duration_words(seconds(start_.time, back.time)));
    d.advice = fmt::format("Have the range switching of {} looked at.", name);
    finding.covers = {d.channel, "chamber.pressure", "rule:gauges-disagree"};
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings.add(std::move(finding));
  }

  const Scene& scene_;
  std::size_t gauge_;
  double before_pa_ = no_value, factor_ = 1;
  bool jumped_ = false;
  Row start_;
};

}  // namespace

void watch_frozen(const Scene& scene, Watches& watches) {
  std::map<std::string, std::unique_ptr<FrozenWatch>> devices;
  for (std::size_t c = 0; c < scene.header.channels.size(); ++c) {
    const log::ChannelInfo& info = scene.header.channels[c];
    if (info.text || info.channel.what == plan::What::index || info.channel.what == plan::What::temperature)
      continue;
    auto& device = devices[info.channel.device];
    if (!device) device = std::make_unique<FrozenWatch>(scene, info.channel.device);
    device->watch(static_cast<int>(c));
  }
  for (auto& [name, device] : devices) watches.push_back(std::move(device));
}

void watch_gauges(const Scene& scene, Watches& watches) {
  // Gauges of one kind and range are twins on two vessels, or spares: nothing says they should agree.
  const auto twins = [](const plan::Gauge& a, const plan::Gauge& b) {
    return a.kind == b.kind && a.low.value == b.low.value && a.high.value == b.high.value;
  };
  for (std::size_t a = 0; a < scene.roles.gauges.size(); ++a) {
    if (scene.roles.gauges[a].pressure < 0) continue;
    watches.push_back(std::make_unique<JumpWatch>(scene, a));
    for (std::size_t b = a + 1; b < scene.roles.gauges.size(); ++b) {
      if (scene.roles.gauges[b].pressure < 0 ||
          twins(*scene.roles.gauges[a].gauge, *scene.roles.gauges[b].gauge))
        continue;
      watches.push_back(std::make_unique<DisagreementWatch>(scene, a, b));
    }
  }
}

}  // namespace vacuary::run
