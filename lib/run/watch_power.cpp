// Trips: the power breaks down while it should be on, and comes back.
#include <fmt/format.h>

#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double out_share = 0.5;    // of the setpoint: below it the power is out
constexpr double back_share = 0.95;  // and back again
constexpr double restart_s = 40;     // voltage and pressure take this long to settle after a restart

class PowerWatch final : public Watch {
 public:
  explicit PowerWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    const plan::Step* step = scene_.step(row.step);
    const bool on_duty = burns(step);
    if (!on_duty || row.step != step_) {
      // What never comes back is the end of the step; why it ended is told elsewhere.
      reached_ = out_ = false;
      least_w_ = no_value;
      step_ = row.step;
      if (!on_duty) return;
    }
    if (std::isnan(row.power_w)) return;
    const double setpoint_w = step->power->value.value();
    if (row.power_w >= back_share * setpoint_w) {
      if (out_) tell(row, findings);
      out_ = false;
      reached_ = true;
      before_ = row;
      return;
    }
    if (!reached_) return;
    if (row.power_w < out_share * setpoint_w) {
      if (!out_) first_ = row;
      out_ = true;
      least_w_ = lesser(least_w_, row.power_w);
      last_ = row;
    } else if (!out_) {
      least_w_ = no_value;
    }
  }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    const plan::Step* step = scene_.step(first->step);
    if (!burns(step)) return end;
    if (out_) return first;
    const double setpoint_w = step->power->value.value();
    const Row* full = nullptr;
    const Row* row = first;
    for (; row != end; ++row) {
      if (row->power_w >= back_share * setpoint_w) {
        full = row;
        reached_ = true;
      } else if (reached_ && row->power_w < out_share * setpoint_w) {
        break;
      } else if (reached_ && !std::isnan(row->power_w)) {
        least_w_ = no_value;
      }
    }
    if (full != nullptr) before_ = *full;
    return row;
  }

 private:
  [[nodiscard]] bool burns(const plan::Step* step) const {
    return step != nullptr && step->power && scene_.film.roles_in_use() != nullptr &&
           (step->kind == plan::StepKind::sputter || step->kind == plan::StepKind::presputter);
  }

  void tell(const Moment& back, Findings& findings) {
    Finding finding;
    Deviation& d = finding.deviation;
    const CathodeRoles& cathode = *scene_.film.roles_in_use();
    const plan::Step& step = *scene_.step(step_);
    const Unit& kw = unit("kW", Kind::power);
    d.rule = "power-interruption";
    d.step = step.name.value;
    d.channel = cathode.supply->name.value + ".power";
    d.start = first_.time;
    d.end = back.time;
    d.line = first_.line;
    d.unit = kw;
    d.worst = least_w_ / 1e3;
    d.limit = step.power->value.value() / 1e3;
    d.integral = missing_j(back) / 1e3;
    if (step.kind == plan::StepKind::sputter) {
      tell_film(back, d);
    } else {
      d.severity = Severity::note;
      d.effect = "Behind the shutter: nothing is missing from the film.";
      d.advice = "See that the voltage had settled again before the shutter opened.";
    }
    cover(cathode, back, finding);
    findings.add(std::move(finding));
    least_w_ = no_value;
  }

  [[nodiscard]] double missing_j(const Moment& back) const {
    return scene_.step(step_)->power->value.value() * seconds(before_.time, back.time) -
           (back.film_m - before_.film_m) / back.kappa_m_j;
  }

  void tell_film(const Moment& back, Deviation& d) const {
    const double rate = std::isnan(before_.quiet_rate_m_s)
                            ? scene_.step(step_)->power->value.value() * back.kappa_m_j
                            : before_.quiet_rate_m_s;
    const double lost_m = rate * seconds(before_.time, back.time) - (back.film_m - before_.film_m);
    const double outage_s = seconds(first_.time, last_.time) + back.period_s;
    d.mean_change = length_estimate(-lost_m, rate * back.period_s / std::sqrt(6.0));
    d.effect = fmt::format("Power out for {} and back to full after {}: {} less mean film{}.",
                           duration_words(outage_s), duration_words(seconds(first_.time, back.time)),
                           nm(lost_m), of_wanted(scene_, lost_m));
    if (scene_.step(step_)->end.kind == plan::EndKind::energy) {
      d.effect += " The step ends by energy, so the mean was made up for afterwards; the thin place was not.";
      d.mean_change = length_estimate(0, rate * back.period_s / std::sqrt(6.0));
    }
    d.advice =
        fmt::format("Look through the film at a lamp there; find the supply's own fault record for {}.",
                    to_rfc3339(first_.time));
  }

  void cover(const CathodeRoles& cathode, const Moment& back, Finding& finding) const {
    const std::string& supply = cathode.supply->name.value;
    finding.covers = {supply + ".power",  supply + ".voltage",   supply + ".current",
                      "chamber.pressure", "rule:target-voltage", "rule:frozen-channels"};
    for (const GaugeRoles& gauge : scene_.roles.gauges)
      finding.covers.push_back(gauge.gauge->name.value + ".pressure");
    finding.covers_from = before_.time;
    finding.covers_to = Instant{back.time.ns + static_cast<std::int64_t>(restart_s * 1e9)};
  }

  const Scene& scene_;
  int step_ = -1;
  bool reached_ = false, out_ = false;
  Moment before_, first_, last_;
  double least_w_ = no_value;
};

}  // namespace

void watch_power(const Scene& scene, Watches& watches) {
  if (!scene.roles.cathodes.empty()) watches.push_back(std::make_unique<PowerWatch>(scene));
}

}  // namespace vacuary::run
