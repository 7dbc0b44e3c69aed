#include "run/pressure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace vacuary::run {
namespace {

constexpr double most_pa = 1.2e5;          // above any atmosphere
constexpr double water_below_pa = 0.1;     // 1e-3 mbar
constexpr double air_above_pa = 0.2;       // and back again
constexpr double flowing_share = 0.02;     // of full scale: below it a controller's zero, not a flow
constexpr double zero_needs_below = 0.1;   // of the zero drift, by a better gauge
constexpr std::uint64_t zero_memory = 64;  // samples that the running zero remembers
constexpr double zero_at_most = 10;        // times the drift: more is not a zero
constexpr double hysteresis = 1.2;

}  // namespace

VesselPressure::VesselPressure(const plan::Plan& plan, const plan::ChannelMap& map, const Roles& roles)
    : roles_(roles), zeros_(roles.gauges.size()), used_(roles.gauges.size()) {
  for (const GaugeRoles& one : roles.gauges) {
    const plan::Gauge& gauge = *one.gauge;
    gauges_.push_back({one.pressure, gauge.low.value.value(), gauge.high.value.value(),
                       gauge.accuracy.value.value(), gauge.zero_drift ? gauge.zero_drift->value.value() : 0,
                       gauge.kind == plan::GaugeKind::capacitance, sensitivity_of(gauge), 0, 1});
  }
  for (const FlowRoles& flow : roles.flows) {
    const double full_mol_s = flow.line->full_scale.value.resolve(plan.chamber.reference).value();
    flows_.push_back({flow.flow, flowing_share * full_mol_s});
  }
  const auto logged = [&](std::size_t g) { return roles.gauges[g].pressure >= 0; };
  for (const plan::Splice& splice : map.splice) {
    for (std::size_t g = 0; g < roles.gauges.size(); ++g) {
      if (logged(g) && roles.gauges[g].gauge->name.value == splice.gauge.value) {
        bands_.push_back({g, splice.low.value(), splice.high.value()});
      }
    }
  }
  bands_from_map_ = !bands_.empty();
  if (bands_from_map_) return;
  for (std::size_t g = 0; g < roles.gauges.size(); ++g) {
    const plan::Gauge& gauge = *roles.gauges[g].gauge;
    if (logged(g)) bands_.push_back({g, gauge.low.value.value(), gauge.high.value.value()});
  }
}

void VesselPressure::find_gas(Row& row) {
  total_mol_s_ = 0;
  int flows = 0;
  for (std::size_t i = 0; i < flows_.size(); ++i) {
    Flow& flow = flows_[i];
    const double mol_s = row.at(flow.column);
    const bool on = mol_s > flow.on_above_mol_s;
    flow.mol_s = on ? mol_s : 0;
    total_mol_s_ += flow.mol_s;
    if (on) flows = flows == 0 ? static_cast<int>(i) + 1 : mixed;
  }
  row.gas_mol_s = total_mol_s_;
  flowing_ = total_mol_s_ > 0;
  if (flows == flows_now_ && flows != mixed) return;  // nothing, or one gas as in the row before
  flows_now_ = flows;
  adapt();
}

// The gauges' sensitivities to what is there now.
void VesselPressure::adapt() {
  for (Gauge& gauge : gauges_) gauge.now = sensitivity(gauge.sensitivity);
}

// How the gauge answers to each gas the plan knows of: looked up once, not for every row.
VesselPressure::Sensitivity VesselPressure::sensitivity_of(const plan::Gauge& gauge) const {
  if (gauge.reads == plan::GaugeReads::true_pressure) return {};
  const auto to = [&](const std::string& gas) {
    for (const plan::GasFactor& factor : gauge.gas_factors) {
      if (factor.gas.value == gas) return factor.relative_sensitivity.value.value();
    }
    return 1.0;
  };
  Sensitivity out;
  out.water = to("H2O");
  for (const FlowRoles& flow : roles_.flows) out.line.push_back(to(flow.line->gas.value));
  return out;
}

double VesselPressure::sensitivity(const Sensitivity& to) const {
  if (to.line.empty()) return 1;
  if (!flowing_) return water_ ? to.water : 1.0;
  double mixture = 0;
  for (std::size_t i = 0; i < flows_.size(); ++i) mixture += flows_[i].mol_s / total_mol_s_ * to.line[i];
  return mixture;
}

double VesselPressure::made_true_pa(const Gauge& gauge, const Row& row) const {
  const double reading = row.at(gauge.column);
  // Saturated by what it shows, too low by what is left of that without the zero.
  if (!(reading <= gauge.high_pa) || !(reading - gauge.zero_pa >= gauge.low_pa)) return no_value;
  const double pa = reading - gauge.zero_pa;
  return gauge.now == 1 ? pa : pa / gauge.now;
}

void VesselPressure::make_true(const Row& row, double* true_pa) const {
  for (std::size_t g = 0; g < gauges_.size(); ++g) true_pa[g] = made_true_pa(gauges_[g], row);
}

bool VesselPressure::zero_is_near() const {
  return std::any_of(zeros_.begin(), zeros_.end(),
                     [](const Zero& zero) { return zero.samples + 1 == zero_samples; });
}

