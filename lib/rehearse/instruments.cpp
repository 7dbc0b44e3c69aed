#include "rehearse/instruments.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace vacuary::rehearse {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double kwh_j = 3.6e6;

// The largest power of ten that is at most a part in `parts` of the full scale.
double quantum_of(double full_scale, double parts) {
  return std::pow(10, std::floor(std::log10(full_scale / parts)));
}

std::string fixed(double value, double quantum) {
  const double rounded = std::round(value / quantum) * quantum;
  const int decimals = std::max(0, static_cast<int>(std::ceil(-std::log10(quantum) - 1e-9)));
  std::string text = fmt::format("{:.{}f}", rounded, decimals);
  const bool zero = text.find_first_of("123456789") == std::string::npos;
  return zero ? "0" : text;
}

// Three significant digits, the way a gauge's display shows them: 1010, 34.6, 0.352, 3.46e-7.
std::string three_digits(double value) {
  if (value == 0) {
    return "0";
  }
  const int decade = static_cast<int>(std::floor(std::log10(std::fabs(value))));
  if (decade >= -1 && decade < 5) {
    return fixed(value, std::pow(10, decade - 2));
  }
  std::string text = fmt::format("{:.2e}", value);  // 3.46e-07
  const std::size_t exponent = text.find('e') + 2;
  while (text[exponent] == '0') {
    text.erase(exponent, 1);
  }
  return text;
}

// A gas's relative sensitivity as the gauge's maker states it; nitrogen and what is not stated 1.
double sensitivity(const plan::Gauge& gauge, const std::string& gas) {
  for (const plan::GasFactor& factor : gauge.gas_factors) {
    if (factor.gas.value == gas) {
      return factor.relative_sensitivity.value.value();
    }
  }
  return 1;
}

double sensed_pa(const plan::Gauge& gauge, const Vessel& vessel) {
  if (gauge.reads == plan::GaugeReads::true_pressure) {
    return vessel.total_pa();
  }
  double sum = 0;
  for (std::size_t i = 0; i < vessel.gases().size(); ++i) {
    sum += vessel.pressures_pa()[i] * sensitivity(gauge, vessel.gases()[i]);
  }
  return sum;
}

// Thermal gauges are adjusted at atmosphere: what is left of the error there is a fifth.
double gain_at(const plan::Gauge& gauge, double gain, double pressure_pa) {
  if (gauge.kind != plan::GaugeKind::thermal || pressure_pa < 1000) {
    return gain;
  }
  return std::pow(gain, 1 - 0.8 * std::min(1.0, std::log10(pressure_pa / 1000) / 2));
}

}  // namespace

Instruments::Instruments(const plan::Plan& plan, const Plant& plant, std::uint64_t seed)
    : plan_(&plan), plant_(&plant), seed_(seed) {
  ion_on_.assign(plan.chamber.gauges.size(), false);
  add("run", 100, 0, &Instruments::read_plant,
      {{.header = "run.step", .text = true}, {.header = "plant.alarm", .text = true}});
  add_gauges();
  add_gas_and_supplies();
  add_cathodes_and_optic();
  add_rest();
  last_turns_ = plant.angle_at_start_rad / (2 * pi);
}

void Instruments::add(const std::string& device, std::int64_t period_ms, std::size_t index,
                      void (Instruments::*read)(const Machine&, const Disturbance&, std::size_t, std::size_t),
                      std::vector<Column> columns) {
  devices_.push_back({device, period_ms, 0, columns_.size(), read, index, Random(seed_, "device " + device)});
  for (Column& column : columns) {
    columns_.push_back(std::move(column));
  }
}

