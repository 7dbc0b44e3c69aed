#include "rehearse/machine.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace vacuary::rehearse {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double humidity_pa = 1200;  // water in the air of the vessel when the door shuts
constexpr double out_below_pa = 0.1;  // a magnetron discharge goes out
constexpr double shutter_s = 2;       // travel
constexpr double valve_s = 3;
constexpr double throttle_s = 4;
constexpr double flow_s = 0.7;  // lag of a mass-flow controller
constexpr double spin_rad_s2 = 2 * pi / 60 * 0.1;
constexpr double cryo_alarm_k = 17;        // of a second stage; common practice
constexpr double film_loss_per_v = 0.003;  // of oxide on the target: 100 V low costs 30 % of the film

double towards(double now, double wanted, double step) {
  return now < wanted ? std::min(wanted, now + step) : std::max(wanted, now - step);
}

double lagged(double now, double wanted, double dt_s, double lag_s) {
  return wanted + (now - wanted) * std::exp(-dt_s / lag_s);
}

// Share of the sputtered atoms that reach the optic (Keller and Simmons, IBM J. Res. Dev. 23, 24,
// 1979): F = (p0d0/pd)(1 - exp(-pd/p0d0)).
double transport(double pressure_pa, double distance_m, double p0d0_pa_m) {
  const double x = pressure_pa * distance_m / p0d0_pa_m;
  return x > 1e-6 ? (1 - std::exp(-x)) / x : 1;
}

}  // namespace

Kernels::Kernels(const plan::Plan& plan, const Plant& plant) : plan_(&plan), plant_(&plant) {
  kernels_.resize(plan.chamber.cathodes.size());
}

FilmGrid Kernels::empty_film() const {
  if (!plan_->optic) {
    return {1, 2, 2, 1};
  }
  return {plan_->optic->inner_radius.value.value(), plan_->optic->outer_radius.value.value(), 22, 180};
}

const Kernel& Kernels::of(std::size_t cathode) {
  if (!kernels_[cathode]) {
    const plan::Cathode& c = plan_->chamber.cathodes[cathode];
    const CathodeTruth& truth = plant_->cathodes[cathode];
    const Built built{truth.throw_m,           truth.exponent,         truth.racetrack_inner_m,
                      truth.racetrack_outer_m, truth.shield_opening_m, truth.shield_height_m};
    kernels_[cathode] = std::make_unique<Kernel>(geometry_of(c, *plan_->optic, built), empty_film().radii_m(),
                                                 c.calibration.radius.value.value());
  }
  return *kernels_[cathode];
}

Machine::Machine(const plan::Plan& plan, const Plant& plant, Kernels& kernels, std::uint64_t seed)
    : plan_(&plan),
      plant_(&plant),
      kernels_(&kernels),
      seed_(seed),
      control_(plan),
      vessel_(plan.chamber, plant, humidity_pa),
      film_(kernels.empty_film()),
      noise_(seed, 0) {
  state_.flow_mol_s.assign(plan.chamber.gas_lines.size(), 0);
  state_.flow_shown.assign(plan.chamber.gas_lines.size(), 0);
  deviation_s_.assign(plan.chamber.gas_lines.size(), 0);
  gauge_shown_pa_.assign(plan.chamber.gauges.size(), 0);
  state_.supplies.resize(plan.chamber.supplies.size());
  state_.cathodes.resize(plan.chamber.cathodes.size());
  for (std::size_t i = 0; i < plan.chamber.cathodes.size(); ++i) {
    const plan::Cathode& cathode = plan.chamber.cathodes[i];
    state_.supplies[supply_of(cathode.supply.value)].energy_j = cathode.energy_used.value.value();
  }
  state_.optic_rad = plant.angle_at_start_rad;
  steps_.resize(plan.recipe.steps.size());
}

Machine::Noise::Noise(std::uint64_t seed, std::size_t step)
    : power(seed, "power", step),
      voltage(seed, "voltage", step),
      arcs(seed, "arcs", step),
      glow(seed, "glow", step),
      glow_arcs(seed, "glow arcs", step),
      drive(seed, "drive", step) {}

std::size_t Machine::supply_of(const std::string& name) const {
  for (std::size_t i = 0; i < plan_->chamber.supplies.size(); ++i) {
    if (plan_->chamber.supplies[i].name.value == name) {
      return i;
    }
  }
  return 0;
}

