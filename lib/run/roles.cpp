#include "run/roles.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace vacuary::run {
namespace {

using plan::Channel;
using plan::What;

bool uses_cathode(const plan::Plan& plan, const std::string& name) {
  return std::any_of(plan.recipe.steps.begin(), plan.recipe.steps.end(),
                     [&](const plan::Step& step) { return step.cathode && step.cathode->value == name; });
}

bool uses_rotation(const plan::Plan& plan) {
  return std::any_of(plan.recipe.steps.begin(), plan.recipe.steps.end(),
                     [](const plan::Step& step) { return step.rotation.has_value(); });
}

bool uses_glow(const plan::Plan& plan) {
  return std::any_of(plan.recipe.steps.begin(), plan.recipe.steps.end(),
                     [](const plan::Step& step) { return step.kind == plan::StepKind::plasma_clean; });
}

bool uses_line(const plan::Plan& plan, const std::string& name) {
  for (const plan::Step& step : plan.recipe.steps) {
    for (const plan::GasFlow& gas : step.gas) {
      if (gas.line.value == name) return true;
    }
  }
  return false;
}

struct Wish {
  Channel channel;
  std::string without;  // what cannot be said without it; empty: nothing is lost
};

void wish(std::vector<Wish>& wishes, const std::string& device, What what, const char* without) {
  Wish& next = wishes.emplace_back();
  next.channel.device = device;
  next.channel.what = what;
  next.without = without;
}

void wish_for_cathode(std::vector<Wish>& wishes, const plan::Cathode& cathode) {
  const std::string& supply = cathode.supply.value;
  wish(wishes, supply, What::power, "the energy has to come from voltage and current, or cannot be said");
  wish(wishes, supply, What::voltage,
       "no film thickness can be claimed: power and energy look the same over a clean and over an "
       "oxidised target, only the voltage tells them apart");
  wish(wishes, supply, What::current, "the power reading cannot be held against voltage times current");
  wish(wishes, supply, What::energy,
       "the energy inside a gap of the log is only known to lie between none and "
       "rated power");
  wish(wishes, supply, What::arcs, "");
  wish(wishes, cathode.name.value, What::open,
       "the shutter is taken to be open during every sputter step and shut otherwise");
}

std::vector<Wish> wishes_of(const plan::Plan& plan) {
  std::vector<Wish> wishes;
  wish(wishes, "run", What::step, "the steps have to be inferred from what the plant did");
  wish(wishes, "chamber", What::pressure, "");
  for (const plan::Gauge& gauge : plan.chamber.gauges) wish(wishes, gauge.name.value, What::pressure, "");
  for (const plan::Cathode& cathode : plan.chamber.cathodes) {
    if (uses_cathode(plan, cathode.name.value)) wish_for_cathode(wishes, cathode);
  }
  for (const plan::GasLine& line : plan.chamber.gas_lines) {
    if (uses_line(plan, line.name.value)) {
      wish(wishes, line.name.value, What::flow,
           "a change of pressure cannot be traced to the gas or to the pumps, and gauges are not "
           "corrected for this gas");
    }
  }
  for (const plan::Pump& pump : plan.chamber.pumps) {
    if (pump.kind == plan::PumpKind::cryo) wish(wishes, pump.name.value, What::temperature, "");
  }
  for (const plan::Crystal& crystal : plan.chamber.crystals) {
    if (uses_cathode(plan, crystal.cathode.value))
      wish(wishes, crystal.name.value, What::frequency, "the crystal cannot be held against the energy");
  }
  if (uses_rotation(plan)) {
    wish(wishes, "optic", What::speed, "a slow or halted optic shows only in its angle");
    wish(wishes, "optic", What::angle, "where on the optic something happened cannot be said");
    wish(wishes, "optic", What::index, "");
  }
  if (uses_glow(plan) && plan.chamber.glow) {
    const std::string& glow = plan.chamber.glow->supply.value;
    wish(wishes, glow, What::voltage, "");
    wish(wishes, glow, What::power, "");
    wish(wishes, glow, What::current, "it cannot be said whether the glow burned");
  }
  return wishes;
}

CathodeRoles roles_of(const plan::Plan& plan, const plan::Cathode& cathode, const log::Header& header) {
  const std::string& supply = cathode.supply.value;
  CathodeRoles roles;
  roles.cathode = &cathode;
  roles.supply = plan::supply(plan.chamber, supply);
  roles.power = header.find({supply, What::power});
  roles.voltage = header.find({supply, What::voltage});
  roles.current = header.find({supply, What::current});
  roles.energy = header.find({supply, What::energy});
  roles.arcs = header.find({supply, What::arcs});
  roles.open = header.find({cathode.name.value, What::open});
  return roles;
}

}  // namespace

