#include "rehearse/vessel.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace vacuary::rehearse {

namespace {

constexpr double atmosphere_pa = 101325;
constexpr double wall_s = 2400;          // water back to the walls
constexpr double evaporation_m3_s = 10;  // conductance from a puddle to the vessel

double molar_mass_kg(const std::string& gas) {
  static const std::vector<std::pair<std::string, double>> table = {
      {"N2", 0.0280134}, {"air", 0.0289647}, {"H2O", 0.0180153}, {"Ar", 0.039948},
      {"O2", 0.0319988}, {"H2", 0.00201588}, {"He", 0.0040026},  {"Kr", 0.083798}};
  for (const auto& [name, mass] : table) {
    if (name == gas) {
      return mass;
    }
  }
  return 0.0280134;
}

// Free-molecular conductance of an aperture, sqrt(RT / 2 pi M) per area (kinetic theory).
double aperture_m_s(const plan::Chamber& chamber, const std::string& gas) {
  const double t_k = thermodynamic(chamber.gas_temperature.value).value();
  return std::sqrt(constants::gas_j_per_mol_k * t_k / (2 * std::numbers::pi * molar_mass_kg(gas)));
}

double pump_speed(const plan::Pump& pump, const std::string& gas) {
  const plan::SpeciesSpeed* nitrogen = nullptr;
  for (const plan::SpeciesSpeed& speed : pump.speeds) {
    if (speed.gas.value == gas) {
      return speed.speed.value.value();
    }
    if (speed.gas.value == "N2" || speed.gas.value == "air") {
      nitrogen = &speed;
    }
  }
  if (nitrogen != nullptr) {
    return nitrogen->speed.value.value();
  }
  return pump.speeds.empty() ? 0 : pump.speeds.front().speed.value.value();
}

double through_valve(const plan::Chamber& chamber, const plan::Pump& pump, const std::string& gas) {
  const double speed = pump_speed(pump, gas);
  if (!pump.valve_bore || speed <= 0) {
    return speed;
  }
  const double transmission = pump.valve_transmission ? pump.valve_transmission->value.value() : 1;
  const double conductance = aperture_m_s(chamber, gas) * pump.valve_bore->value.value() * transmission;
  return 1 / (1 / speed + 1 / conductance);
}

double number_of(const plan::Pump& pump) { return std::max(1.0, pump.number.value.value()); }

}  // namespace

std::size_t Vessel::index_of(const std::string& gas) {
  const std::string name = gas == "air" ? "N2" : gas;
  const auto found = std::find(gases_.begin(), gases_.end(), name);
  if (found != gases_.end()) {
    return static_cast<std::size_t>(found - gases_.begin());
  }
  gases_.push_back(name);
  p_.push_back(0);
  return gases_.size() - 1;
}

Vessel::Vessel(const plan::Chamber& chamber, const Plant& plant, double water_at_start_pa)
    : chamber_(&chamber), plant_(&plant), volume_m3_(chamber.volume.value.value()) {
  air_ = index_of("N2");
  water_ = index_of("H2O");
  for (const plan::GasLine& line : chamber.gas_lines) {
    line_gas_.push_back(index_of(line.gas.value));
  }
  p_[air_] = atmosphere_pa - water_at_start_pa;
  p_[water_] = water_at_start_pa;
  for (const std::string& gas : gases_) {
    double speed = 0;
    for (const plan::Pump& pump : chamber.pumps) {
      speed +=
          pump.kind == plan::PumpKind::roughing ? 0 : number_of(pump) * through_valve(chamber, pump, gas);
    }
    high_vacuum_.push_back(speed * plant.cryo_gain);
  }
  for (const plan::Pump& pump : chamber.pumps) {
    if (pump.kind == plan::PumpKind::roughing && pump.ultimate) {
      ultimate_pa_ = pump.ultimate->value.value();
    }
  }
}

