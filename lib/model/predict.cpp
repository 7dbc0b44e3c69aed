// What a recipe will do in its chamber, step by step.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "model/chamber_state.hpp"
#include "model/film_sum.hpp"
#include "model/model.hpp"

namespace vacuary::model {
namespace {

using plan::EndKind;
using plan::Step;
using plan::StepKind;

Duration seconds(double s) { return Duration::from_value(s); }

std::string time_text(Duration t) {
  const double s = t.value();
  if (s < 120) return fmt::format("{:.0f} s", s);
  return s < 7200 ? fmt::format("{:.1f} min", s / 60) : fmt::format("{:.2f} h", s / 3600);
}

std::string pressure_text(Pressure p) { return fmt::format("{:.3g} mbar", p.value() / 100); }

class Predictor {
 public:
  explicit Predictor(const plan::Plan& plan) : plan_(plan), chamber_(plan.chamber) {
    p_.air = chamber_.reference.standard_pressure;
  }

  Prediction run() {
    for (const Step& step : plan_.recipe.steps) {
      StepPrediction s;
      s.step = step.name.value;
      predict_step(step, s);
      note_base_pressure(step, s);
      add_time(s);
      result_.steps.push_back(std::move(s));
    }
    finish();
    return std::move(result_);
  }

 private:
  void predict_step(const Step& step, StepPrediction& s) {
    switch (step.kind) {
      case StepKind::pumpdown:
        return pumpdown(step, s);
      case StepKind::rate_of_rise:
        return rise(step, s);
      case StepKind::plasma_clean:
      case StepKind::presputter:
      case StepKind::sputter:
        return discharge(step, s);
      case StepKind::hold:
        return step.gas.empty() && step.end.kind == EndKind::pressure ? pumpdown(step, s) : hold(step, s);
      case StepKind::vent:
        return vent(step, s);
    }
  }

  // ------------------------------------------------------------ pumping

  MolarFlow leak() const { return chamber_.leak_limit ? chamber_.leak_limit->value : MolarFlow{}; }

  physics::PumpdownCase pumpdown_case(const Step& step, double walls_factor, double speed_factor) const {
    physics::PumpdownCase c;
    c.volume = chamber_.volume.value;
    c.gas = chamber_.gas_temperature.value;
    c.walls = walls(chamber_, walls_factor);
    c.leak = leak();
    c.start = p_;
    c.pumped = pumped_;
    c.longest = step.longest.value;
    if (step.end.kind == EndKind::pressure && step.end.pressure) {
      c.target = step.end.pressure->value;
    } else if (step.end.time) {
      c.longest = step.end.time->value;
    }
    const double throttle = step.throttle ? step.throttle->value.value() : 1.0;
    c.stages = stages(chamber_, pumps_of(chamber_, step), throttle * speed_factor);
    return c;
  }

  // Standard uncertainty of the time from those of walls and speeds, by running the other ends.
  double time_uncertainty_s(const Step& step, double nominal_s) const {
    const auto half_span = [&](double low_walls, double high_walls, double slow, double fast) {
      const auto time = [&](double w, double f) {
        return physics::pump_down(pumpdown_case(step, w, f)).time;
      };
      const std::optional<Duration> quick = time(low_walls, fast), late = time(high_walls, slow);
      if (quick && late) return (late->value() - quick->value()) / 2;
      return quick ? nominal_s - quick->value() : 0.0;
    };
    const double w = outgassing_uncertainty, f = speed_uncertainty;
    return std::hypot(half_span(1 - w, 1 + w, 1, 1), half_span(1, 1, 1 - f, 1 + f));
  }

  void pumpdown(const Step& step, StepPrediction& s) {
    const physics::PumpdownCase c = pumpdown_case(step, 1, 1);
    if (c.stages.empty()) {
      s.duration_why = "the chamber has no pump";
      return;
    }
    const physics::Pumpdown run = physics::pump_down(c);
    assume_pumping(s);
    note_lowest(c);
    const Duration took = run.curve.back().time;
    s.end_pressure = end_pressure(step, c, run);
    if (c.target.value() > 0 && !run.time) {
      s.duration_why = fmt::format("pumpdown by integration: {} is not reached, the lowest is {} after {}",
                                   pressure_text(c.target), pressure_text(run.lowest), time_text(took));
    } else if (c.target.value() > 0) {
      s.duration = Estimate<Duration>{took, seconds(time_uncertainty_s(step, took.value()))};
      s.duration_why = fmt::format("pumpdown by integration to {}, from {} with the walls pumped for {}",
                                   pressure_text(c.target), pressure_text(p_.total()), time_text(pumped_));
    } else {
      s.duration = Estimate<Duration>{took, seconds(0)};
      s.duration_why = "ends on time";
    }
    p_ = run.end();
    pumped_ += took;
  }