bool Machine::plasma() const {
  if (finished()) {
    return false;
  }
  const plan::StepKind kind = control_.current().kind;
  return kind == plan::StepKind::plasma_clean || kind == plan::StepKind::presputter ||
         kind == plan::StepKind::sputter || setpoint_w_ > 0 || state_.speed_rad_s > 0;
}

// The controller is led by the same gauges as the log: what is wrong with one leads it astray.
void Machine::read_gauges(const Disturbance& d) {
  const double p = vessel_.total_pa();
  for (std::size_t i = 0; i < gauge_shown_pa_.size(); ++i) {
    const std::string& name = plan_->chamber.gauges[i].name.value;
    if (std::find(d.frozen.begin(), d.frozen.end(), name) == d.frozen.end()) {
      const GaugeTruth& gauge = plant_->gauges[i];
      gauge_shown_pa_[i] = p * gauge.gain * d.gauge_gain[i] + gauge.zero_pa + d.gauge_zero_pa[i];
    }
  }
}

// By the most accurate gauge whose range holds `where_pa`.
double Machine::shown_pressure_pa(double where_pa) const {
  double shown = vessel_.total_pa();
  double best = 1e9;
  for (std::size_t i = 0; i < plan_->chamber.gauges.size(); ++i) {
    const plan::Gauge& gauge = plan_->chamber.gauges[i];
    const double accuracy = gauge.accuracy.value.value();
    if (where_pa >= gauge.low.value.value() && where_pa <= gauge.high.value.value() && accuracy < best) {
      best = accuracy;
      shown = gauge_shown_pa_[i];
    }
  }
  return shown;
}

Sight Machine::look() const {
  const Commands& c = control_.commands();
  Sight sight;
  sight.step_s = static_cast<double>(state_.ms - steps_[control_.step()].start_ms) / 1000;
  const plan::Step& step = control_.current();
  const double p = vessel_.total_pa();
  sight.pressure_pa = shown_pressure_pa(p);
  // A gauge whose zero is off may read below a pressure that lies under its range.
  if (step.end.pressure) {
    sight.for_end_pa = shown_pressure_pa(step.end.pressure->value.value());
    sight.atmosphere = p >= step.end.pressure->value.value();
  }
  if (step.power && !plan_->chamber.cathodes.empty()) {
    const std::size_t supply = supply_of(plan_->chamber.cathodes[c.cathode].supply.value);
    sight.power_share = setpoint_w_ / step.power->value.value();
    sight.energy_j = state_.supplies[supply].energy_j;
    sight.open = state_.cathodes[c.cathode].open;
  }
  sight.speed_share = c.speed_rad_s > 0 ? state_.speed_rad_s / c.speed_rad_s : 0;
  sight.drive_rad = state_.drive_rad;
  return sight;
}

void Machine::advance_step() {
  std::string why;
  if (!control_.decide(look(), why)) {
    return;
  }
  steps_[state_.step].end_ms = state_.ms;
  steps_[state_.step].why = why;
  state_.step = control_.step();
  // The noise of a step depends on the step alone, so that a fault before it leaves it as it was.
  noise_ = Noise(seed_, state_.step);
  if (!finished()) {
    steps_[state_.step].start_ms = state_.ms;
  }
}

void Machine::tick(std::int64_t dt_ms, const Disturbance& d) {
  read_gauges(d);
  advance_step();
  if (finished()) {
    return;
  }
  const double dt_s = static_cast<double>(dt_ms) / 1000;
  const double before_rad = state_.optic_rad;
  move_gas(dt_s, d);
  run_cathode(dt_s, d);
  run_glow(dt_s);
  turn(dt_s, d);
  move_shutters(dt_s, d);
  fill_vessel(dt_s, d);
  lay_film(dt_s, before_rad);
  warm(dt_s, d);
  raise_alarms(dt_s, d);
  state_.ms += dt_ms;
}

