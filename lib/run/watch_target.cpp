// The target's voltage: at constant power it is all that tells a clean target from an oxidised one.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double lit_share = 0.9;      // of the setpoint
constexpr double start_window_s = 30;  // low from here on: the target was not conditioned
constexpr double shortest_s = 5;
constexpr double slope_span_s = 60;
constexpr double slope_k = 3;  // standard errors of the slope that are allowed for its noise
// Oxide that is being sputtered off recovers within a quarter of an hour (common practice: 3 to 15 min
// to 95 %), so by more than a share of 1/900 s of what is missing. What stays low for a minute and more
// without that is fed by something: water, or gas.
constexpr double slowest_recovery_per_s = 1.0 / 900;
constexpr double recovery_needs_s = 45;

class TargetWatch final : public Watch {
 public:
  explicit TargetWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    if (row.step != step_) {
      leave(findings);
      step_ = row.step;
    }
    const plan::Step* step = scene_.step(row.step);
    if (!burns(step) || !lit(row, *step)) return;
    if (step->kind == plan::StepKind::presputter) {
      slope_.add(seconds(origin(row), row.time), row.voltage_v, row.line);
      last_ = row;
    }
    if (step->kind == plan::StepKind::sputter) hold_against_band(row, findings);
  }

  void finish(const Moment& /*last*/, Findings& findings) override { leave(findings); }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    const plan::Step* step = scene_.step(first->step);
    if (!burns(step)) return end;
    if (step->kind == plan::StepKind::sputter) {
      if (outside_) return first;
      return std::find_if(first, end, [&](const Row& row) { return lit(row, *step) && outside_band(row); });
    }
    const Row* last = nullptr;
    for (const Row* row = first; row != end; ++row) {
      if (!lit(*row, *step)) continue;
      slope_.add(seconds(origin(*row), row->time), row->voltage_v, row->line);
      last = row;
    }
    if (last != nullptr) last_ = *last;
    return end;
  }

 private:
  [[nodiscard]] bool burns(const plan::Step* step) const {
    return step != nullptr && step->power && scene_.film.roles_in_use() != nullptr &&
           (step->kind == plan::StepKind::sputter || step->kind == plan::StepKind::presputter);
  }
  // At full power, with a voltage.
  [[nodiscard]] static bool lit(const Row& row, const plan::Step& step) {
    return row.power_w > lit_share * step.power->value.value() && !std::isnan(row.voltage_v);
  }
  [[nodiscard]] double off_v(const Row& row) const {
    return row.smooth_v - scene_.film.roles_in_use()->cathode->calibration.voltage.value.value();
  }
  [[nodiscard]] bool outside_band(const Row& row) const {
    return std::abs(off_v(row)) > scene_.film.roles_in_use()->cathode->calibration.voltage_band.value.value();
  }

  Instant origin(const Row& row) {
    if (slope_.size() == 0) origin_ = row.time;
    return origin_;
  }

  void leave(Findings& findings) {
    if (outside_) tell_band(findings);
    outside_ = false;
    const plan::Step* step = scene_.step(step_);
    if (step != nullptr && step->kind == plan::StepKind::presputter && step->settled)
      tell_slope(*step, findings);
    slope_.clear();
  }

  void tell_slope(const plan::Step& step, Findings& findings) const {
    const double slope = slope_.slope_per_s();
    const double settled = step.settled->value.value();
    if (slope_.size() < 10 || !(std::abs(slope) > settled + slope_k * slope_.slope_error_per_s())) return;
    Deviation d;
    d.rule = "target-not-settled";
    d.step = step.name.value;
    d.channel = scene_.film.roles_in_use()->supply->name.value + ".voltage";
    d.end = last_.time;
    d.start = Instant{origin_.ns + std::llround(slope_.from_s() * 1e9)};
    d.line = slope_.line();
    d.unit = step.settled->unit;
    d.worst = in(VoltageRate::from_value(slope), d.unit);
    d.limit = in(step.settled->value, d.unit);
    d.effect = fmt::format(
        "The voltage still moved by {} over the last {} behind the shutter: the target was not yet clean "
        "when the film began.",
        brief(VoltageRate::from_value(slope), d.unit, 2), duration_words(slope_.span_s()));
    d.advice = "Condition for longer, until the voltage stands.";
    findings.add(std::move(d));
  }

  void hold_against_band(const Row& row, Findings& findings) {
    if (outside_band(row)) {
      const double off = off_v(row);
      if (!outside_) {
        start_ = row;
        worst_off_v_ = 0;
        off_ = LineSums{};
      }
      // The first seconds after a restart are the supply's.
      if (seconds(start_.time, row.time) > 5) off_.add(seconds(start_.time, row.time), off);
      outside_ = true;
      inside_s_ = 0;
      if (std::abs(off) > std::abs(worst_off_v_)) worst_off_v_ = off;
      last_ = row;
    } else if (outside_) {
      inside_s_ += row.dt_s;
      if (inside_s_ > 3 * row.period_s) {
        tell_band(findings);
        outside_ = false;
      }
    }
  }

  // Low, and not on the way up.
  [[nodiscard]] bool stays_low(double lasted_s) const {
    return lasted_s > recovery_needs_s && off_.count() > 20 && off_.mean_y() < 0 &&
           off_.slope() < -off_.mean_y() * slowest_recovery_per_s;
  }

  void tell_band(Findings& findings) const {
    const double lasted_s = seconds(start_.time, last_.time);
    if (lasted_s < shortest_s) return;
    const plan::Calibration& c = scene_.film.roles_in_use()->cathode->calibration;
    const double laid_m = last_.film_m - start_.film_m;
    const bool low = worst_off_v_ < 0;
    const bool at_start = low && start_.step_age_s < start_window_s;
    const bool wet = at_start && stays_low(lasted_s);
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = wet ? "target-wet" : at_start ? "target-not-conditioned" : "target-voltage";
    d.step = scene_.step_name(step_);
    d.channel = scene_.film.roles_in_use()->supply->name.value + ".voltage";
    d.start = start_.time;
    d.end = last_.time;
    d.line = start_.line;
    d.unit = unit("V", Kind::voltage);
    d.worst = c.voltage.value.value() + worst_off_v_;
    d.limit = c.voltage.value.value() + (low ? -1 : 1) * c.voltage_band.value.value();
    d.effect = fmt::format(
        "The cathode ran {:.0f} V {} the calibrated voltage for {}; what was laid meanwhile, {} by energy "
        "alone{}, rests on "
        "no calibration.{}{}",
        std::abs(worst_off_v_), low ? "below" : "above", duration_words(lasted_s), nm(laid_m),
        of_wanted(scene_, laid_m),
        low ? " An oxidised or wet target sputters far less at the same power: these turns may be 5 to 30 % "
              "thinner "
              "(common practice)."
            : "",
        wet ? " It does not recover as a target does that is only oxidised: something keeps feeding it, most "
              "likely water from the cathode's cooling."
            : "");
    d.advice =
        wet ? "Do not strike this cathode again before its cooling has been leak-tested; measure the film "
              "before accepting it."
        : low
            ? "Measure the film before accepting it; look for water at the cathode and condition for longer."
            : "Measure the film before accepting it; look at the argon pressure and the target's wear.";
    finding.covers = {d.channel, scene_.film.roles_in_use()->supply->name.value + ".current"};
    finding.covers_from = start_.time;
    finding.covers_to = last_.time;
    findings.add(std::move(finding));
  }

  const Scene& scene_;
  int step_ = -1;
  Recent slope_{slope_span_s, 120};
  Instant origin_;
  bool outside_ = false;
  double worst_off_v_ = 0, inside_s_ = 0;
  LineSums off_;  // of the voltage against the calibrated one, while outside its band
  Moment start_, last_;
};