  Estimate<Pressure> end_pressure(const Step& step, const physics::PumpdownCase& c,
                                  const physics::Pumpdown& run) const {
    const Pressure end = run.end().total();
    if (run.time) {
      const auto gauge = gauge_uncertainty(chamber_, end);
      return {end, end * (gauge ? gauge->relative.value() : speed_uncertainty)};
    }
    physics::PumpdownCase more = pumpdown_case(step, 1 + outgassing_uncertainty, 1);
    physics::PumpdownCase less = pumpdown_case(step, 1 - outgassing_uncertainty, 1);
    more.target = less.target = Pressure{};
    more.longest = less.longest = c.longest;
    const Pressure half =
        (physics::pump_down(more).end().total() - physics::pump_down(less).end().total()) / 2.0;
    return {end, Pressure::from_value(std::hypot(half.value(), end.value() * speed_uncertainty))};
  }

  void assume_pumping(StepPrediction& s) const {
    s.assumed.push_back(
        fmt::format("outgassing as in the chamber file, known to {:.0f} % (standard); counted as water",
                    outgassing_uncertainty * 100));
    s.assumed.push_back(fmt::format("pumping speeds known to {:.0f} % (standard)", speed_uncertainty * 100));
    s.assumed.push_back(leak_assumed());
    if (pumped_.value() <= 0) {
      s.assumed.push_back(
          fmt::format("starts at {:.4g} mbar with dry walls; the outgassing clock starts with the pumps",
                      p_.total().value() / 100));
    }
  }

  std::string leak_assumed() const {
    return chamber_.leak_limit ? "a leak as large as the leak limit, of air"
                               : "no leak: the chamber states no limit";
  }

  void note_lowest(const physics::PumpdownCase& c) {
    if (film_seen_) return;
    const Pressure p = physics::quasi_steady(c, pumped_ + c.longest).total();
    if (result_.lowest_reachable.value() <= 0 || p < result_.lowest_reachable) result_.lowest_reachable = p;
  }

  // ------------------------------------------------------------ steps without pumping progress

  // Water and leak at the quasi-steady pressure of the last pump, throttled.
  void settle_residue(const Step& step) {
    const physics::PumpdownCase c = pumpdown_case(step, 1, 1);
    if (c.stages.empty()) return;
    const physics::PartialPressures steady = physics::quasi_steady(c, pumped_);
    p_.water = steady.water;
    p_.air = steady.air;
    p_.argon = Pressure{};
  }

  void rise(const Step& step, StepPrediction& s) {
    const Duration time = step.end.time ? step.end.time->value : step.longest.value;
    s.duration = Estimate<Duration>{time, seconds(0)};
    s.duration_why = "ends on time";
    // Simpson over the wall's load; the leak is steady.
    const Duration half = time / 2.0;
    const auto load = [&](Duration t) { return outgassing(chamber_, t); };
    const MolarFlow mean = (load(pumped_) + 4.0 * load(pumped_ + half) + load(pumped_ + time)) / 6.0;
    const auto rises = [&](MolarFlow q) {
      return Pressure::from_value(throughput(q, chamber_.gas_temperature.value).pa_m3_per_s() * time.value() /
                                  chamber_.volume.value.value());
    };
    p_.water += rises(mean);
    p_.air += rises(leak());
    s.end_pressure = Estimate<Pressure>{p_.total(), rises(mean) * outgassing_uncertainty};
    s.assumed.push_back("all valves closed; walls desorb as if pumped");
    s.assumed.push_back(leak_assumed());
    pumped_ += time;
  }

  void hold(const Step& step, StepPrediction& s) {
    if (step.end.kind != EndKind::time || !step.end.time) return end_by_turns_or_angle(step, s);
    s.duration = Estimate<Duration>{step.end.time->value, seconds(0)};
    s.duration_why = "ends on time";
    after_process(step, s, step.end.time->value);
  }