void Machine::move_gas(double dt_s, const Disturbance& d) {
  const Commands& c = control_.commands();
  Valves& v = state_.valves;
  v.roughing = towards(v.roughing, c.roughing ? 1 : 0, dt_s / valve_s);
  v.high_vacuum = towards(v.high_vacuum, c.high_vacuum ? 1 : 0, dt_s / valve_s);
  v.throttle = towards(v.throttle, c.throttle, dt_s / throttle_s);
  for (std::size_t i = 0; i < state_.flow_mol_s.size(); ++i) {
    const double full =
        plan_->chamber.gas_lines[i].full_scale.value.resolve(plan_->chamber.reference).value();
    double& shown = state_.flow_shown[i];
    shown = lagged(shown, c.flow_mol_s[i] * d.flow_gain[i], dt_s, flow_s);
    const bool shut = c.flow_mol_s[i] <= 0;
    state_.flow_mol_s[i] = std::max(0.0, shut ? shown : shown + plant_->flow_error[i] * full);
  }
}

void Machine::run_cathode(double dt_s, const Disturbance& d) {
  if (plan_->chamber.cathodes.empty()) {
    return;
  }
  const Commands& c = control_.commands();
  const plan::Cathode& cathode = plan_->chamber.cathodes[c.cathode];
  const std::size_t index = supply_of(cathode.supply.value);
  const plan::Supply& limits = plan_->chamber.supplies[index];
  const CathodeTruth& truth = plant_->cathodes[c.cathode];
  CathodeState& target = state_.cathodes[c.cathode];
  SupplyState& supply = state_.supplies[index];

  const double nominal_w = c.power_w;
  const double slope = limits.ramp_max ? limits.ramp_max->value.value() : 1e9;
  const double ramp = c.ramp_s > 0 ? std::min(slope, nominal_w / c.ramp_s) : slope;
  setpoint_w_ = nominal_w > 0 ? towards(setpoint_w_, nominal_w, ramp * dt_s) : 0;
  ripple_ = lagged(ripple_, 0, dt_s, 2) + 2e-4 * std::sqrt(dt_s) * noise_.power.normal();

  const double p = vessel_.total_pa();
  const bool burns = setpoint_w_ > 0 && p > out_below_pa && !d.supply_off && d.power_gain > 0;
  if (!burns) {
    supply.power_w = supply.voltage_v = supply.current_a = 0;
    return;
  }
  const plan::Calibration& cal = cathode.calibration;
  const double share = std::max(0.02, setpoint_w_ * d.power_gain / nominal_w);
  const double deep_v = d.oxide_v > 0 ? d.oxide_v : truth.oxide_v;
  const double clears_s = d.oxide_s > 0 ? d.oxide_s : truth.oxide_s;
  target.oxide *= std::exp(-dt_s * share / clears_s);
  // Voltage of a magnetron: weakly up as pressure falls and power rises; common practice.
  const double metal_v = cal.voltage.value.value() * truth.voltage_gain *
                         std::pow(p / cal.pressure.value.value(), -0.10) * std::pow(share, 1.0 / 9) *
                         d.voltage_gain;
  target.oxide_drop_v = deep_v * target.oxide + d.oxide_stays_v;
  supply.voltage_v =
      std::clamp(metal_v - target.oxide_drop_v + (0.5 + d.voltage_noise_v) * noise_.voltage.normal(), 50.0,
                 limits.voltage_max.value.value());
  const double wanted_w = setpoint_w_ * d.power_gain * (1 + ripple_) / plant_->meter_gain[index];
  supply.current_a = std::min(wanted_w / supply.voltage_v, limits.current_max.value.value());
  supply.power_w = supply.current_a * supply.voltage_v;
  supply.energy_j += supply.power_w * plant_->meter_gain[index] * dt_s;
  const double usual_arcs = 0.004 + 0.3 * target.oxide;
  supply.arcs += static_cast<double>(noise_.arcs.poisson((usual_arcs + d.arcs_per_s) * dt_s));
}

void Machine::run_glow(double dt_s) {
  if (!plan_->chamber.glow) {
    return;
  }
  const Commands& c = control_.commands();
  const std::size_t index = supply_of(plan_->chamber.glow->supply.value);
  SupplyState& supply = state_.supplies[index];
  glow_a_ = c.glow ? towards(glow_a_, c.glow_a, c.glow_a * dt_s / 3) : 0;
  if (glow_a_ <= 0) {
    if (!plan_->chamber.cathodes.empty() &&
        supply_of(plan_->chamber.cathodes[c.cathode].supply.value) == index) {
      return;
    }
    supply.power_w = supply.voltage_v = supply.current_a = 0;
    return;
  }
  const double wanted_pa = control_.current().pressure ? control_.current().pressure->value.value() : 1;
  const double p = std::max(vessel_.total_pa(), 0.01 * wanted_pa);
  supply.current_a = glow_a_ * (1 + 0.002 * noise_.glow.normal());
  supply.voltage_v = std::min(
      c.glow_v * std::pow(p / wanted_pa, -0.3) * std::pow(glow_a_ / c.glow_a, 0.2) + 4 * noise_.glow.normal(),
      plan_->chamber.supplies[index].voltage_max.value.value());
  supply.power_w = supply.current_a * supply.voltage_v;
  supply.energy_j += supply.power_w * plant_->meter_gain[index] * dt_s;
  supply.arcs += static_cast<double>(noise_.glow_arcs.poisson(0.01 * dt_s));
}