double Vessel::total_pa() const {
  double sum = 0;
  for (const double p : p_) {
    sum += p;
  }
  return sum;
}

double Vessel::gas_pa(const std::string& gas) const {
  for (std::size_t i = 0; i < gases_.size(); ++i) {
    if (gases_[i] == gas) {
      return p_[i];
    }
  }
  return 0;
}

double Vessel::roughing_speed(double total_pa) const {
  double sum = 0;
  for (const plan::Pump& pump : chamber_->pumps) {
    if (pump.kind != plan::PumpKind::roughing || pump.stages.empty()) {
      continue;
    }
    double speed = pump.stages.front().speed.value.value();
    for (const plan::SpeedStage& stage : pump.stages) {
      if (total_pa <= stage.below.value.value()) {
        speed = stage.speed.value.value();
      }
    }
    sum += number_of(pump) * speed;
  }
  return sum * plant_->roughing_gain;
}

double Vessel::outgassing(double pumped_s) const {
  double sum = 0;
  for (std::size_t i = 0; i < chamber_->surfaces.size(); ++i) {
    const plan::Surface& surface = chamber_->surfaces[i];
    const MolarFlow flow = surface.outgassing_1h.value * surface.area.value;
    const double at_1h = throughput(flow, chamber_->gas_temperature.value).pa_m3_per_s();
    sum += plant_->outgassing_gain[i] * at_1h *
           std::pow((pumped_s + 60) / 3600, -surface.exponent.value.value());
  }
  return sum;
}

void Vessel::tick(double dt_s, const Valves& valves, const Inflow& in) {
  const double total = total_pa();
  if (valves.roughing > 0 || valves.high_vacuum > 0 || pumped_s_ > 0) {
    pumped_s_ += dt_s;
  }
  const double roughing = roughing_speed(total) * valves.roughing * valves.throttle;
  std::vector<double> inflow(p_.size());
  std::vector<double> speed(p_.size());
  for (std::size_t i = 0; i < p_.size(); ++i) {
    const double gain = (i == water_ ? 1 : in.cryo_gain) * (gases_[i] == "Ar" ? in.argon_gain : 1);
    speed[i] = roughing + high_vacuum_[i] * valves.high_vacuum * valves.throttle * gain;
  }
  // The leak is driven by what the vessel lacks to the atmosphere outside.
  const double drive = std::max(0.0, 1 - total / atmosphere_pa);
  inflow[air_] = roughing * ultimate_pa_ + in.vent + drive * (plant_->leak_pa_m3_per_s + in.air);
  inflow[water_] = in.water;
  if (valves.high_vacuum > 0 || total < 1000) {
    inflow[water_] += outgassing(pumped_s_) * in.outgassing_gain * in.desorption;
  }
  // A puddle boils once the vessel is near its vapour pressure; before, air keeps the vapour in place.
  if (liquid_pa_m3_ > 0 && in.vapour_pa > p_[water_] && total < 1.5 * in.vapour_pa) {
    const double evaporated = evaporation_m3_s * (in.vapour_pa - p_[water_]) *
                              (1 - std::exp(-evaporation_m3_s * dt_s / volume_m3_)) /
                              (evaporation_m3_s * dt_s / volume_m3_);
    inflow[water_] += evaporated;
    liquid_pa_m3_ -= evaporated * dt_s;
  }
  for (std::size_t i = 0; i < line_gas_.size() && i < in.gas.size(); ++i) {
    inflow[line_gas_[i]] += in.gas[i];
  }
  speed[water_] += volume_m3_ / wall_s;
  for (std::size_t i = 0; i < p_.size(); ++i) {
    const double x = speed[i] * dt_s / volume_m3_;
    const double decay = std::exp(-x);
    const double gained = x > 1e-9 ? (1 - decay) / x : 1;
    p_[i] = p_[i] * decay + inflow[i] * dt_s / volume_m3_ * gained;
  }
}

}  // namespace vacuary::rehearse
