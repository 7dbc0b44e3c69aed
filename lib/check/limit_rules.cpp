// Limits that can do what they are for: hold the setpoint, be crossed, be told apart by the
// instrument, and be under watch at all; and the longest time a step may take.
#include <algorithm>
#include <optional>

#include "check/rule.hpp"
#include "check/words.hpp"
#include "plan/channel.hpp"

namespace vacuary::check {
namespace {

// What a channel can show, in SI. `who` is the device that sets it.
struct Scale {
  double low_si = 0;
  double high_si = 0;
  Region at;
  std::string who;
};

Scale gauge_scale(const plan::Gauge& gauge) {
  return {gauge.low.value.value(), gauge.high.value.value(), gauge.high.at, gauge.name.value};
}

std::optional<Scale> supply_scale(const plan::Supply& supply, plan::What what) {
  if (what == plan::What::power)
    return Scale{0, supply.power_max.value.value(), supply.power_max.at, supply.name.value};
  if (what == plan::What::voltage)
    return Scale{0, supply.voltage_max.value.value(), supply.voltage_max.at, supply.name.value};
  if (what == plan::What::current)
    return Scale{0, supply.current_max.value.value(), supply.current_max.at, supply.name.value};
  return std::nullopt;
}

std::optional<Scale> scale_of(const plan::Chamber& chamber, const plan::Channel& channel) {
  if (channel.device == "chamber" && channel.what == plan::What::pressure) {
    std::optional<Scale> all;
    for (const plan::Gauge& gauge : chamber.gauges) {
      const Scale one = gauge_scale(gauge);
      if (!all) all = Scale{one.low_si, one.high_si, one.at, "any gauge"};
      all->low_si = std::min(all->low_si, one.low_si);
      all->high_si = std::max(all->high_si, one.high_si);
    }
    return all;
  }
  if (channel.device == "optic" && channel.what == plan::What::speed && chamber.rotation_max) {
    return Scale{0, chamber.rotation_max->value.value(), chamber.rotation_max->at, "the rotation"};
  }
  if (const plan::Gauge* gauge = plan::gauge(chamber, channel.device)) return gauge_scale(*gauge);
  if (const plan::Supply* supply = plan::supply(chamber, channel.device))
    return supply_scale(*supply, channel.what);
  if (const plan::GasLine* line = plan::gas_line(chamber, channel.device)) {
    return Scale{0, line->full_scale.value.resolve(chamber.reference).value(), line->full_scale.at,
                 line->name.value};
  }
  return std::nullopt;
}

// What the plan makes a channel show during a step, in SI.
struct Expected {
  double value_si = 0;
  Region at;             // where the plan says so; nowhere when nothing is asked for
  bool in_use = true;    // false: nothing in the step turns this device on
  bool assumed = false;  // not set by the recipe but expected, as a discharge voltage
};

std::optional<Expected> expected_pressure(const plan::Chamber& chamber, const plan::Step& step,
                                          const plan::Channel& channel) {
  if (!step.pressure) return std::nullopt;
  const double true_pa = step.pressure->value.value();
  const plan::Gauge* gauge = plan::gauge(chamber, channel.device);
  if (gauge == nullptr) return Expected{true_pa, step.pressure->at};
  return Expected{true_pa * sensitivity(*gauge, main_gas(chamber, step, step.pressure->value)),
                  step.pressure->at};
}

std::optional<Expected> expected_flow(const plan::Step& step, const plan::Channel& channel) {
  for (const plan::GasFlow& gas : step.gas) {
    if (gas.line.value == channel.device) return Expected{gas.flow.value.value(), gas.flow.at};
  }
  return Expected{0, {}, false};
}

template <class Q>
std::optional<Expected> stated(const plan::Maybe<Q>& given) {
  if (!given) return std::nullopt;
  return Expected{given->value.value(), given->at};
}

std::optional<Expected> expected_of_glow(const plan::Step& step, plan::What what) {
  if (what == plan::What::voltage) return stated(step.voltage);
  if (what == plan::What::current) return stated(step.current);
  if (what == plan::What::power && step.voltage && step.current) {
    return Expected{step.voltage->value.value() * step.current->value.value(), step.current->at};
  }
  return std::nullopt;
}

std::optional<Expected> expected_of_supply(const plan::Chamber& chamber, const plan::Step& step,
                                           const plan::Channel& channel) {
  const plan::Cathode* cathode = step.cathode ? plan::cathode(chamber, step.cathode->value) : nullptr;
  if (cathode != nullptr && cathode->supply.value == channel.device) {
    if (channel.what == plan::What::power) return stated(step.power);
    if (channel.what != plan::What::voltage) return std::nullopt;
    return Expected{cathode->calibration.voltage.value.value(), cathode->calibration.voltage.at, true, true};
  }
  if (step.kind == plan::StepKind::plasma_clean && chamber.glow &&
      chamber.glow->supply.value == channel.device) {
    return expected_of_glow(step, channel.what);
  }
  return Expected{0, {}, false};
}

std::optional<Expected> expected_of(const plan::Chamber& chamber, const plan::Step& step,
                                    const plan::Channel& channel) {
  switch (channel.what) {
    case plan::What::pressure:
      return expected_pressure(chamber, step, channel);
    case plan::What::flow:
      return expected_flow(step, channel);
    case plan::What::power:
    case plan::What::voltage:
    case plan::What::current:
      return expected_of_supply(chamber, step, channel);
    case plan::What::speed:
      if (channel.device != "optic") return std::nullopt;
      return step.rotation ? stated(step.rotation) : Expected{0, {}, false};
    default:
      return std::nullopt;
  }
}

// A limit's bounds are kept in SI; this says one in the unit it was written in.
std::string limit_words(double value_si, const plan::Limit& limit, const GasReference& reference,
                        int digits = 4) {
  if (limit.unit.kind == Kind::flow)
    return flow_words(MolarFlow::from_value(value_si), limit.unit, reference, digits);
  return with_unit(value_si / limit.unit.factor - limit.unit.offset, limit.unit, digits);
}

std::string band_words(const plan::Limit& limit, const GasReference& reference) {
  if (limit.low_si && limit.high_si) {
    return fmt::format("{} to {}", limit_words(*limit.low_si, limit, reference),
                       limit_words(*limit.high_si, limit, reference));
  }
  if (limit.low_si) return "at least " + limit_words(*limit.low_si, limit, reference);
  return limit.high_si ? "at most " + limit_words(*limit.high_si, limit, reference) : "no bound";
}

template <class Look>
void for_each_limit(const Facts& facts, const Look& look) {
  for (const plan::Step& step : facts.steps()) {
    for (const plan::Limit& limit : step.limits) {
      const std::optional<plan::Channel> channel = plan::parse_channel(limit.channel.value);
      if (channel) look(step, limit, *channel);
    }
  }
}

void setpoint_outside_limits(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for_each_limit(facts, [&](const plan::Step& step, const plan::Limit& limit, const plan::Channel& channel) {
    const std::optional<Expected> expected = expected_of(chamber, step, channel);
    if (!expected) return;
    const double value = expected->value_si;
    const bool low = limit.low_si && value < *limit.low_si * (1 - 1e-9);
    const bool high = limit.high_si && value > *limit.high_si * (1 + 1e-9);
    if (!low && !high) return;
    const Region& at = low ? limit.low_at : limit.high_at;
    if (!expected->in_use) {
      Diagnostic& d = out.add(at, fmt::format("'{}' has a low limit in '{}', where it is not in use",
                                              limit.channel.value, step.name.value));
      d.found = limit_words(0, limit, chamber.reference);
      d.bound = band_words(limit, chamber.reference);
      d.remedy = "take the limit out of this step, or state what the step uses";
      return;
    }
    Diagnostic& d =
        expected->assumed
            ? out.add(Severity::warning, at,
                      fmt::format("the limits of '{}' in '{}' leave out the voltage it is calibrated at",
                                  limit.channel.value, step.name.value))
            : out.add(at, fmt::format("the limits of '{}' in '{}' leave out the step's own setpoint",
                                      limit.channel.value, step.name.value));
    d.found = limit_words(value, limit, chamber.reference);
    d.bound = band_words(limit, chamber.reference);
    const plan::Gauge* gauge = plan::gauge(chamber, channel.device);
    if (gauge != nullptr && step.pressure) {
      const std::string gas = main_gas(chamber, step, step.pressure->value);
      const double factor = sensitivity(*gauge, gas);
      if (factor != 1) {
        d.assumed.push_back(fmt::format("'{}' shows {} times the true pressure of {}", gauge->name.value,
                                        number(factor, 3), gas));
      }
    }
    d.remedy = fmt::format("{} the {} limit past {}", low ? "lower" : "raise", low ? "low" : "high",
                           limit_words(value, limit, chamber.reference));
    d.second = second_place(expected->at, expected->assumed ? "calibrated here" : "set here");
  });
}

void limit_out_of_reach(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for_each_limit(facts, [&](const plan::Step& step, const plan::Limit& limit, const plan::Channel& channel) {
    const std::optional<Scale> scale = scale_of(chamber, channel);
    if (!scale) return;
    const auto complain = [&](const Region& at, bool high, double bound_si, double end_si) {
      Diagnostic& d = out.add(
          at, fmt::format("the {} limit of '{}' in '{}' can never be crossed: {} {} no {}",
                          high ? "high" : "low", limit.channel.value, step.name.value, scale->who,
                          channel.what == plan::What::pressure ? "reads" : "gives", high ? "more" : "less"));
      d.found = limit_words(bound_si, limit, chamber.reference);
      d.bound = fmt::format("{} {}", high ? "below" : "above", limit_words(end_si, limit, chamber.reference));
      d.remedy = fmt::format("set it {} {}, or watch another channel", high ? "below" : "above",
                             limit_words(end_si, limit, chamber.reference));
      d.second = second_place(scale->at, "its range");
    };
    if (limit.high_si && *limit.high_si > scale->high_si * (1 + 1e-9)) {
      complain(limit.high_at, true, *limit.high_si, scale->high_si);
    }
    if (limit.low_si && *limit.low_si < scale->low_si * (1 - 1e-9)) {
      complain(limit.low_at, false, *limit.low_si, scale->low_si);
    }
  });
}

// Standard uncertainty of what one gauge shows at `value_pa`. The zero of a capacitance gauge
// drifts, but it is found anew at every base pressure that another gauge shows to be nothing to it.
double gauge_uncertainty_pa(const plan::Chamber& chamber, const plan::Gauge& gauge, double value_pa) {
  const double gain_pa = gauge.accuracy.value.value() * value_pa;
  if (!gauge.zero_drift) return gain_pa;
  const double drift_pa = gauge.zero_drift->value.value();
  const bool zeroed = std::any_of(
      chamber.gauges.begin(), chamber.gauges.end(),
      [&](const plan::Gauge& other) { return &other != &gauge && other.low.value.value() < drift_pa / 10; });
  return zeroed ? gain_pa : std::hypot(gain_pa, drift_pa);
}

std::optional<double> instrument_uncertainty(const plan::Chamber& chamber, const plan::Channel& channel,
                                             double value_si) {
  if (channel.what == plan::What::flow) {
    const plan::GasLine* line = plan::gas_line(chamber, channel.device);
    if (line == nullptr) return std::nullopt;
    return line->accuracy.value.value() * line->full_scale.value.resolve(chamber.reference).value();
  }
  if (channel.what == plan::What::power) {
    const plan::Supply* supply = plan::supply(chamber, channel.device);
    if (supply == nullptr) return std::nullopt;
    return supply->power_accuracy.value.value() * value_si;
  }
  if (channel.what != plan::What::pressure) return std::nullopt;
  std::optional<double> best;
  for (const plan::Gauge& gauge : chamber.gauges) {
    const bool asked = channel.device == "chamber" || channel.device == gauge.name.value;
    if (!asked || value_si < gauge.low.value.value() || value_si > gauge.high.value.value()) continue;
    const double one = gauge_uncertainty_pa(chamber, gauge, value_si);
    if (!best || one < *best) best = one;
  }
  return best;
}

void limit_finer_than_instrument(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for_each_limit(facts, [&](const plan::Step& step, const plan::Limit& limit, const plan::Channel& channel) {
    if (!limit.low_si || !limit.high_si || *limit.low_si >= *limit.high_si) return;
    const double half_si = (*limit.high_si - *limit.low_si) / 2;
    const double middle_si = *limit.low_si + half_si;
    const std::optional<double> u_si = instrument_uncertainty(chamber, channel, middle_si);
    if (!u_si || half_si >= coverage * *u_si * (1 - 1e-9)) return;
    const auto say = [&](double value_si) {
      Unit difference = limit.unit;
      difference.offset = 0;
      if (difference.kind == Kind::flow)
        return flow_words(MolarFlow::from_value(value_si), difference, chamber.reference, 3);
      return with_unit(value_si / difference.factor, difference, 3);
    };
    Diagnostic& d =
        out.add(limit.low_at,
                fmt::format("the limits of '{}' in '{}' are closer together than its instrument can tell",
                            limit.channel.value, step.name.value));
    d.found = "half width " + say(half_si);
    d.bound =
        fmt::format("at least {}, the instrument's uncertainty (k = 2)", say(rounded_up(coverage * *u_si)));
    d.remedy = fmt::format("leave at least {} either side of {}", say(rounded_up(coverage * *u_si)),
                           limit_words(middle_si, limit, chamber.reference));
  });
}

void limit_never_applies(const Facts& facts, Findings& out) {
  for (const plan::Step& step : facts.steps()) {
    if (step.limits.empty()) continue;
    const Duration lasts = planned_duration(step).value_or(step.longest.value);
    if (step.settle && step.settle->value >= lasts) {
      Diagnostic& d = out.add(
          step.settle->at,
          fmt::format("the limits of '{}' never apply: it settles for as long as it lasts", step.name.value));
      d.found = words(*step.settle);
      d.bound = "shorter than the step, " + words(lasts, step.settle->unit);
      d.remedy = "shorten the settling time";
      continue;
    }
    for (const plan::Limit& limit : step.limits) {
      if (limit.may_last.value < lasts) continue;
      Diagnostic& d = out.add(
          limit.may_last.at,
          fmt::format("the limits of '{}' in '{}' watch nothing: an excursion may last as long as the step",
                      limit.channel.value, step.name.value));
      d.found = words(limit.may_last);
      d.bound = "shorter than the step, " + words(lasts, limit.may_last.unit);
      d.remedy = "shorten may_last";
    }
  }
}

void longest_too_short(const Facts& facts, Findings& out) {
  for (std::size_t i = 0; i < facts.steps().size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const std::optional<Duration> planned = planned_duration(step);
    if (!planned || planned->value() <= step.longest.value.value() * (1 + 1e-9)) continue;
    const Unit& unit = step.longest.unit;
    Diagnostic& d = out.add(step.longest.at,
                            fmt::format("'{}' may not last as long as it is planned to", step.name.value));
    d.found = fmt::format("planned to last {}", words(*planned, unit));
    d.bound = "at most " + words(step.longest);
    if (step.end.energy) d.assumed.push_back("full power from the end of the ramp on");
    d.remedy = fmt::format("allow at least {}", at_least_words(*planned, unit));
    d.second = second_place(step.end.at, "how the step ends");
  }
}

}  // namespace

std::vector<RuleEntry> limit_rules() {
  return {
      {{"setpoint-outside-limits", Severity::error, "limits that leave out the step's own setpoint",
        "The step asks for a value that its own limits call a deviation. A channel of a gauge that reads "
        "nitrogen-equivalent shows the true pressure times the gauge's factor for the gas, so its limits "
        "must be around that reading. A low limit on something the step does not turn on is the same "
        "mistake. The discharge voltage of a cathode is no setpoint: limits that leave out the calibrated "
        "voltage are a warning."},
       setpoint_outside_limits},
      {{"limit-out-of-reach", Severity::warning, "a limit beyond what its channel can show",
        "The channel cannot show a value on the far side of the limit: a gauge stays at the end of its "
        "range, a supply limits itself. The limit looks as if something were watched and watches nothing."},
       limit_out_of_reach},
      {{"limit-finer-than-instrument", Severity::warning, "limits narrower than the instrument's uncertainty",
        "Half the distance between the limits is less than the expanded uncertainty (k = 2) of the "
        "instrument, so a deviation cannot be told from the instrument's own error. For the chamber's "
        "pressure the best gauge in that range counts. The zero drift of a capacitance gauge counts only "
        "when no other gauge reads low enough to find its zero."},
       limit_finer_than_instrument},
      {{"limit-never-applies", Severity::warning, "limits that are never in force",
        "Limits apply after the settling time, and an excursion shorter than may_last is let pass. When "
        "either is as long as the step no excursion can ever be a deviation."},
       limit_never_applies},
      {{"longest-too-short", Severity::error, "a step that must end before it is done",
        "The longest time the step may take is shorter than the step as planned: its time, its turns at "
        "its rotation, or its energy at its power. Every run of it would be called late."},
       longest_too_short},
  };
}

}  // namespace vacuary::check
