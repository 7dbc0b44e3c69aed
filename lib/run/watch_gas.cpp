// Gas that is missing, sags or surges while a discharge depends on it.
#include <fmt/format.h>

#include <cmath>
#include <map>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double least_tolerance = 0.03;  // of the setpoint
constexpr double short_s = 3;             // a dip no longer than this is a controller's hiccup
constexpr double shutdown_s = 5;          // gas may go off this long before the step column says so
constexpr double after_s = 30;            // pressure and voltage follow for this long
constexpr double follows_share = 0.3;     // of the flow's relative change: the pressure followed
constexpr double settle_s = 30;           // after the gas was let in, when the step states none

class GasWatch final : public Watch {
 public:
  // `earlier`: of the same line in the last step before that lets it in; nullptr: there is none.
  GasWatch(const Scene& scene, int step, const plan::GasFlow& gas, const FlowRoles& roles,
           const GasWatch* earlier)
      : scene_(scene),
        step_(step),
        gas_(gas),
        roles_(roles),
        earlier_(earlier),
        set_mol_s_(gas.flow.value.value()) {
    const double full_scale = roles.line->full_scale.value.resolve(scene.plan.chamber.reference).value();
    tolerance_ = greater(least_tolerance, 3 * roles.line->accuracy.value.value() * full_scale / set_mol_s_);
    const plan::Step& of = *scene.step(step);
    settle_s_ = of.settle ? greater(of.settle->value.value(), 0.0) : settle_s;
  }

  void row(const Row& row, Findings& findings) override {
    if (row.step != step_) {
      if (off_) close(findings, true);
      ready_ = false;
      return;
    }
    const double flow = row.at(roles_.flow);
    if (std::isnan(flow)) return;
    const double change = flow / set_mol_s_ - 1;
    if (std::abs(change) <= 0.5 * tolerance_) {
      ready_ = true;
      before_ = row;
    }
    if (!ready_ && !(row.step_age_s > settle_s_ && lit(row))) return;
    if (std::abs(change) > tolerance_) {
      if (!off_) open(row);
      if (std::abs(change) > std::abs(worst_)) worst_ = change;
      last_ = row;
    } else if (off_) {
      last_ = row;
      close(findings, false);
    }
    if (off_) follow(row);
  }

