// The tables of the chamber file.
#include <fmt/format.h>

#include <algorithm>

#include "plan/tables.hpp"

namespace vacuary::plan {
namespace {

const Section<Surface>& surface_section() {
  static const Section<Surface> section =
      Section<Surface>("a surface", "Walls and parts that give off gas.")
          .text(&Surface::name, "name", Need::required, "what it is called")
          .text(&Surface::material, "material", Need::required, "what it is made of")
          .quantity(&Surface::area, "area", Need::required, domain::positive,
                    "its area that faces the vacuum")
          .quantity(&Surface::outgassing_1h, "outgassing_1h", Need::required, domain::not_negative,
                    "gas given off per area after one hour of pumping, at the gas temperature")
          .quantity(&Surface::exponent, "exponent", Need::required, domain::positive,
                    "how fast that falls: q(t) = q(1 h) (t / 1 h)^-exponent");
  return section;
}

const Section<SpeedStage>& stage_section() {
  static const Section<SpeedStage> section =
      Section<SpeedStage>("a stage", "One row of a roughing pump's speed table.")
          .quantity(&SpeedStage::below, "below", Need::required, domain::positive,
                    "the speed holds below this pressure, down to the next row")
          .quantity(&SpeedStage::speed, "speed", Need::required, domain::positive,
                    "pumping speed that is effective at the chamber");
  return section;
}

const Section<SpeciesSpeed>& speed_section() {
  static const Section<SpeciesSpeed> section =
      Section<SpeciesSpeed>("a speed", "A high-vacuum pump's speed for one gas.")
          .gas(&SpeciesSpeed::gas, "gas", "the gas")
          .quantity(&SpeciesSpeed::speed, "speed", Need::required, domain::positive,
                    "pumping speed at the mouth of one pump");
  return section;
}

std::string word(PumpKind kind) {
  switch (kind) {
    case PumpKind::roughing:
      return "roughing";
    case PumpKind::cryo:
      return "cryo";
    case PumpKind::turbo:
      return "turbo";
  }
  return "";
}

void check_pump(Pump& pump, const Node& table, Reader& reader) {
  for (std::size_t i = 1; i < pump.stages.size(); ++i) {
    expect_less(reader, pump.stages[i].below, pump.stages[i - 1].below, false,
                "each stage must hold below a lower pressure than the one before", "the one before");
  }
  unique(reader, pump.speeds, &SpeciesSpeed::gas, "speed for");
  const Entry* kind = table.find("kind");
  if (kind != nullptr && kind->node.text == word(pump.kind)) {
    apply_variants(reader, table, *pump_variants().section, pump_variants(), word(pump.kind));
  }
}

const Section<Pump>& pump_section() {
  static const Section<Pump> section =
      Section<Pump>("a pump", "A pump, or several alike that work together.")
          .device(&Pump::name, "name", "what recipes call it")
          .choice(&Pump::kind, "kind", Need::required,
                  {{"roughing", "from the atmosphere down; its speed is a table of stages"},
                   {"cryo", "cryopump; its speed is given per gas"},
                   {"turbo", "turbomolecular pump; its speed is given per gas"}},
                  "what sort of pump")
          .quantity(&Pump::number, "number", Need::optional, domain::whole_positive, "how many alike")
          .otherwise("1")
          .tables(&Pump::stages, "stages", Need::optional, stage_section(),
                  "speed by pressure, from the highest pressure down")
          .tables(&Pump::speeds, "speeds", Need::optional, speed_section(), "speed per gas")
          .quantity(&Pump::valve_bore, "valve_bore", domain::positive,
                    "free area of the valve in front of each")
          .quantity(&Pump::valve_transmission, "valve_transmission", domain::positive_share,
                    "transmission probability of that valve and its line")
          .quantity(&Pump::ultimate, "ultimate", domain::positive, "lowest pressure it reaches alone")
          .quantity(&Pump::crossover_max, "crossover_max", domain::positive,
                    "its valve may open only below this chamber pressure")
          .quantity(&Pump::crossover_min, "crossover_min", domain::positive,
                    "below this pressure oil or particles stream back from it")
          .quantity(&Pump::oxygen_max, "oxygen_max", domain::not_negative,
                    "more oxygen than this is not allowed through it")
          .quantity(&Pump::crossover_capacity, "crossover_capacity", domain::positive,
                    "gas one pump takes in a gulp, as pressure times volume")
          .check(check_pump);
  return section;
}

const Section<GasFactor>& gas_factor_section() {
  static const Section<GasFactor> section =
      Section<GasFactor>("a gas factor", "How a gauge answers to one gas.")
          .gas(&GasFactor::gas, "gas", "the gas")
          .quantity(&GasFactor::relative_sensitivity, "relative_sensitivity", Need::required,
                    domain::positive, "its reading over the true pressure, with nitrogen as 1");
  return section;
}

const Section<Gauge>& gauge_section() {
  static const Section<Gauge> section =
      Section<Gauge>("a gauge", "A pressure gauge.")
          .device(&Gauge::name, "name", "what channels call it")
          .choice(&Gauge::kind, "kind", Need::required,
                  {{"thermal", "heat loss (Pirani, thermocouple)"},
                   {"capacitance", "capacitance manometer"},
                   {"ion", "hot or cold cathode"}},
                  "how it measures")
          .choice(&Gauge::reads, "reads", Need::required,
                  {{"true-pressure", "whatever the gas"},
                   {"nitrogen-equivalent", "right for nitrogen only: other gases need a factor"}},
                  "what its display gives")
          .quantity(&Gauge::low, "low", Need::required, domain::positive, "lower end of its usable range")
          .quantity(&Gauge::high, "high", Need::required, domain::positive, "upper end of its usable range")
          .quantity(&Gauge::accuracy, "accuracy", Need::required, domain::positive_share,
                    "standard uncertainty, as a share of the reading")
          .quantity(&Gauge::zero_drift, "zero_drift", domain::not_negative,
                    "standard uncertainty of its zero (capacitance)")
          .quantity(&Gauge::off_above, "off_above", domain::positive, "it must be off above this (ion)")
          .tables(&Gauge::gas_factors, "gas_factors", Need::optional, gas_factor_section(),
                  "its answer to gases other than nitrogen")
          .check([](Gauge& gauge, const Node&, Reader& reader) {
            in_order(reader, gauge.low, "low", gauge.high, "high");
            if (gauge.off_above) in_order(reader, gauge.high, "high", *gauge.off_above, "off_above", true);
            unique(reader, gauge.gas_factors, &GasFactor::gas, "gas factor for");
          });
  return section;
}

const Section<GasLine>& gas_line_section() {
  static const Section<GasLine> section =
      Section<GasLine>("a gas line", "A gas supply with its mass-flow controller.")
          .device(&GasLine::name, "name", "what recipes and channels call it")
          .gas(&GasLine::gas, "gas", "the gas in it")
          .quantity(&GasLine::full_scale, "full_scale", Need::required, domain::positive,
                    "the controller's largest flow")
          .quantity(&GasLine::accuracy, "accuracy", Need::required, domain::positive_share,
                    "standard uncertainty, as a share of full scale");
  return section;
}

const Section<Supply>& supply_section() {
  static const Section<Supply> section =
      Section<Supply>("a supply", "An electrical supply for a cathode or the glow electrode.")
          .device(&Supply::name, "name", "what channels call it")
          .quantity(&Supply::power_max, "power_max", Need::required, domain::positive, "its highest power")
          .quantity(&Supply::voltage_max, "voltage_max", Need::required, domain::positive,
                    "its highest voltage")
          .quantity(&Supply::current_max, "current_max", Need::required, domain::positive,
                    "its highest current")
          .quantity(&Supply::ramp_max, "ramp_max", domain::positive, "how fast its power may rise")
          .quantity(&Supply::power_accuracy, "power_accuracy", Need::required, domain::positive_share,
                    "standard uncertainty of power and energy, as a share of the reading");
  return section;
}

const Section<ShieldPoint>& shield_point_section() {
  static const Section<ShieldPoint> section =
      Section<ShieldPoint>("a point of the opening", "Open width of the trim shield at one radius.")
          .quantity(&ShieldPoint::radius, "radius", Need::required, domain::not_negative,
                    "distance from the optic's axis")
          .quantity(&ShieldPoint::opening, "opening", Need::required, domain::not_negative,
                    "full open width there, across the cathode's line");
  return section;
}

const Section<Cathode>& shield_section() {
  static const Section<Cathode> section =
      Section<Cathode>("the trim shield", "The plate between cathode and optic that evens out the film.")
          .text(&Cathode::shield, "name", Need::required, "what it is called; calibrations name it")
          .quantity(&Cathode::shield_height, "height", domain::positive, "its height above the glass")
          .tables(&Cathode::shield_opening, "opening", Need::required, shield_point_section(),
                  "open width along the radius, from the inside out; beyond the ends it stays as there")
          .at_least(2)
          .quantity(&Cathode::shield_opening_uncertainty, "opening_uncertainty", Need::optional,
                    domain::not_negative, "standard uncertainty of the open width as made")
          .otherwise("1 mm")
          .quantity(&Cathode::shield_height_uncertainty, "height_uncertainty", Need::optional,
                    domain::not_negative, "standard uncertainty of the height as hung")
          .otherwise("1 mm")
          .check([](Cathode& cathode, const Node&, Reader& reader) {
            const auto& points = cathode.shield_opening;
            for (std::size_t i = 1; i < points.size(); ++i) {
              expect_less(reader, points[i - 1].radius, points[i].radius, false,
                          "the radii of the opening must rise from point to point", "the next point");
            }
          });
  return section;
}

const Section<Calibration>& calibration_section() {
  static const Section<Calibration> section =
      Section<Calibration>("the calibration", "Film per energy, as measured.")
          .quantity(&Calibration::film_per_energy, "film_per_energy", Need::required, domain::positive,
                    "mean film over a turn per energy, at the radius")
          .quantity(&Calibration::uncertainty, "uncertainty", Need::required, domain::positive_share,
                    "standard uncertainty of that, relative")
          .quantity(&Calibration::radius, "radius", Need::required, domain::positive,
                    "distance from the optic's axis where it was measured")
          .quantity(&Calibration::pressure, "pressure", Need::required, domain::positive,
                    "argon pressure then")
          .quantity(&Calibration::voltage, "voltage", Need::required, domain::positive,
                    "cathode voltage then")
          .quantity(&Calibration::voltage_band, "voltage_band", Need::required, domain::positive,
                    "a thickness is claimed only within voltage +/- this")
          .gas(&Calibration::gas, "gas", "the gas it was measured in")
          .quantity(&Calibration::energy_used, "energy_used", Need::required, domain::not_negative,
                    "energy the target had seen then")
          .text(&Calibration::shield, "shield", Need::optional,
                "the trim shield it was measured with; left out: none")
          .text(&Calibration::target_serial, "target_serial", Need::required,
                "the target it was measured with")
          .field(Section<Calibration>::make(Shape::day, "date", Need::required, "the day it was measured"),
                 [](Calibration& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (auto day = reader.day(node, info.key)) value.date = std::move(*day);
                 })
          .quantity(&Calibration::diffuse_share, "diffuse_share", Need::optional, domain::share,
                    "share of the atoms scattered by the gas that still lands there, relative to those that "
                    "fly straight")
          .otherwise("0 ratio")
          .quantity(&Calibration::diffuse_share_uncertainty, "diffuse_share_uncertainty", Need::optional,
                    domain::share, "its standard uncertainty")
          .otherwise("0.1 ratio")
          .check([](Calibration& value, const Node&, Reader& reader) {
            in_order(reader, value.voltage_band, "voltage_band", value.voltage, "voltage");
          });
  return section;
}

void check_cathode(Cathode& cathode, const Node&, Reader& reader) {
  in_order(reader, cathode.racetrack_inner, "racetrack_inner", cathode.racetrack_outer, "racetrack_outer");
  in_order(reader, cathode.racetrack_half_width, "racetrack_half_width", cathode.target_width,
           "target_width");
  in_order(reader, cathode.target_thickness, "target_thickness", cathode.target_width, "target_width");
  if (cathode.shield_height) {
    in_order(reader, *cathode.shield_height, "height", cathode.throw_distance, "throw");
  }
}

const Section<Cathode>& cathode_section() {
  static const Section<Cathode> section =
      Section<Cathode>("a cathode", "A magnetron with its target and trim shield.")
          .device(&Cathode::name, "name", "what recipes and channels call it")
          .text(&Cathode::supply, "supply", Need::required, "the supply that feeds it, by name")
          .text(&Cathode::material, "material", Need::required, "the target's material")
          .text(&Cathode::target_serial, "target_serial", Need::required, "the target's serial number")
          .quantity(&Cathode::target_length, "target_length", Need::required, domain::positive,
                    "target, along the radius")
          .quantity(&Cathode::target_width, "target_width", Need::required, domain::positive,
                    "target, across")
          .quantity(&Cathode::target_thickness, "target_thickness", Need::required, domain::positive,
                    "target, when new")
          .quantity(&Cathode::usable_target, "usable_target", Need::required, domain::positive_share,
                    "share of the target's mass that may be sputtered")
          .quantity(&Cathode::racetrack_inner, "racetrack_inner", Need::required, domain::not_negative,
                    "inner end of the racetrack, from the optic's axis")
          .quantity(&Cathode::racetrack_outer, "racetrack_outer", Need::required, domain::positive,
                    "outer end of the racetrack, from the optic's axis")
          .quantity(&Cathode::racetrack_half_width, "racetrack_half_width", Need::required, domain::positive,
                    "its straights lie this far either side of the centre line")
          .quantity(&Cathode::throw_distance, "throw", Need::required, domain::positive,
                    "target face to the plane that touches the optic's vertex, along its line")
          .flag(&Cathode::follows_surface, "follows_surface", "tilted to follow the glass along its line")
          .otherwise("false")
          .quantity(&Cathode::emission_exponent, "emission_exponent", Need::required, domain::positive,
                    "n of the emission law cos^n")
          .quantity(&Cathode::emission_exponent_uncertainty, "emission_exponent_uncertainty", Need::optional,
                    domain::not_negative, "its standard uncertainty")
          .otherwise("0.1 ratio")
          .quantity(&Cathode::azimuth, "azimuth", Need::optional, domain::any,
                    "how far round its line stands from where optic.angle is read, in the sense of the marks")
          .otherwise("0 deg")
          .quantity(&Cathode::throw_uncertainty, "throw_uncertainty", Need::optional, domain::not_negative,
                    "standard uncertainty of the throw as built")
          .otherwise("2 mm")
          .quantity(&Cathode::racetrack_uncertainty, "racetrack_uncertainty", Need::optional,
                    domain::not_negative, "standard uncertainty of where the racetrack's ends are")
          .otherwise("5 mm")
          .quantity(&Cathode::power_density_max, "power_density_max", Need::required, domain::positive,
                    "highest power per area of the whole target face")
          .quantity(&Cathode::energy_rated, "energy_rated", Need::required, domain::positive,
                    "energy a target is good for")
          .quantity(&Cathode::energy_used, "energy_used", Need::required, domain::not_negative,
                    "energy this target has seen")
          .quantity(&Cathode::rate_loss_over_life, "rate_loss_over_life", Need::required, domain::share,
                    "film per energy falls by this share, linearly, over the rated energy")
          .quantity(&Cathode::p0d0, "p0d0", Need::required, domain::positive,
                    "pressure times distance of the transport law (Keller and Simmons)")
          .group("shield", Need::optional, shield_section(), "the trim shield, if there is one")
          .table(&Cathode::calibration, "calibration", Need::required, calibration_section(),
                 "film per energy, as measured")
          .check(check_cathode);
  return section;
}

const Section<Crystal>& crystal_section() {
  static const Section<Crystal> section =
      Section<Crystal>("a crystal", "A quartz crystal, fixed in the vessel, that film slows down.")
          .device(&Crystal::name, "name", "what channels call it")
          .text(&Crystal::cathode, "cathode", Need::required, "the cathode whose film it sees, by name")
          .quantity(&Crystal::unloaded, "unloaded", Need::required, domain::positive,
                    "its frequency before any film")
          .quantity(
              &Crystal::tooling, "tooling", Need::required, domain::positive,
              "mean film over a turn at the calibration's radius, over the film on the crystal: it sees "
              "the standing beam, so the duty of a turn is in this")
          .quantity(&Crystal::tooling_uncertainty, "tooling_uncertainty", Need::required,
                    domain::positive_share, "standard uncertainty of that, relative")
          .quantity(&Crystal::z_ratio, "z_ratio", domain::positive,
                    "acoustic impedance of quartz over that of the film; left out: that of the target's "
                    "material");
  return section;
}

const Section<GlowElectrode>& glow_section() {
  static const Section<GlowElectrode> section =
      Section<GlowElectrode>("the glow electrode", "What the glow clean burns from.")
          .text(&GlowElectrode::supply, "supply", Need::required, "the supply that feeds it, by name")
          .quantity(&GlowElectrode::area, "area", Need::required, domain::positive, "its area")
          .text(&GlowElectrode::material, "material", Need::required, "what it is made of");
  return section;
}

const Section<Chamber>& rotation_section() {
  static const Section<Chamber> section =
      Section<Chamber>("the rotation", "The speeds at which the optic can turn.")
          .quantity(&Chamber::rotation_min, "min", domain::positive, "slowest steady speed")
          .required()
          .quantity(&Chamber::rotation_max, "max", domain::positive, "fastest speed")
          .required()
          .check([](Chamber& chamber, const Node&, Reader& reader) {
            if (!chamber.rotation_min || !chamber.rotation_max) return;
            in_order(reader, *chamber.rotation_min, "min", *chamber.rotation_max, "max", true);
          });
  return section;
}

const Section<History>& history_section() {
  static const Section<History> section =
      Section<History>("the history", "What is normal for this chamber, from its own past runs.")
          .quantity(&History::exponent, "exponent", domain::positive,
                    "the pressure falls as t^-exponent from 1 h to 10 h of pumping")
          .quantity(&History::pressure_1h, "pressure_1h", domain::positive, "after one hour of pumping")
          .quantity(&History::base_pressure, "base_pressure", domain::positive, "what a run waits for")
          .quantity(&History::base_time, "base_time", domain::positive,
                    "from the start of pumping to that base pressure")
          .quantity(&History::rise, "rise", domain::positive, "rate of rise of the closed vessel")
          .quantity(&History::argon_speed, "argon_speed", domain::positive,
                    "argon flow over pressure on the high-vacuum pumps with the throttle open")
          .quantity(&History::spread, "spread", Need::optional, domain::positive_share,
                    "standard deviation of each of these from run to run, relative")
          .otherwise("15 %")
          .check([](History& history, const Node&, Reader& reader) {
            if (history.base_time && !history.base_pressure)
              reader.complain("missing-key", history.base_time->at,
                              "'base_time' says nothing without 'base_pressure'",
                              "say which pressure is reached after that time");
          });
  return section;
}

// What "standard" means in sccm. Read before any flow is.
struct StandardFlow {
  Given<Temperature> temperature;
  Given<Pressure> pressure;
};

const Section<StandardFlow>& standard_flow_section() {
  static const Section<StandardFlow> section =
      Section<StandardFlow>("the standard flow", "What \"standard\" means in sccm and slm here.")
          .quantity(&StandardFlow::temperature, "temperature", Need::optional, domain::absolute,
                    "temperature of the standard gas")
          .otherwise("0 degC")
          .quantity(&StandardFlow::pressure, "pressure", Need::optional, domain::positive,
                    "pressure of the standard gas")
          .otherwise("101325 Pa");
  return section;
}

FieldInfo standard_flow_field() {
  FieldInfo info = Section<Chamber>::make(Shape::table, "standard_flow", Need::optional,
                                          "the reference of standard flows; left out: 0 degC and 101325 Pa");
  info.section = &standard_flow_section().info();
  return info;
}

void set_standard_flow(Chamber& chamber, const Node& node, const FieldInfo& info, Reader& reader) {
  if (!reader.is_table(node, info.key)) return;
  const StandardFlow read = standard_flow_section().read(node, reader);
  if (read.temperature.value.value() > 0) chamber.reference.standard_temperature = read.temperature.value;
  if (read.pressure.value.value() > 0) chamber.reference.standard_pressure = read.pressure.value;
  reader.reference = chamber.reference;
}

FieldInfo gas_temperature_field() {
  FieldInfo info = Section<Chamber>::make(Shape::quantity, "gas_temperature", Need::optional,
                                          "of the gas that a throughput such as mbar L/s speaks of");
  info.kind = Kind::temperature;
  info.domain = domain::absolute;
  info.fallback = "20 degC";
  return info;
}

void set_gas_temperature(Chamber& chamber, const Node& node, const FieldInfo& info, Reader& reader) {
  const auto given = reader.quantity<Temperature>(node, info);
  if (!given) return;
  chamber.gas_temperature = *given;
  chamber.reference.gas_temperature = given->value;
  reader.reference = chamber.reference;
}

void resolve_supply(Reader& reader, const GivenText& name, const std::vector<std::string>& supplies) {
  if (name.at.source == nullptr || std::find(supplies.begin(), supplies.end(), name.value) != supplies.end())
    return;
  if (reader.broken) return;
  reader.unknown("unknown-reference", name.at, fmt::format("there is no supply '{}'", name.value), name.value,
                 supplies);
}

void resolve_cathode(Reader& reader, const GivenText& name, const std::vector<Cathode>& cathodes) {
  const std::vector<std::string> known = names_of(cathodes);
  const bool there = std::find(known.begin(), known.end(), name.value) != known.end();
  if (name.at.source == nullptr || there || reader.broken) return;
  reader.unknown("unknown-reference", name.at, fmt::format("there is no cathode '{}'", name.value),
                 name.value, known);
}

void check_chamber(Chamber& chamber, const Node&, Reader& reader) {
  unique(reader, chamber.surfaces, &Surface::name, "surface");
  unique(reader, chamber.pumps, &Pump::name, "pump");
  unique(reader, chamber.gauges, &Gauge::name, "gauge");
  unique(reader, chamber.gas_lines, &GasLine::name, "gas line");
  unique(reader, chamber.supplies, &Supply::name, "supply");
  unique(reader, chamber.cathodes, &Cathode::name, "cathode");
  unique(reader, chamber.crystals, &Crystal::name, "crystal");
  const auto supplies = names_of(chamber.supplies);
  for (const Cathode& cathode : chamber.cathodes) resolve_supply(reader, cathode.supply, supplies);
  if (chamber.glow) resolve_supply(reader, chamber.glow->supply, supplies);
  for (const Crystal& crystal : chamber.crystals) resolve_cathode(reader, crystal.cathode, chamber.cathodes);
}

}  // namespace

const Variants& pump_variants() {
  static const Variants variants{
      &pump_section().info(),
      "kind",
      {{"roughing", {"stages"}, {"crossover_min"}, {}},
       {"cryo",
        {"speeds"},
        {"valve_bore", "valve_transmission", "crossover_max", "crossover_capacity", "oxygen_max"},
        {}},
       {"turbo", {"speeds"}, {"valve_bore", "valve_transmission", "crossover_max", "oxygen_max"}, {}}}};
  return variants;
}

const Section<Chamber>& chamber_section() {
  static const Section<Chamber> section =
      Section<Chamber>("a chamber file", "The coating vessel and everything that is fixed to it.")
          .format()
          .text(&Chamber::name, "name", Need::required, "what the plant calls it")
          .field(standard_flow_field(), set_standard_flow)
          .field(gas_temperature_field(), set_gas_temperature)
          .quantity(&Chamber::volume, "volume", Need::required, domain::positive, "volume of the vessel")
          .quantity(&Chamber::leak_limit, "leak_limit", domain::not_negative,
                    "the largest leak the plant accepts")
          .quantity(&Chamber::plasma_desorption, "plasma_desorption", domain::positive,
                    "water while a discharge burns over water without it")
          .texts(&Chamber::safety, "safety", "notes that are shown with every report")
          .tables(&Chamber::surfaces, "surface", Need::optional, surface_section(),
                  "walls and parts that give off gas")
          .tables(&Chamber::pumps, "pump", Need::optional, pump_section(), "pumps")
          .tables(&Chamber::gauges, "gauge", Need::optional, gauge_section(), "pressure gauges")
          .tables(&Chamber::gas_lines, "gas_line", Need::optional, gas_line_section(), "gas lines")
          .tables(&Chamber::supplies, "supply", Need::optional, supply_section(), "electrical supplies")
          .table(&Chamber::glow, "glow", glow_section(), "the glow electrode, if there is one")
          .tables(&Chamber::cathodes, "cathode", Need::optional, cathode_section(), "cathodes")
          .tables(&Chamber::crystals, "crystal", Need::optional, crystal_section(),
                  "quartz crystals, if there are any")
          .table(&Chamber::history, "history", history_section(),
                 "what is normal here; left out: the plan's prediction is held to instead")
          .group("rotation", Need::optional, rotation_section(),
                 "the optic's rotation; left out: it cannot turn")
          .check(check_chamber);
  return section;
}

}  // namespace vacuary::plan