void Instruments::add_gauges() {
  for (std::size_t i = 0; i < plan_->chamber.gauges.size(); ++i) {
    const plan::Gauge& gauge = plan_->chamber.gauges[i];
    const bool capacitance = gauge.kind == plan::GaugeKind::capacitance;
    const std::int64_t period_ms = capacitance ? 100 : gauge.kind == plan::GaugeKind::ion ? 500 : 1000;
    const Unit& unit = gauge.high.unit;
    const double quantum = capacitance ? quantum_of(gauge.high.value.value() / unit.factor, 60000) : 0;
    add(gauge.name.value, period_ms, i, &Instruments::read_gauge,
        {{.header = fmt::format("{}.pressure [{}]", gauge.name.value, unit.symbol), .quantum = quantum}});
  }
}

void Instruments::add_gas_and_supplies() {
  const plan::Chamber& chamber = plan_->chamber;
  for (std::size_t i = 0; i < chamber.gas_lines.size(); ++i) {
    const auto& full = chamber.gas_lines[i].full_scale;
    add(chamber.gas_lines[i].name.value, 200, i, &Instruments::read_flow,
        {{.header = fmt::format("{}.flow [{}]", chamber.gas_lines[i].name.value, full.unit.symbol),
          .quantum = quantum_of(full.value.value_si / full.unit.factor, 1000)}});
  }
  for (std::size_t i = 0; i < chamber.supplies.size(); ++i) {
    const plan::Supply& s = chamber.supplies[i];
    const std::string& n = s.name.value;
    add(n, 100, i, &Instruments::read_supply,
        {{.header = fmt::format("{}.power [{}]", n, s.power_max.unit.symbol),
          .quantum = quantum_of(s.power_max.value.value() / s.power_max.unit.factor, 10000)},
         {.header = fmt::format("{}.voltage [{}]", n, s.voltage_max.unit.symbol),
          .quantum = quantum_of(s.voltage_max.value.value() / s.voltage_max.unit.factor, 2000)},
         {.header = fmt::format("{}.current [{}]", n, s.current_max.unit.symbol),
          .quantum = quantum_of(s.current_max.value.value() / s.current_max.unit.factor, 1000)},
         {.header = fmt::format("{}.energy [kWh]", n), .quantum = 0.001},
         {.header = fmt::format("{}.arcs", n), .quantum = 1}});
  }
}

void Instruments::add_cathodes_and_optic() {
  for (std::size_t i = 0; i < plan_->chamber.cathodes.size(); ++i) {
    const std::string& n = plan_->chamber.cathodes[i].name.value;
    add(n, 100, i, &Instruments::read_cathode,
        {{.header = n + ".open [%]", .quantum = 1}, {.header = n + ".temperature [degC]", .quantum = 0.1}});
  }
  if (plan_->optic && plan_->chamber.rotation_max) {
    index_column_ = columns_.size() + 2;
    has_index_ = true;
    add("optic", 100, 0, &Instruments::read_optic,
        {{.header = "optic.angle [deg]", .quantum = 0.1},
         {.header = "optic.speed [rpm]", .quantum = 0.001},
         {.header = "optic.index", .quantum = 1}});
  }
  if (plan_->optic) {
    add("optic-thermocouple", 10000, 0, &Instruments::read_optic_temperature,
        {{.header = "optic.temperature [degC]", .quantum = 0.1},
         {.header = "vessel.temperature [degC]", .quantum = 0.1}});
  }
}

void Instruments::add_rest() {
  for (std::size_t i = 0; i < plan_->chamber.pumps.size(); ++i) {
    const plan::Pump& pump = plan_->chamber.pumps[i];
    std::vector<Column> columns = {{.header = pump.name.value + ".state", .text = true}};
    if (pump.kind == plan::PumpKind::cryo) {
      columns.push_back({.header = pump.name.value + ".temperature [K]", .quantum = 0.1});
    }
    add(pump.name.value, 1000, i, &Instruments::read_pump, std::move(columns));
  }
}