  void vent(const Step& step, StepPrediction& s) {
    if (step.end.kind == EndKind::time && step.end.time) {
      s.duration = Estimate<Duration>{step.end.time->value, seconds(0)};
      s.duration_why = "ends on time";
    } else {
      const Duration half = step.longest.value / 2.0;
      s.duration = Estimate<Duration>{half, half / std::numbers::sqrt3};
      s.duration_why =
          "no flow of the venting gas is stated: any time up to the longest allowed, half of it on average";
    }
    if (step.end.pressure) s.end_pressure = Estimate<Pressure>{step.end.pressure->value, Pressure{}};
    p_ = {};
    p_.air = chamber_.reference.standard_pressure;
    pumped_ = Duration{};
  }

  // ------------------------------------------------------------ discharge

  void discharge(const Step& step, StepPrediction& s) {
    working(step, s);
    const Ramp ramp = power_of(step, s);
    const std::optional<Estimate<Duration>> time = discharge_time(step, ramp, s);
    if (!time) {
      after_process(step, s, step.longest.value);
      return;
    }
    s.duration = time;
    if (ramp.power_w > 0) {
      const double e = step.end.kind == EndKind::energy && step.end.energy
                           ? step.end.energy->value.value()
                           : ramp.energy_j(time->value.value());
      const bool by_counter =
          step.end.kind == EndKind::energy || step.end.kind == EndKind::thickness || time->value.value() <= 0;
      const double time_u = by_counter ? 0.0 : time->standard_uncertainty.value() / time->value.value();
      const double u = std::hypot(power_accuracy(step), time_u);
      s.energy = Estimate<Energy>{Energy::from_value(e), Energy::from_value(e * u)};
    }
    count_turns(step, s);
    film(step, s);
    after_process(step, s, time->value);
  }

  void working(const Step& step, StepPrediction& s) const {
    s.working_pressure = working_pressure(chamber_, step);
    if (s.working_pressure) {
      s.assumed.push_back(
          fmt::format("working pressure from flow and throttled speed, speeds known to {:.0f} %",
                      speed_uncertainty * 100));
    }
  }

  Ramp power_of(const Step& step, StepPrediction& s) const {
    Ramp ramp;
    if (step.power) {
      ramp.power_w = step.power->value.value();
    } else if (step.voltage && step.current) {
      ramp.power_w = step.voltage->value.value() * step.current->value.value();
    }
    if (ramp.power_w <= 0) return ramp;
    if (step.ramp) ramp.ramp_s = step.ramp->value.value();
    s.power = Power::from_value(ramp.power_w);
    if (const std::optional<Area> face = powered_area(step)) s.power_density = *s.power / *face;
    return ramp;
  }

  const plan::Cathode* cathode_of(const Step& step) const {
    return step.cathode ? named(chamber_.cathodes, step.cathode->value) : nullptr;
  }

  std::optional<Area> powered_area(const Step& step) const {
    if (const plan::Cathode* c = cathode_of(step)) return c->target_length.value * c->target_width.value;
    if (step.kind == StepKind::plasma_clean && chamber_.glow) return chamber_.glow->area.value;
    return std::nullopt;
  }

  double power_accuracy(const Step& step) const {
    std::string supply;
    if (const plan::Cathode* c = cathode_of(step)) {
      supply = c->supply.value;
    } else if (chamber_.glow) {
      supply = chamber_.glow->supply.value;
    }
    const plan::Supply* found = named(chamber_.supplies, supply);
    return found != nullptr ? found->power_accuracy.value.value() : 0.0;
  }

  std::optional<Estimate<Duration>> discharge_time(const Step& step, const Ramp& ramp, StepPrediction& s) {
    switch (step.end.kind) {
      case EndKind::time:
        if (!step.end.time) break;
        s.duration_why = "ends on time";
        return Estimate<Duration>{step.end.time->value, seconds(0)};
      case EndKind::energy:
        if (!step.end.energy || ramp.power_w <= 0) break;
        s.duration_why = ramp.ramp_s > 0 ? "energy over power, with the ramp" : "energy over power";
        return of_energy(step, ramp, step.end.energy->value.value());
      case EndKind::turns:
      case EndKind::angle:
        return rotation_time(step, s);
      case EndKind::thickness:
        return thickness_time(step, ramp, s);
      case EndKind::pressure:
        break;
    }
    s.duration_why = "nothing in the step says how long this takes";
    return std::nullopt;
  }

