// What the pumps are asked to do: times, pressures, crossing over, gases.
#include <algorithm>

#include "check/rule.hpp"
#include "check/words.hpp"
#include "plan/channel.hpp"

namespace vacuary::check {
namespace {

using plan::StepKind;

constexpr double atmosphere_pa = 101325;

bool is_pumpdown_to_pressure(const plan::Step& step) {
  return step.kind == StepKind::pumpdown && step.end.pressure.has_value();
}

// What the chamber comes down to if nobody minds the time: a week of outgassing, the leak limit,
// and what the last pump reaches alone.
struct Floor {
  Pressure pressure{};
  Pressure expanded{};
};

using model::outgassing_uncertainty;
using model::speed_uncertainty;

constexpr double week_s = 7 * 24 * 3600;

Floor floor_of(const plan::Chamber& chamber, const plan::Step& step) {
  Floor floor;
  const plan::Pump* roughing = roughing_pump(chamber, step);
  const plan::Pump* high_vacuum = high_vacuum_pump(chamber, step);
  if (high_vacuum == nullptr && (roughing != nullptr || !step.pumps.empty())) {
    if (roughing != nullptr && roughing->ultimate) floor.pressure = roughing->ultimate->value;
    return floor;
  }
  const double water_speed = model::high_vacuum_speed(chamber, "H2O").value();
  const double air_speed = model::high_vacuum_speed(chamber, "N2").value();
  if (water_speed <= 0 || air_speed <= 0) return floor;
  const Temperature gas = chamber.gas_temperature.value;
  const double water_pa =
      throughput(model::outgassing(chamber, Duration::from_value(week_s)), gas).pa_m3_per_s() / water_speed;
  const double leak_pa =
      chamber.leak_limit ? throughput(chamber.leak_limit->value, gas).pa_m3_per_s() / air_speed : 0;
  const double u_pa = std::hypot(water_pa * outgassing_uncertainty, (water_pa + leak_pa) * speed_uncertainty);
  floor.pressure = Pressure::from_value(water_pa + leak_pa);
  floor.expanded = Pressure::from_value(coverage * u_pa);
  return floor;
}

void base_pressure_out_of_reach(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for (const plan::Step& step : facts.steps()) {
    if (!is_pumpdown_to_pressure(step)) continue;
    const plan::Given<Pressure>& target = *step.end.pressure;
    const Floor floor = floor_of(chamber, step);
    // The target has to be above the floor: the floor is held against it as "at most the target".
    if (floor.pressure <= target.value) continue;
    const Standing standing =
        against_at_most(floor.pressure.value(), floor.expanded.value(), target.value.value());
    Diagnostic& d = out.add(
        standing == Standing::beyond ? Severity::error : Severity::warning, target.at,
        fmt::format("'{}' waits for {}, which this chamber {} reach however long it pumps", step.name.value,
                    words(target), standing == Standing::beyond ? "does not" : "may not"));
    const bool roughing_only = floor.expanded.value() <= 0;
    d.found = roughing_only ? words(floor.pressure, target.unit)
                            : with_uncertainty(floor.pressure, floor.expanded, target.unit) + " after a week";
    d.bound = "at most " + words(target);
    if (roughing_only) {
      d.assumed.push_back("the step's pumps reach no less than they do alone");
      d.remedy = fmt::format("end the step at {} or above, or add a high-vacuum pump to it",
                             at_least_words(floor.pressure, target.unit));
      continue;
    }
    d.assumed.push_back("walls that outgas as the chamber file says, give or take a factor of two");
    if (chamber.leak_limit)
      d.assumed.push_back(
          fmt::format("a leak at its limit, {}",
                      flow_words(chamber.leak_limit->value, chamber.leak_limit->unit, chamber.reference)));
    d.remedy = fmt::format("wait for {} or more, find the leak, or pump faster",
                           at_least_words(Pressure(floor.pressure + floor.expanded), target.unit));
  }
}

// The same plan with one step given all the time it may need.
std::optional<Estimate<Duration>> time_without_limit(const Facts& facts, std::size_t index) {
  plan::Plan patient = facts.plan;
  patient.recipe.steps[index].longest.value = Duration::from_value(week_s);
  const model::Prediction prediction = model::predict(patient);
  return index < prediction.steps.size() ? prediction.steps[index].duration : std::nullopt;
}

void pumpdown_too_slow(const Facts& facts, Findings& out) {
  for (std::size_t i = 0; i < facts.steps().size() && i < facts.prediction.steps.size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    if (!is_pumpdown_to_pressure(step)) continue;
    std::optional<Estimate<Duration>> time = facts.prediction.steps[i].duration;
    if (!time) {
      if (floor_of(facts.plan.chamber, step).pressure > step.end.pressure->value)
        continue;  // out of reach: said there
      time = time_without_limit(facts, i);
      if (!time) continue;
    }
    const Standing standing = against_at_most(*time, step.longest.value);
    if (standing == Standing::within) continue;
    const Unit& unit = step.longest.unit;
    Diagnostic& d =
        out.add(standing == Standing::beyond ? Severity::error : Severity::warning, step.longest.at,
                fmt::format("'{}' {} longer than it is allowed to", step.name.value,
                            standing == Standing::beyond ? "takes" : "may take"));
    d.found = fmt::format("{} to reach {}", time_words(*time, unit), words(*step.end.pressure));
    d.bound = "at most " + words(step.longest);
    d.assumed = facts.prediction.steps[i].assumed;
    d.remedy = fmt::format("allow {}, or pump faster",
                           at_least_words(Duration(time->value + expanded(*time)), unit));
    d.second = second_place(step.end.pressure->at, "what it waits for");
  }
}

// How far from the setpoint the working pressure may be when the step states no limits of its own.
constexpr double pressure_tolerance = 0.1;

struct Band {
  double low_pa = 0, high_pa = 0;
  std::optional<Region> at;  // where the recipe states it
};

Band band_of(const plan::Step& step) {
  const double wanted_pa = step.pressure->value.value();
  Band band{wanted_pa * (1 - pressure_tolerance), wanted_pa * (1 + pressure_tolerance), {}};
  for (const plan::Limit& limit : step.limits) {
    if (limit.channel.value != "chamber.pressure" || !limit.low_si || !limit.high_si) continue;
    if (wanted_pa < *limit.low_si || wanted_pa > *limit.high_si) continue;  // setpoint-outside-limits says it
    band = Band{*limit.low_si, *limit.high_si, limit.at};
  }
  return band;
}

std::string pressure_remedy(const plan::Step& step, double predicted_pa, const GasReference& reference) {
  const double ratio = predicted_pa / step.pressure->value.value();
  std::string text;
  const double throttle = step.throttle ? step.throttle->value.value() : 1;
  if (throttle * ratio <= 1) {
    const Unit& percent = unit("%", Kind::ratio);
    const Unit& shown = step.throttle ? step.throttle->unit : percent;
    text = fmt::format("set the throttle to {}", words(Ratio::of(throttle * ratio), shown, 3));
  }
  if (step.gas.size() == 1) {
    const plan::Given<MolarFlow>& flow = step.gas.front().flow;
    text += fmt::format("{} the flow to {}", text.empty() ? "set" : " or",
                        flow_words(MolarFlow(flow.value / ratio), flow.unit, reference, 3));
  }
  return text.empty() ? "lower the flows or raise the pumping speed" : text;
}

void working_pressure_off(const Facts& facts, Findings& out) {
  for (std::size_t i = 0; i < facts.steps().size() && i < facts.prediction.steps.size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const std::optional<Estimate<Pressure>>& predicted = facts.prediction.steps[i].working_pressure;
    if (!step.pressure || !predicted || step.pumps.empty()) continue;  // no pumps named, no claim
    const double value_pa = predicted->value.value();
    const double u_pa = expanded(*predicted).value();
    const Band band = band_of(step);
    if (value_pa >= band.low_pa * (1 - 1e-9) && value_pa <= band.high_pa * (1 + 1e-9)) continue;
    const bool sure = value_pa - u_pa > band.high_pa || value_pa + u_pa < band.low_pa;
    const Unit& unit = step.pressure->unit;
    Diagnostic& d = out.add(sure ? Severity::error : Severity::warning, step.pressure->at,
                            fmt::format("flow and pumping speed of '{}' {} give {}", step.name.value,
                                        sure ? "do not" : "may not", words(*step.pressure)));
    d.found = words(*predicted, unit);
    d.bound = fmt::format("{} to {}", number(in<Pressure>(Pressure::from_value(band.low_pa), unit), 3),
                          words(Pressure::from_value(band.high_pa), unit, 3));
    if (!band.at) d.bound += fmt::format(", {} % either side", number(100 * pressure_tolerance, 2));
    d.assumed.push_back(fmt::format("pumping speeds known to {} %", number(100 * speed_uncertainty, 2)));
    d.remedy = pressure_remedy(step, value_pa, facts.plan.chamber.reference);
    if (band.at) d.second = second_place(*band.at, "the limits it must keep to");
  }
}

// A pump's valve that opens in a step, and the pressure in the chamber at that moment.
struct Opening {
  const plan::Step* step = nullptr;
  const plan::GivenText* named_at = nullptr;
  const plan::Pump* pump = nullptr;
  double pressure_pa = 0;
  Region pressure_at;    // what states that pressure
  bool working = false;  // not the pressure at opening but the one the step then works at
};

bool open_before(const Situation& before, const std::string& pump) {
  if (before.previous == nullptr || before.at_air) return false;
  const std::vector<plan::GivenText>& pumps = before.previous->pumps;
  return std::any_of(pumps.begin(), pumps.end(),
                     [&](const plan::GivenText& name) { return name.value == pump; });
}

std::vector<Opening> openings(const Facts& facts) {
  std::vector<Opening> all;
  for (std::size_t i = 0; i < facts.steps().size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const Situation& before = facts.before[i];
    std::optional<double> pressure_pa;
    if (before.at_air) pressure_pa = atmosphere_pa;
    if (before.pressure) pressure_pa = before.pressure->value();
    Region at = before.pressure_at;
    bool pumped = false;  // by an earlier pump of the same step
    for (const plan::GivenText& name : step.pumps) {
      const plan::Pump* pump = plan::pump(facts.plan.chamber, name.value);
      if (pump == nullptr) continue;
      if (is_high_vacuum(*pump) && pump->crossover_max) {
        // A pump before it in a pumpdown works until this one may be opened.
        if (pumped && step.kind == StepKind::pumpdown && pressure_pa &&
            *pressure_pa > pump->crossover_max->value.value()) {
          pressure_pa = pump->crossover_max->value.value();
          at = pump->crossover_max->at;
        }
        if (pressure_pa && !open_before(before, name.value))
          all.push_back({&step, &name, pump, *pressure_pa, at});
        if (step.pressure)
          all.push_back({&step, &name, pump, step.pressure->value.value(), step.pressure->at, true});
      }
      pumped = true;
    }
  }
  return all;
}

const Unit& pressure_unit(const plan::Maybe<Pressure>& given) {
  return given ? given->unit : unit("mbar", Kind::pressure);
}

void crossover_too_high(const Facts& facts, Findings& out) {
  for (const Opening& o : openings(facts)) {
    const plan::Given<Pressure>& most = *o.pump->crossover_max;
    if (o.pressure_pa <= most.value.value() * (1 + 1e-9)) continue;
    Diagnostic& d =
        out.add(o.named_at->at, fmt::format("'{}' {} '{}' above its crossover pressure", o.step->name.value,
                                            o.working ? "works with" : "opens", o.pump->name.value));
    d.found = words(Pressure::from_value(o.pressure_pa), most.unit);
    d.bound = "at most " + words(most);
    d.remedy = o.working ? fmt::format("work at {} or below, or with a roughing pump", words(most))
                         : fmt::format("rough the chamber to {} or below before", words(most));
    if (o.pressure_at.source) {
      d.second =
          second_place(o.pressure_at, o.working ? "the pressure it works at" : "the pressure it starts from");
    } else {
      d.assumed.push_back("the chamber is at air before this step");
    }
  }
}

void crossover_gulp(const Facts& facts, Findings& out) {
  const plan::Given<Volume>& volume = facts.plan.chamber.volume;
  for (const Opening& o : openings(facts)) {
    if (o.working || !o.pump->crossover_capacity ||
        o.pressure_pa > o.pump->crossover_max->value.value() * (1 + 1e-9))
      continue;
    const plan::Given<Energy>& most = *o.pump->crossover_capacity;
    const double number_of_pumps = std::max(o.pump->number.value.value(), 1.0);
    const Energy each = Energy::from_value(o.pressure_pa * volume.value.value() / number_of_pumps);
    if (each.value() <= most.value.value() * (1 + 1e-9)) continue;
    Diagnostic& d = out.add(o.named_at->at, fmt::format("'{}' gives '{}' more gas at once than it can take",
                                                        o.step->name.value, o.pump->name.value));
    d.found = fmt::format("{} each ({} at {}, {} pump{})", words(each, most.unit), words(volume),
                          words(Pressure::from_value(o.pressure_pa), o.pump->crossover_max->unit),
                          number(number_of_pumps, 3), number_of_pumps == 1 ? "" : "s");
    d.bound = "at most " + words(most) + " each";
    d.remedy = fmt::format(
        "cross over at {} or below",
        at_most_words(Pressure::from_value(most.value.value() * number_of_pumps / volume.value.value()),
                      pressure_unit(o.pump->crossover_max)));
    d.second = second_place(o.pressure_at, "the pressure it opens at");
  }
}

void crossover_too_low(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for (const plan::Step& step : facts.steps()) {
    if (step.kind != StepKind::pumpdown) continue;
    for (std::size_t i = 0; i < step.pumps.size(); ++i) {
      const plan::Pump* pump = plan::pump(chamber, step.pumps[i].value);
      if (pump == nullptr || is_high_vacuum(*pump) || !pump->crossover_min) continue;
      const plan::Pump* next =
          i + 1 < step.pumps.size() ? plan::pump(chamber, step.pumps[i + 1].value) : nullptr;
      const plan::Maybe<Pressure>& lowest = next != nullptr ? next->crossover_max : step.end.pressure;
      const plan::Given<Pressure>& least = *pump->crossover_min;
      if (!lowest || lowest->value.value() >= least.value.value() * (1 - 1e-9)) continue;
      Diagnostic& d = out.add(next != nullptr ? step.pumps[i].at : lowest->at,
                              fmt::format("'{}' pumps with '{}' so low that oil or particles stream back",
                                          step.name.value, pump->name.value));
      d.found = words(*lowest);
      d.bound = "at least " + words(least.value, lowest->unit);
      d.remedy = next != nullptr
                     ? fmt::format("let '{}' take over at {} or above", next->name.value,
                                   words(least.value, lowest->unit))
                     : fmt::format("end the step at {} or above", words(least.value, lowest->unit));
      d.second = second_place(least.at, fmt::format("the lowest '{}' may be used at", pump->name.value));
    }
  }
}

void too_much_oxygen(const plan::Chamber& chamber, const plan::Step& step, const plan::Pump& pump,
                     const plan::GasFlow& gas, Findings& out) {
  const MolarFlow most =
      pump.oxygen_max->value.resolve(chamber.reference) * std::max(pump.number.value.value(), 1.0);
  if (gas.flow.value.value() <= most.value() * (1 + 1e-9)) return;
  const Unit& unit = gas.flow.unit;
  Diagnostic& d = out.add(gas.flow.at, fmt::format("'{}' lets more oxygen into '{}' than it may take",
                                                   step.name.value, pump.name.value));
  d.found = flow_words(gas.flow.value, unit, chamber.reference);
  d.bound = "at most " + flow_words(most, unit, chamber.reference);
  if (pump.number.value.value() > 1) d.assumed.push_back("the oxygen is shared evenly by all of these pumps");
  d.remedy = fmt::format("let in at most {}, or run the step on the roughing pumps",
                         with_unit(rounded_down(flow_in(most, unit, chamber.reference)), unit, 3));
  d.second = second_place(pump.oxygen_max->at, fmt::format("what each '{}' may take", pump.name.value));
}

// Without a bound nothing can be judged, but nobody should do this without having thought of one.
void oxygen_unbounded(const plan::Chamber& chamber, const plan::Step& step, const plan::Pump& pump,
                      const plan::GasFlow& gas, Findings& out) {
  Diagnostic& d = out.add(
      Severity::note, gas.flow.at,
      fmt::format("'{}' lets oxygen into '{}', and the chamber file does not say how much it may take",
                  step.name.value, pump.name.value));
  d.found = flow_words(gas.flow.value, gas.flow.unit, chamber.reference);
  d.remedy = "state oxygen_max of the pump in the chamber file, or run the step on the roughing pumps";
  d.second = second_place(pump.name.at, "no oxygen_max here");
}

void oxygen_to_cryopump(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for (const plan::Step& step : facts.steps()) {
    for (const plan::GivenText& name : step.pumps) {
      const plan::Pump* pump = plan::pump(chamber, name.value);
      if (pump == nullptr) continue;
      for (const plan::GasFlow& gas : step.gas) {
        const plan::GasLine* line = plan::gas_line(chamber, gas.line.value);
        if (line == nullptr || line->gas.value != "O2") continue;
        if (pump->oxygen_max) {
          too_much_oxygen(chamber, step, *pump, gas, out);
        } else if (pump->kind == plan::PumpKind::cryo) {
          oxygen_unbounded(chamber, step, *pump, gas, out);
        }
      }
    }
  }
}

}  // namespace

std::vector<RuleEntry> pumping_rules() {
  return {
      {{"base-pressure-out-of-reach", Severity::error, "a pressure this chamber cannot reach",
        "The pressure the step waits for is below what the chamber comes to after a week: outgassing of "
        "all surfaces after that time over the pumping speed for water, plus a leak at its limit over the "
        "speed for nitrogen. With roughing pumps alone it is what they reach by themselves. Outgassing is "
        "taken to be known to 50 % (standard), so a pressure just below the floor is a warning. Mend the "
        "leak, the walls or the wish."},
       base_pressure_out_of_reach},
      {{"pumpdown-too-slow", Severity::error, "a pumpdown that takes longer than it may",
        "The pumpdown is integrated through roughing, crossover and high vacuum with the volume, the "
        "speeds and the outgassing of the chamber file, air and water apart, and held against the longest "
        "time the step may take. When only the uncertainty reaches past the bound it is a warning. Wet "
        "walls make it longer: give the step room."},
       pumpdown_too_slow},
      {{"working-pressure-off", Severity::error, "flow and pumping speed do not give the pressure wanted",
        "The pressure of a step is its gas flow, as pressure times volume at the chamber's gas "
        "temperature, over the pumping speed that the throttle leaves, gas by gas. It must lie inside the "
        "step's limits on chamber.pressure, or within 10 % of the setpoint when there are none. Pumping "
        "speeds are taken to be known to 10 % (standard); when the uncertainty decides it is a warning. "
        "The remedy says which throttle or flow would give the pressure."},
       working_pressure_off},
      {{"crossover-too-high", Severity::error, "a high-vacuum pump opened to too much pressure",
        "The step opens a high-vacuum pump while the chamber is above the pump's crossover pressure, or "
        "works above it with the pump open. A cryopump warms up and lets go of everything it holds; a "
        "turbopump stalls. In a pumpdown that names a roughing pump first, that pump works until the "
        "crossover pressure is reached."},
       crossover_too_high},
      {{"crossover-gulp", Severity::error, "more gas at crossover than the pump can take at once",
        "When the valve opens, the pump takes the whole content of the chamber at once: volume times "
        "pressure, shared by the pumps. It is held against the pump's crossover capacity. A large chamber "
        "can be too much even at a pressure that is low enough."},
       crossover_gulp},
      {{"crossover-too-low", Severity::error, "a roughing pump used so low that it streams back",
        "Below the pressure in the chamber file the gas no longer sweeps oil vapour or particles out of a "
        "roughing pump, and they wander up the line on to the optic. Cross over, or end the step, above "
        "it."},
       crossover_too_low},
      {{"oxygen-to-cryopump", Severity::error, "more oxygen into a cryopump than is allowed",
        "A cryopump keeps the oxygen it takes. In the warm-up it comes off together with whatever else is "
        "there, and ozone from a discharge can explode. The flow is held against the chamber file's bound "
        "for each pump. Where the file states none it is a note: nothing can be judged then."},
       oxygen_to_cryopump},
  };
}

}  // namespace vacuary::check