void Instruments::observe(const Machine& machine, const Disturbance& d) {
  const State& state = machine.state();
  if (state.step != noise_step_) {
    noise_step_ = state.step;
    for (Device& device : devices_) {
      device.noise = Random(seed_, "device " + device.name, noise_step_);
    }
  }
  // A pulse between two rows must not be lost: it is kept until a row has shown it.
  const double turns = state.optic_rad / (2 * pi);
  const bool frozen_optic = std::find(d.frozen.begin(), d.frozen.end(), "optic") != d.frozen.end();
  if (has_index_ && std::floor(turns) != std::floor(last_turns_) && !frozen_optic) {
    set(index_column_, 1);
  }
  last_turns_ = turns;
  for (Device& device : devices_) {
    if (state.ms < device.next_ms) {
      continue;
    }
    device.next_ms = (state.ms / device.period_ms + 1) * device.period_ms;
    if (std::find(d.frozen.begin(), d.frozen.end(), device.name) == d.frozen.end()) {
      noise_ = &device.noise;
      (this->*device.read)(machine, d, device.index, device.first);
    }
  }
}

void Instruments::set(std::size_t column, double value) {
  columns_[column].value = value;
  columns_[column].has_value = true;
}

void Instruments::read_gauge(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first) {
  const plan::Gauge& gauge = plan_->chamber.gauges[index];
  const double p = sensed_pa(gauge, m.vessel());
  const double low = gauge.low.value.value();
  const double high = gauge.high.value.value();
  double reading = p * gain_at(gauge, plant_->gauges[index].gain * d.gauge_gain[index], p) +
                   plant_->gauges[index].zero_pa + d.gauge_zero_pa[index];
  const double n = noise_->normal();
  if (gauge.kind == plan::GaugeKind::capacitance) {
    reading += 3e-5 * high * n;
    reading = std::min(reading, 1.05 * high);  // its amplifier saturates
  } else if (gauge.kind == plan::GaugeKind::thermal) {
    reading = (reading + 0.5 * low) * (1 + 0.004 * n) - 0.5 * low + 0.01 * low * n;
    reading = std::clamp(reading, 0.1 * low, 1.2 * high);
  } else {
    // The filament is off above its limit, and on again well below.
    const double off_above = gauge.off_above ? gauge.off_above->value.value() : 1e9;
    ion_on_[index] = p < (ion_on_[index] ? 1.0 : 0.7) * off_above;
    reading = std::max(reading * (1 + 0.006 * n), 0.5 * low);
    if (!ion_on_[index]) {
      columns_[first].has_value = false;
      return;
    }
  }
  set(first, reading / gauge.high.unit.factor);
}

void Instruments::read_flow(const Machine& m, const Disturbance&, std::size_t index, std::size_t first) {
  const plan::GasLine& line = plan_->chamber.gas_lines[index];
  const WrittenFlow full = line.full_scale.value;
  const double full_mol_s = full.resolve(plan_->chamber.reference).value();
  const double n = noise_->normal();
  const double share = m.state().flow_shown[index] / full_mol_s;
  const double shown = share < 1e-3 ? 0 : share + 3e-4 * n;
  set(first, shown * full.value_si / line.full_scale.unit.factor);
}

void Instruments::read_supply(const Machine& m, const Disturbance&, std::size_t index, std::size_t first) {
  const plan::Supply& supply = plan_->chamber.supplies[index];
  const SupplyState& s = m.state().supplies[index];
  const double n1 = noise_->normal();
  const double n2 = noise_->normal();
  // The voltmeter is the better one; what the power meter is off by shows in the current.
  const double power_w = s.power_w * plant_->meter_gain[index] * (1 + 2e-4 * n1);
  const double voltage_v = s.voltage_v > 0 ? s.voltage_v + 0.2 * n2 : 0;
  set(first, power_w / supply.power_max.unit.factor);
  set(first + 1, voltage_v / supply.voltage_max.unit.factor);
  set(first + 2, (voltage_v > 0 ? power_w / voltage_v : 0) / supply.current_max.unit.factor);
  set(first + 3, s.energy_j / kwh_j);
  set(first + 4, s.arcs);
}

void Instruments::read_cathode(const Machine& m, const Disturbance&, std::size_t index, std::size_t first) {
  const CathodeState& cathode = m.state().cathodes[index];
  set(first, 100 * cathode.open_shown);
  set(first + 1, cathode.temperature_c + 0.03 * noise_->normal());
}