  void finish(const Moment& /*last*/, Findings& findings) override {
    if (off_) close(findings, true);
  }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    if (first->step != step_) return end;
    if (off_) return first;
    const double* flow = first->from(roles_.flow);
    const Row* as_set = nullptr;
    const Row* row = first;
    for (; row != end; ++row) {
      const double change = std::abs(flow[row - first] / set_mol_s_ - 1);
      if (change <= 0.5 * tolerance_) {
        as_set = row;
        ready_ = true;
      } else if (change > tolerance_ && (ready_ || (row->step_age_s > settle_s_ && lit(*row)))) {
        break;
      }
    }
    if (as_set != nullptr) before_ = *as_set;
    return row;
  }

 private:
  [[nodiscard]] bool lit(const Row& row) const {
    return scene_.step(step_)->cathode ? row.power_w > 0.5 * scene_.step(step_)->power->value.value() : true;
  }

  void open(const Row& row) {
    off_ = true;
    start_ = row;
    from_ = row;
    never_as_set_ = !ready_;
    if (!ready_ && failed_before()) {
      never_as_set_ = false;
      before_ = earlier_->before_;
    }
    if (!never_as_set_) from_ = before_;
    failed_ = false;
    worst_ = 0;
    lowest_pa_ = highest_pa_ = highest_v_ = no_value;
  }

  void follow(const Row& row) {
    lowest_pa_ = lesser(lowest_pa_, row.pressure_pa);
    highest_pa_ = greater(highest_pa_, row.pressure_pa);
    highest_v_ = greater(highest_v_, row.voltage_v);
  }

  // The step before ended with a reading that was off while the same flow was set: what this one shows has
  // to be held against the last row that was as set.
  [[nodiscard]] bool failed_before() const {
    return earlier_ != nullptr && earlier_->failed_ &&
           std::abs(earlier_->set_mol_s_ / set_mol_s_ - 1) < 0.5 * tolerance_;
  }

  // Did the pressure go with the flow? If not, the flow reading is what went wrong. A flow that never was as
  // set leaves nothing to hold the pressure against.
  [[nodiscard]] bool pressure_followed() const {
    if (never_as_set_ || std::isnan(from_.pressure_pa) || std::isnan(lowest_pa_)) return true;
    const double extreme = worst_ < 0 ? lowest_pa_ : highest_pa_;
    return (extreme / from_.pressure_pa - 1) / worst_ > follows_share;
  }

  void close(Findings& findings, bool at_the_end) {
    off_ = false;
    const double lasted_s = seconds(start_.time, last_.time);
    if (lasted_s < (at_the_end ? shutdown_s : short_s)) return;
    Finding finding;
    Deviation& d = finding.deviation;
    const bool instrument = !pressure_followed();
    failed_ = instrument && at_the_end;
    const bool missing = worst_ < -0.95;
    d.rule = instrument ? "flow-reading-off" : missing ? "gas-missing" : worst_ < 0 ? "gas-sag" : "gas-surge";
    d.origin = instrument ? Origin::instrument : Origin::process;
    if (missing && !instrument && !never_as_set_) d.severity = Severity::error;
    d.step = scene_.step_name(step_);
    d.channel = roles_.line->name.value + ".flow";
    d.start = start_.time;
    d.end = last_.time;
    d.line = start_.line;
    d.unit = gas_.flow.unit;
    if (d.unit.factor == 0 || d.unit.kind != Kind::flow) d.unit = usual_unit(Kind::flow);
    d.worst = flow_in(scene_, set_mol_s_ * (1 + worst_), d.unit);
    d.limit = flow_in(scene_, set_mol_s_ * (1 + (worst_ < 0 ? -tolerance_ : tolerance_)), d.unit);
    tell(d, instrument, lasted_s);
    if (!instrument) cover(finding);
    findings.add(std::move(finding));
  }

  void tell(Deviation& d, bool instrument, double lasted_s) const {
    const std::string& gas = roles_.line->name.value;
    if (instrument) {
      d.effect = fmt::format(
          "The pressure did not follow the {} flow reading, so the gas itself did not change: no effect on "
          "the film.",
          gas);
      d.advice =
          fmt::format("Have the flow controller of {} looked at; its reading is not to be trusted.", gas);
      return;
    }
    d.advice = fmt::format("Check the supply pressure and the controller of {} before the next run.", gas);
    d.effect = fmt::format("{} flow {} {:.0f} % for {}", gas, worst_ < 0 ? "down" : "up",
                           100 * std::abs(worst_), duration_words(lasted_s));
    const bool film = scene_.step(step_)->kind == plan::StepKind::sputter;
    if (never_as_set_) {
      // Nothing came before that pressure, voltage or film could be held against.
      d.effect +=
          ". It was so from the first, so that the log does not tell a wrong flow from a wrong reading.";
    } else {
      tell_what_followed(d);
      if (film) tell_film(d, lasted_s);
    }
    if (!film) d.effect += " No film is laid in this step.";
  }

  void tell_what_followed(Deviation& d) const {
    const Unit& pa = unit("Pa", Kind::pressure);
    if (!std::isnan(from_.pressure_pa) && !std::isnan(lowest_pa_)) {
      d.effect += fmt::format("; the pressure followed from {} to {}",
                              brief(Pressure::from_value(from_.pressure_pa), pa),
                              brief(Pressure::from_value(worst_ < 0 ? lowest_pa_ : highest_pa_), pa));
    }
    if (worst_ < 0 && !std::isnan(highest_v_))
      d.effect += fmt::format("; the cathode voltage rose to {:.0f} V", highest_v_);
    d.effect += ".";
  }

  void tell_film(Deviation& d, double lasted_s) const {
    const double change_m = (last_.film_m - start_.film_m) - from_.quiet_rate_m_s * lasted_s;
    if (std::isnan(change_m)) return;
    // The correction for pressure rests on an assumed transport: trusted to a third.
    d.mean_change = length_estimate(change_m, 0.33 * change_m);
    if (worst_ < 0 && change_m < 0) {
      d.effect += fmt::format(" The discharge suffered by it: -{} mean film{}.", nm(change_m),
                              of_wanted(scene_, change_m));
      return;
    }
    d.effect += fmt::format(" {} gas lets {} metal through: {}{} mean film{}.",
                            worst_ < 0 ? "Thinner" : "Denser", worst_ < 0 ? "more" : "less",
                            change_m < 0 ? "-" : "+", nm(change_m), of_wanted(scene_, change_m));
  }

  void cover(Finding& finding) const {
    const plan::Step& step = *scene_.step(step_);
    finding.covers = {roles_.line->name.value + ".flow", "chamber.pressure", "rule:target-voltage"};
    for (const GaugeRoles& gauge : scene_.roles.gauges)
      finding.covers.push_back(gauge.gauge->name.value + ".pressure");
    if (step.cathode && scene_.film.roles_in_use() != nullptr) {
      const std::string& supply = scene_.film.roles_in_use()->supply->name.value;
      finding.covers.push_back(supply + ".voltage");
      finding.covers.push_back(supply + ".current");
      finding.covers.push_back(supply + ".power");
    }
    finding.covers_from = from_.time;
    finding.covers_to = Instant{last_.time.ns + static_cast<std::int64_t>(after_s * 1e9)};
  }

  const Scene& scene_;
  int step_;
  const plan::GasFlow& gas_;
  const FlowRoles& roles_;
  const GasWatch* earlier_;
  double set_mol_s_, tolerance_ = 0, settle_s_ = 0;
  bool ready_ = false, off_ = false, never_as_set_ = false;
  bool failed_ = false;  // the step ended with a reading that was off though the gas flowed
  Moment before_;        // the last row with the flow as set
  Moment from_, start_, last_;
  double worst_ = 0, lowest_pa_ = no_value, highest_pa_ = no_value, highest_v_ = no_value;
};

}  // namespace

void watch_gas(const Scene& scene, Watches& watches) {
  std::map<const FlowRoles*, const GasWatch*> last;  // by line
  for (std::size_t s = 0; s < scene.plan.recipe.steps.size(); ++s) {
    for (const plan::GasFlow& gas : scene.plan.recipe.steps[s].gas) {
      if (!(gas.flow.value.value() > 0)) continue;
      for (const FlowRoles& roles : scene.roles.flows) {
        if (roles.flow < 0 || roles.line->name.value != gas.line.value) continue;
        const GasWatch*& earlier = last[&roles];
        auto watch = std::make_unique<GasWatch>(scene, static_cast<int>(s), gas, roles, earlier);
        earlier = watch.get();
        watches.push_back(std::move(watch));
      }
    }
  }
}

}  // namespace vacuary::run