bool lays_film(const plan::Plan& plan) {
  return plan.optic.has_value() &&
         std::any_of(plan.recipe.steps.begin(), plan.recipe.steps.end(),
                     [](const plan::Step& step) { return step.kind == plan::StepKind::sputter; });
}

Roles find_roles(const plan::Plan& plan, const log::Header& header) {
  Roles roles;
  for (const plan::Cathode& cathode : plan.chamber.cathodes) {
    if (uses_cathode(plan, cathode.name.value)) roles.cathodes.push_back(roles_of(plan, cathode, header));
  }
  for (const plan::Gauge& gauge : plan.chamber.gauges) {
    roles.gauges.push_back({&gauge, header.find({gauge.name.value, What::pressure})});
  }
  for (const plan::GasLine& line : plan.chamber.gas_lines) {
    roles.flows.push_back({&line, header.find({line.name.value, What::flow})});
  }
  if (plan.chamber.glow) {
    const std::string& glow = plan.chamber.glow->supply.value;
    roles.glow = {plan::supply(plan.chamber, glow), header.find({glow, What::power}),
                  header.find({glow, What::voltage}), header.find({glow, What::current})};
  }
  roles.chamber_pressure = header.find({"chamber", What::pressure});
  roles.speed = header.find({"optic", What::speed});
  roles.angle = header.find({"optic", What::angle});
  roles.index = header.find({"optic", What::index});
  roles.step = header.find({"run", What::step});
  return roles;
}

std::vector<std::string> missing_channels(const plan::Plan& plan, const log::Header& header,
                                          const Roles& roles) {
  std::vector<std::string> missing;
  for (const Wish& wish : wishes_of(plan)) {
    if (wish.without.empty() || header.find(wish.channel) >= 0) continue;
    missing.push_back(fmt::format("{}: without it {}", wish.channel.name(), wish.without));
  }
  const bool any_gauge = std::any_of(roles.gauges.begin(), roles.gauges.end(),
                                     [](const GaugeRoles& gauge) { return gauge.pressure >= 0; });
  if (!any_gauge && roles.chamber_pressure < 0) {
    missing.push_back(
        "chamber.pressure: without it, or a gauge of the chamber file, nothing can be said about the vacuum");
  }
  // A limit on a channel that is not logged cannot be watched; say so once for each channel.
  std::set<std::string> said;
  for (const plan::Step& step : plan.recipe.steps) {
    for (const plan::Limit& limit : step.limits) {
      const auto channel = plan::parse_channel(limit.channel.value);
      if (!channel || header.find(*channel) >= 0) continue;
      if (channel->device == "chamber" && any_gauge) continue;
      if (!said.insert(limit.channel.value).second) continue;
      missing.push_back(fmt::format("{}: without it its limit in step '{}' cannot be watched",
                                    limit.channel.value, step.name.value));
    }
  }
  return missing;
}

std::vector<std::string> wanted_channels(const plan::Plan& plan, const plan::ChannelMap& map) {
  std::vector<std::string> names;
  const auto want = [&](const std::string& name) {
    if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
  };
  for (const Wish& wish : wishes_of(plan)) want(wish.channel.name());
  for (const plan::Step& step : plan.recipe.steps) {
    for (const plan::Limit& limit : step.limits) want(limit.channel.value);
  }
  for (const plan::Column& column : map.columns) want(column.channel.name());
  return names;
}

}  // namespace vacuary::run