void Instruments::read_optic(const Machine& m, const Disturbance&, std::size_t, std::size_t first) {
  const State& s = m.state();
  const double angle = (plant_->angle_at_start_rad + s.drive_rad + plan_->recipe.angle_at_mark.value.value() +
                        plant_->encoder_offset_rad) /
                       (2 * pi);
  // Rounded before it is folded, so that the encoder never shows 360.0.
  const double tenths = std::fmod(std::round((angle - std::floor(angle)) * 3600), 3600);
  set(first, tenths / 10);
  const double n = noise_->normal();
  set(first + 1, s.speed_rad_s > 0 ? s.speed_rad_s * 30 / pi + 7e-4 * n : 0);
  columns_[first + 2].has_value = true;  // its value is latched in observe
}

void Instruments::read_optic_temperature(const Machine& m, const Disturbance&, std::size_t,
                                         std::size_t first) {
  const double n1 = noise_->normal();
  const double n2 = noise_->normal();
  set(first, m.state().optic_c + 0.03 * n1);
  set(first + 1, m.state().vessel_c + 0.03 * n2);
}

void Instruments::read_pump(const Machine& m, const Disturbance&, std::size_t index, std::size_t first) {
  const plan::Pump& pump = plan_->chamber.pumps[index];
  const Valves& v = m.state().valves;
  const bool open = (pump.kind == plan::PumpKind::roughing ? v.roughing : v.high_vacuum) > 0.5;
  columns_[first].word = open ? "open" : "shut";
  if (pump.kind == plan::PumpKind::cryo) {
    set(first + 1, m.state().cryo_k + 0.02 * noise_->normal());
  }
}

void Instruments::read_plant(const Machine& m, const Disturbance&, std::size_t, std::size_t first) {
  if (!m.finished()) {
    columns_[first].word = plan_->recipe.steps[m.state().step].name.value;
  }
  columns_[first + 1].word = m.state().alarm;
}

namespace {

std::string quoted(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) {
    return text;
  }
  std::string out = "\"";
  for (const char c : text) {
    out += c;
    if (c == '"') {
      out += c;
    }
  }
  return out + "\"";
}

}  // namespace

std::string Instruments::header() const {
  std::string text = "time";
  for (const Column& column : columns_) {
    text += "," + quoted(column.header);
  }
  return text + "\n";
}

std::string Instruments::cell(const Column& column) {
  if (column.text) {
    return quoted(column.word);
  }
  if (!column.has_value) {
    return "";
  }
  return column.quantum > 0 ? fixed(column.value, column.quantum) : three_digits(column.value);
}

std::string Instruments::row(std::int64_t stamp_ns) {
  std::string text = to_rfc3339({stamp_ns});
  for (const Column& column : columns_) {
    text += ',' + cell(column);
  }
  if (has_index_) {
    set(index_column_, 0);
  }
  return text + "\n";
}

bool Instruments::moved(const Column& column) {
  if (!column.written || column.word != column.written_word || column.has_value != column.written_has_value) {
    return true;
  }
  const double deadband = column.quantum > 0 ? (column.quantum < 1 ? 3 * column.quantum : 0.5)
                                             : 0.02 * std::fabs(column.written_value);
  return column.has_value && std::fabs(column.value - column.written_value) > deadband;
}

std::string Instruments::row_of_changes(std::int64_t stamp_ns) {
  std::string text = to_rfc3339({stamp_ns});
  bool any = false;
  for (Column& column : columns_) {
    text += ',';
    if (!moved(column)) {
      continue;
    }
    any = true;
    const bool gone = !column.text && !column.has_value && column.written;
    text += gone ? "nan" : cell(column);
    column.written = true;
    column.written_has_value = column.has_value;
    column.written_value = column.value;
    column.written_word = column.word;
  }
  if (has_index_) {
    set(index_column_, 0);
  }
  return any ? text + "\n" : "";
}

}  // namespace vacuary::rehearse