  Estimate<Duration> of_energy(const Step& step, const Ramp& ramp, double energy_j) const {
    const double t = ramp.time_s(energy_j);
    return {seconds(t), seconds(t * power_accuracy(step))};
  }

  static std::optional<Estimate<Duration>> rotation_time(const Step& step, StepPrediction& s) {
    double angle_rad = 0;
    if (step.end.turns) angle_rad = step.end.turns->value.value() * 2 * std::numbers::pi;
    if (step.end.angle) angle_rad = step.end.angle->value.value();
    if (!step.rotation || step.rotation->value.value() <= 0) {
      s.duration_why = "ends on rotation, but the step states no rotation";
      return std::nullopt;
    }
    const double t = angle_rad / step.rotation->value.value();
    s.duration_why = "turns over rotation";
    s.assumed.push_back(
        fmt::format("rotation speed known to {:.1f} % (standard)", rotation_uncertainty * 100));
    return Estimate<Duration>{seconds(t), seconds(t * rotation_uncertainty)};
  }

  std::optional<Estimate<Duration>> thickness_time(const Step& step, const Ramp& ramp,
                                                   StepPrediction& s) const {
    const plan::Cathode* c = cathode_of(step);
    if (c == nullptr || !step.end.thickness || ramp.power_w <= 0) {
      s.duration_why = "ends on thickness, but the step states no cathode or no power";
      return std::nullopt;
    }
    const FilmPerEnergy kappa = kappa_of(step, *c, s, Energy{});
    const double energy_j = step.end.thickness->value.value() / kappa.value.value.value();
    s.duration_why = "thickness by film per energy";
    Estimate<Duration> t = of_energy(step, ramp, energy_j);
    const double relative = kappa.value.standard_uncertainty / kappa.value.value;
    t.standard_uncertainty = seconds(std::hypot(t.standard_uncertainty.value(), t.value.value() * relative));
    return t;
  }

  void end_by_turns_or_angle(const Step& step, StepPrediction& s) {
    if (step.end.kind == EndKind::turns || step.end.kind == EndKind::angle)
      s.duration = rotation_time(step, s);
    if (!s.duration && s.duration_why.empty())
      s.duration_why = "nothing in the step says how long this takes";
    count_turns(step, s);
    after_process(step, s, s.duration ? s.duration->value : step.longest.value);
  }

  static void count_turns(const Step& step, StepPrediction& s) {
    if (!s.duration || !step.rotation) return;
    if (step.end.kind == EndKind::turns && step.end.turns) {
      s.turns = Estimate<Count>{step.end.turns->value, Count::of(0)};
      return;
    }
    const double per_s = step.rotation->value.value() / (2 * std::numbers::pi);
    const double n = per_s * s.duration->value.value();
    s.turns = Estimate<Count>{
        Count::of(n),
        Count::of(std::hypot(n * rotation_uncertainty, per_s * s.duration->standard_uncertainty.value()))};
  }

  // ------------------------------------------------------------ film

  Pressure film_pressure(const Step& step, const StepPrediction& s, const plan::Cathode& c) const {
    if (step.pressure) return step.pressure->value;
    return s.working_pressure ? s.working_pressure->value : c.calibration.pressure.value;
  }

  std::string only_gas(const Step& step) const {
    if (step.gas.size() != 1) return {};
    const plan::GasLine* line = named(chamber_.gas_lines, step.gas.front().line.value);
    return line != nullptr ? line->gas.value : std::string{};
  }

  Energy used(const plan::Cathode& c) const {
    const auto found = used_.find(c.name.value);
    return c.energy_used.value + (found != used_.end() ? found->second : Energy{});
  }

  FilmPerEnergy kappa_of(const Step& step, const plan::Cathode& c, const StepPrediction& s,
                         Energy half) const {
    FilmPerEnergy kappa = film_per_energy(chamber_, c, c.calibration.voltage.value, film_pressure(step, s, c),
                                          used(c) + half, only_gas(step));
    if (!plan_.optic) return kappa;
    // From the calibration's radius to the mean over the clear area.
    const Estimate<Ratio>& mean = area_mean(c);
    const double relative = mean.standard_uncertainty.value() / mean.value.value();
    const double u = std::hypot(kappa.value.standard_uncertainty / kappa.value.value, relative);
    kappa.value.value *= mean.value.value();
    kappa.value.standard_uncertainty = kappa.value.value * u;
    kappa.budget.push_back(
        {"mean over the clear area (shape of the film)", Ratio::of(relative), Ratio::of(relative), {}});
    return kappa;
  }