void Machine::turn(double dt_s, const Disturbance& d) {
  const double wanted = control_.commands().speed_rad_s;
  state_.speed_rad_s = towards(state_.speed_rad_s, wanted, spin_rad_s2 * dt_s);
  if (d.stalled) {
    return;
  }
  const double wobble = state_.speed_rad_s > 0 ? 1 + 3e-4 * noise_.drive.normal() : 1;
  const double moved = state_.speed_rad_s * wobble * dt_s;
  state_.drive_rad += moved;
  state_.optic_rad += moved * (1 - d.slip_share);
}

void Machine::move_shutters(double dt_s, const Disturbance& d) {
  const Commands& c = control_.commands();
  for (std::size_t i = 0; i < state_.cathodes.size(); ++i) {
    CathodeState& cathode = state_.cathodes[i];
    const bool open = c.open && i == c.cathode;
    cathode.opening_s = open ? cathode.opening_s + dt_s : 0;
    cathode.open = towards(cathode.open, open ? d.open_at_most : 0, dt_s / shutter_s);
    const bool late = open && cathode.opening_s < d.switch_late_s;
    cathode.open_shown = late ? 0 : cathode.open;
  }
}

void Machine::fill_vessel(double dt_s, const Disturbance& d) {
  const Temperature gas = plan_->chamber.gas_temperature.value;
  Inflow in;
  for (const double flow : state_.flow_mol_s) {
    in.gas.push_back(throughput(MolarFlow::from_value(flow), gas).pa_m3_per_s());
  }
  double film_w = 0;
  for (const plan::Cathode& cathode : plan_->chamber.cathodes) {
    film_w += state_.supplies[supply_of(cathode.supply.value)].power_w;
  }
  const bool burns = film_w > 0 || glow_a_ > 0;
  in.desorption =
      burns && plan_->chamber.plasma_desorption ? plan_->chamber.plasma_desorption->value.value() : 1;
  // The discharge buries and heats argon, so that without it the pressure is 3 % higher (common
  // practice: 1 to 3 %); the plan's speeds are those with it.
  in.argon_gain = film_w > 0 ? 1 : 0.968;
  in.air = d.air_pa_m3_s;
  in.water = d.water_pa_m3_s + (film_w > 0 ? d.water_with_power_pa_m3_s : 0);
  in.outgassing_gain = d.outgassing_gain;
  in.cryo_gain = d.cryo_gain;
  in.vapour_pa = d.vapour_pa;
  if (d.liquid_s > 0 && wet_pa_m3_ < 0) {
    wet_pa_m3_ = d.vapour_pa * vessel_.roughing_speed(d.vapour_pa) * d.liquid_s;
    vessel_.add_liquid_water(wet_pa_m3_);
  }
  if (control_.commands().vent) {
    const double rest = std::max(0.0, 1 - vessel_.total_pa() / 101325.0);
    in.vent = plan_->chamber.volume.value.value() * 101325.0 / 1000 * std::min(1.0, 0.08 + 3 * rest);
  }
  vessel_.tick(dt_s, state_.valves, in);
}