// A gauge keeps the word while it can, so that noise at a bound does not toggle between two.
void VesselPressure::choose(const double* true_pa, Row& row) const {
  row.gauge = -1;
  row.pressure_pa = row.gauge_u = no_value;
  double best_distance = 0;
  for (const Band& band : bands_) {
    const double p = true_pa[band.gauge];
    if (!(p > 0)) continue;
    const bool holds = static_cast<int>(band.gauge) == current_;
    double distance = 0;  // how far outside its band, in ln p
    if (p < band.low_pa) distance = std::log(band.low_pa / p);
    if (p > band.high_pa) distance = std::log(p / band.high_pa);
    if (holds && distance > 0) distance = std::max(0.0, distance - std::log(hysteresis));
    // Of several in their bands the most accurate speaks, the present one with a little credit.
    const double u = relative_uncertainty(band.gauge, p);
    distance = 10 * distance + u * (holds ? 0.7 : 1.0);
    if (row.gauge >= 0 && !(distance < best_distance)) continue;
    row.gauge = static_cast<int>(band.gauge);
    row.pressure_pa = p;
    row.gauge_u = u;
    best_distance = distance;
  }
}

// Does a gauge of another kind, in its range, say that there is nothing a manometer could see?
bool VesselPressure::nothing_there(double drift_pa, const Row& row) const {
  for (std::size_t g = 0; g < gauges_.size(); ++g) {
    if (!gauges_[g].capacitance && made_true_pa(gauges_[g], row) < zero_needs_below * drift_pa) return true;
  }
  return false;
}

void VesselPressure::learn_zeros(const Row& row) {
  if (flowing_) return;
  for (std::size_t g = 0; g < gauges_.size(); ++g) {
    Gauge& gauge = gauges_[g];
    if (!gauge.capacitance || gauge.drift_pa == 0) continue;
    const double reading_pa = row.at(gauge.column);
    if (!(std::abs(reading_pa) < zero_at_most * gauge.drift_pa) || !nothing_there(gauge.drift_pa, row))
      continue;
    Zero& zero = zeros_[g];
    ++zero.samples;
    zero.mean_pa += (reading_pa - zero.mean_pa) / static_cast<double>(std::min(zero.samples, zero_memory));
    if (zero.samples >= zero_samples) gauge.zero_pa = zero.mean_pa;
  }
}

void VesselPressure::read(Row& row, double* true_pa) {
  row.true_pa = true_pa;
  find_gas(row);
  if (roles_.chamber_pressure >= 0) {
    // Not above zero, or above any atmosphere: a code, or damage, and no pressure.
    const double reading_pa = row.at(roles_.chamber_pressure);
    row.pressure_pa = reading_pa > 0 && reading_pa < most_pa ? reading_pa : no_value;
    make_true(row, true_pa);
    return;
  }
  learn_zeros(row);
  make_true(row, true_pa);
  choose(true_pa, row);
  current_ = row.gauge;
  if (current_ < 0) return;
  used_[static_cast<std::size_t>(current_)] = 1;
  const bool was_water = water_;
  if (row.pressure_pa < water_below_pa) water_ = true;
  if (row.pressure_pa > air_above_pa) water_ = false;
  if (water_ == was_water || flowing_) return;
  adapt();
  make_true(row, true_pa);
}

std::vector<std::string> VesselPressure::notes() const {
  std::vector<std::string> notes;
  if (roles_.chamber_pressure >= 0) {
    notes.emplace_back("The vessel's pressure is the log's own chamber.pressure, taken as true pressure.");
    return notes;
  }
  const Unit& mbar = unit("mbar", Kind::pressure);
  std::string text;
  bool equivalent = false;
  for (const Band& band : bands_) {
    const plan::Gauge& gauge = *roles_.gauges[band.gauge].gauge;
    equivalent |= gauge.reads == plan::GaugeReads::nitrogen_equivalent && used_[band.gauge] != 0;
    text += fmt::format("{}{} from {} to {}", text.empty() ? "" : ", ", gauge.name.value,
                        brief(Pressure::from_value(band.low_pa), mbar, 2),
                        brief(Pressure::from_value(band.high_pa), mbar, 2));
  }
  if (text.empty()) return notes;
  notes.push_back(fmt::format("The vessel's pressure is put together from {} ({}).", text,
                              bands_from_map_
                                  ? "bounds of the channel map"
                                  : "ranges of the chamber file, the most accurate gauge speaks"));
  if (equivalent) {
    notes.emplace_back(
        "Gauges that read nitrogen equivalent are corrected for the gas let in; without gas, for air above "
        "1e-3 mbar "
        "and for water below it.");
  }
  for (std::size_t g = 0; g < zeros_.size(); ++g) {
    const plan::Gauge& gauge = *roles_.gauges[g].gauge;
    if (roles_.gauges[g].pressure < 0 || !gauge.zero_drift) continue;
    const Unit& pa = unit("Pa", Kind::pressure);
    if (zeros_[g].samples >= zero_samples) {
      notes.push_back(
          fmt::format("{} showed {} where a better gauge says it should show nothing; that zero is taken "
                      "off its readings from there on.",
                      gauge.name.value, brief(Pressure::from_value(zeros_[g].mean_pa), pa, 2)));
    } else {
      notes.push_back(
          fmt::format("The zero of {} could not be seen in this log; its drift of {} stays in the "
                      "uncertainty.",
                      gauge.name.value, brief(gauge.zero_drift->value, pa, 2)));
    }
  }
  return notes;
}

}  // namespace vacuary::run