// Arcs by the supply's own counter. Single arcs are invisible; a burst takes power away.
class ArcWatch final : public Watch {
 public:
  explicit ArcWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    if (scene_.film.roles_in_use() == nullptr) return;
    const double count = row.at(scene_.film.roles_in_use()->arcs);
    const plan::Step* step = scene_.step(row.step);
    const bool coats = step != nullptr && step->kind == plan::StepKind::sputter;
    if (std::isnan(count)) return;
    const double more = count - count_;
    const bool usable = coats && row.step_before == row.step;
    const double rate = usable ? rate_of(more, row) : 0;
    count_ = count;
    if (rate > burst_per_s) {
      if (!burst_) {
        start_ = before_;
        arcs_ = worst_ = 0;
      }
      burst_ = true;
      calm_s_ = 0;
      arcs_ += more;
      worst_ = greater(worst_, rate);
      end_ = row;
    } else if (burst_) {
      calm_s_ += row.dt_s;
      if (calm_s_ > 5 || !coats) close(findings);
    }
    before_ = row;
  }

  void finish(const Moment& /*last*/, Findings& findings) override {
    if (burst_) close(findings);
  }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    if (burst_ || scene_.film.roles_in_use() == nullptr) return first;
    const int arcs = scene_.film.roles_in_use()->arcs;
    const plan::Step* step = scene_.step(first->step);
    const bool coats = step != nullptr && step->kind == plan::StepKind::sputter;
    const Row* counted = nullptr;
    const Row* row = first;
    for (; row != end; ++row) {
      const double count = row->at(arcs);
      if (coats && rate_of(count - count_, *row) > burst_per_s) break;
      if (std::isnan(count)) continue;
      count_ = count;
      counted = row;
    }
    if (counted != nullptr) before_ = *counted;
    return row;
  }

 private:
  static constexpr double burst_per_s = 3;

  // 0 where it cannot be told. Where several loggers write, rows are closer than the counter is read.
  [[nodiscard]] static double rate_of(double more, const Row& row) {
    return more >= 0 && row.dt_s > 0 ? more / greater(row.dt_s, row.period_s) : 0;
  }

  void close(Findings& findings) {
    burst_ = false;
    const double lasted_s = seconds(start_.time, end_.time);
    if (lasted_s < 3) return;
    Finding finding;
    Deviation& d = finding.deviation;
    const std::string& supply = scene_.film.roles_in_use()->supply->name.value;
    d.rule = "arc-burst";
    d.step = scene_.step_name(end_.step);
    d.channel = supply + ".arcs";
    d.start = start_.time;
    d.end = end_.time;
    d.line = start_.line;
    d.unit = unit("Hz", Kind::frequency);
    d.worst = worst_;
    d.limit = burst_per_s;
    const double change_m = (end_.film_m - start_.film_m) - start_.quiet_rate_m_s * lasted_s;
    d.effect = fmt::format("{:.0f} arcs in {}", arcs_, duration_words(lasted_s));
    if (!std::isnan(change_m)) {
      d.mean_change = length_estimate(change_m, 0.1 * change_m);
      d.effect += fmt::format(": {}{} mean film{}", change_m < 0 ? "-" : "+", nm(change_m),
                              of_wanted(scene_, change_m));
    }
    d.effect += ". Arcs spit droplets: expect pinholes and specks.";
    d.advice = "Look at the film under grazing light, and at the target for nodules and dust.";
    finding.covers = {supply + ".power", supply + ".voltage", supply + ".current", "rule:target-voltage"};
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings.add(std::move(finding));
  }

  const Scene& scene_;
  double count_ = no_value;
  bool burst_ = false;
  double arcs_ = 0, worst_ = 0, calm_s_ = 0;
  Moment before_, start_, end_;
};

}  // namespace

void watch_target(const Scene& scene, Watches& watches) {
  if (!scene.roles.cathodes.empty()) watches.push_back(std::make_unique<TargetWatch>(scene));
}

void watch_arcs(const Scene& scene, Watches& watches) {
  for (const CathodeRoles& roles : scene.roles.cathodes) {
    if (roles.arcs >= 0) {
      watches.push_back(std::make_unique<ArcWatch>(scene));
      return;
    }
  }
}

}  // namespace vacuary::run