double Machine::film_per_energy(std::size_t index) const {
  const plan::Cathode& cathode = plan_->chamber.cathodes[index];
  const plan::Calibration& cal = cathode.calibration;
  const SupplyState& supply = state_.supplies[supply_of(cathode.supply.value)];
  const CathodeState& target = state_.cathodes[index];
  const double distance_m = plant_->cathodes[index].throw_m;
  const double p0d0 = cathode.p0d0.value.value() * plant_->cathodes[index].p0d0_gain;
  const double gas = transport(vessel_.total_pa(), distance_m, p0d0) /
                     transport(cal.pressure.value.value(), distance_m, p0d0);
  // Linear loss over the rated energy, 1 where it was calibrated.
  const double loss = cathode.rate_loss_over_life.value.value() / cathode.energy_rated.value.value();
  const double erosion = (1 - loss * supply.energy_j) / (1 - loss * cal.energy_used.value.value());
  // The yield of a metal grows like V^0.67 from 400 to 600 eV (Yamamura and Tawara, At. Data Nucl.
  // Data Tables 62, 149, 1996, argon on aluminium), so film per energy goes like V^-0.33. The oxide's
  // share of the voltage is counted as oxide below, not here.
  const double metal_v = std::max(100.0, supply.voltage_v + target.oxide_drop_v);
  const double yield = std::pow(metal_v / cal.voltage.value.value(), -0.33);
  return cal.film_per_energy.value.value() * plant_->cathodes[index].film_gain * gas * erosion * yield *
         std::max(0.1, 1 - film_loss_per_v * target.oxide_drop_v);
}

void Machine::lay_film(double dt_s, double before_rad) {
  for (std::size_t i = 0; plan_->optic && i < state_.cathodes.size(); ++i) {
    const SupplyState& supply = state_.supplies[supply_of(plan_->chamber.cathodes[i].supply.value)];
    const double dose_j = supply.power_w * dt_s * state_.cathodes[i].open;
    if (dose_j > 0 && i == control_.commands().cathode) {
      const double theta =
          (before_rad + state_.optic_rad) / 2 + plan_->chamber.cathodes[i].azimuth.value.value();
      film_.lay(kernels_->of(i), theta, film_per_energy(i) * dose_j);
    }
  }
}

void Machine::warm(double dt_s, const Disturbance& d) {
  double laid_w = 0;
  for (std::size_t i = 0; i < state_.cathodes.size(); ++i) {
    const double power_w = state_.supplies[supply_of(plan_->chamber.cathodes[i].supply.value)].power_w;
    state_.cathodes[i].temperature_c =
        lagged(state_.cathodes[i].temperature_c, 18 + 0.8e-3 * power_w, dt_s, 60);
    laid_w += power_w * state_.cathodes[i].open;
  }
  state_.optic_c =
      lagged(state_.optic_c, 20, dt_s, 40000) + 2.5e-8 * laid_w * dt_s + (glow_a_ > 0 ? 2e-4 * dt_s : 0);
  state_.vessel_c = lagged(state_.vessel_c, 20, dt_s, 20000) + 1e-8 * laid_w * dt_s;
  const double argon_pa_m3_s = state_.valves.high_vacuum * vessel_.gas_pa("Ar") * 3;
  state_.cryo_k = lagged(state_.cryo_k, 11.8 + 0.8 * std::min(argon_pa_m3_s, 3.0) + d.cryo_k, dt_s, 60);
}

void Machine::raise_alarms(double dt_s, const Disturbance& d) {
  const Commands& c = control_.commands();
  state_.alarm.clear();
  const auto say = [&](const std::string& text) {
    state_.alarm += (state_.alarm.empty() ? "" : "; ") + text;
  };
  if (c.power_w > 0) {
    const std::string& supply = plan_->chamber.cathodes[c.cathode].supply.value;
    const bool dark = state_.supplies[supply_of(supply)].power_w <= 0;
    if (dark && setpoint_w_ > 0) {
      say(supply + (d.supply_off ? " output off" : " no discharge"));
    }
    if (d.arcs_per_s > 3) {
      say(supply + " arc rate high");
    }
  }
  for (std::size_t i = 0; i < state_.flow_shown.size(); ++i) {
    const double wanted = c.flow_mol_s[i];
    const bool off = wanted > 0 && std::fabs(state_.flow_shown[i] / wanted - 1) > 0.05;
    deviation_s_[i] = off ? deviation_s_[i] + dt_s : 0;
    if (deviation_s_[i] > 8) {
      say(plan_->chamber.gas_lines[i].name.value + " flow deviation");
    }
  }
  if (state_.cryo_k > cryo_alarm_k) {
    for (const plan::Pump& pump : plan_->chamber.pumps) {
      if (pump.kind == plan::PumpKind::cryo) {
        say(pump.name.value + " temperature high");
      }
    }
  }
  if (state_.alarm.empty()) {
    state_.alarm = "none";
  }
}

}  // namespace vacuary::rehearse