  const Estimate<Ratio>& area_mean(const plan::Cathode& c) const {
    const auto known = area_mean_.find(c.name.value);
    if (known != area_mean_.end()) return known->second;
    return area_mean_.emplace(c.name.value, clear_area_mean(c, *plan_.optic)).first->second;
  }

  void film(const Step& step, StepPrediction& s) {
    const plan::Cathode* c = cathode_of(step);
    if (c == nullptr || !s.energy) return;
    if (step.kind == StepKind::sputter) lay_film(step, *c, s);
    used_[c->name.value] += s.energy->value;
  }

  void lay_film(const Step& step, const plan::Cathode& c, StepPrediction& s) {
    const FilmPerEnergy kappa = kappa_of(step, c, s, s.energy->value / 2.0);
    const Pressure p = film_pressure(step, s, c);
    const Length film = Length::from_value(kappa.value.value.value() * s.energy->value.value());
    std::vector<BudgetLine> budget = kappa.budget;
    const double energy_u = s.energy->standard_uncertainty / s.energy->value;
    budget.push_back({"energy (power and time)", Ratio::of(energy_u), Ratio::of(energy_u), {}});
    if (const auto gauge = gauge_uncertainty(chamber_, p)) {
      const double c_u = std::abs(film_pressure_sensitivity(c, p).value()) * gauge->relative.value();
      budget.push_back({fmt::format("working pressure (gauge {}, accuracy and zero)", gauge->gauge),
                        gauge->relative,
                        Ratio::of(c_u),
                        {}});
    }
    FilmSum alone;
    alone.add(film, budget);
    s.film = alone.estimate();
    film_.add(film, budget);
    film_seen_ = true;
    s.assumed.push_back(
        fmt::format("cathode voltage as calibrated, {:.0f} V", c.calibration.voltage.value.value()));
    s.assumed.insert(s.assumed.end(), kappa.assumed.begin(), kappa.assumed.end());
    if (!kappa.claimable) s.assumed.push_back("no thickness may be claimed: " + kappa.why_not);
    s.assumed.insert(s.assumed.end(), kappa.doubts.begin(), kappa.doubts.end());
  }

  // ------------------------------------------------------------ bookkeeping

  // Residues while gas flows, and the gas itself, as the next step finds them.
  void after_process(const Step& step, StepPrediction& s, Duration took) {
    pumped_ += took;
    settle_residue(step);
    if (const std::optional<WorkingGas> gas = working_gas(chamber_, step)) {
      p_.argon = gas->p.argon;
      p_.air += gas->p.air - gas->ultimate;  // settle_residue has it already
    }
    s.end_pressure = Estimate<Pressure>{p_.total(), p_.total() * speed_uncertainty};
  }

  void note_base_pressure(const Step& step, const StepPrediction& s) {
    if (film_seen_ || !s.end_pressure || !step.gas.empty() || step.kind == StepKind::vent) return;
    if (!result_.base_pressure || s.end_pressure->value < result_.base_pressure->value) {
      result_.base_pressure = s.end_pressure;
    }
  }

  // Pumpdowns share the walls' and pumps' uncertainty, so their uncertainties add.
  void add_time(const StepPrediction& s) {
    if (!s.duration) {
      endless_ = true;
      return;
    }
    total_s_ += s.duration->value.value();
    total_u_s_ += s.duration->standard_uncertainty.value();
  }

  void finish() {
    if (!endless_) result_.total = Estimate<Duration>{seconds(total_s_), seconds(total_u_s_)};
    if (!film_seen_) return;
    result_.film = film_.estimate();
    result_.film_budget = film_.budget();
  }

  const plan::Plan& plan_;
  const plan::Chamber& chamber_;
  physics::PartialPressures p_;
  Duration pumped_{};
  std::map<std::string, Energy> used_;
  mutable std::map<std::string, Estimate<Ratio>> area_mean_;  // costs some 50 ms to work out
  FilmSum film_;
  bool film_seen_ = false;
  bool endless_ = false;
  double total_s_ = 0, total_u_s_ = 0;
  Prediction result_;
};

}  // namespace

Prediction predict(const plan::Plan& plan) {
  Prediction prediction = Predictor(plan).run();
  add_quality(plan, prediction);
  return prediction;
}

}  // namespace vacuary::model
