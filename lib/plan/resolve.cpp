// References between the files of a plan.
#include <fmt/format.h>

#include <algorithm>

#include "plan/kind.hpp"
#include "plan/tables.hpp"

namespace vacuary::plan {
namespace {

// A device of the chamber, and where its name stands.
struct Device {
  const char* sort;
  const GivenText* name;
};

template <class T>
void add(std::vector<Device>& devices, const char* sort, const std::vector<T>& all) {
  for (const T& one : all) devices.push_back({sort, &one.name});
}

std::vector<Device> devices_of(const Chamber& chamber) {
  std::vector<Device> devices;
  add(devices, "gauge", chamber.gauges);
  add(devices, "gas line", chamber.gas_lines);
  add(devices, "supply", chamber.supplies);
  add(devices, "cathode", chamber.cathodes);
  add(devices, "pump", chamber.pumps);
  add(devices, "crystal", chamber.crystals);
  return devices;
}

// Complains unless the chamber has a `sort` called `word`.
void resolve(Reader& reader, const std::string& word, const Region& at, const char* sort,
             const Chamber& chamber) {
  if (at.source == nullptr || reader.broken) return;
  std::vector<std::string> known;
  const auto devices = devices_of(chamber);
  for (const Device& device : devices) {
    if (device.sort != std::string(sort)) continue;
    if (device.name->value == word) return;
    known.push_back(device.name->value);
  }
  const std::string message = fmt::format("the chamber has no {} '{}'", sort, word);
  const std::string wanted = nearest(word, known).value_or(word);
  reader.unknown("unknown-reference", at, message, word, known);
  for (const Device& device : devices) {
    if (device.name->value != wanted || reader.diagnostics.empty()) continue;
    if (const auto place = device.name->at.place()) {
      reader.diagnostics.back().second =
          SecondPlace{*place, fmt::format("this is the {} '{}'", device.sort, wanted)};
    }
  }
}

const char* sort_of(What what) {
  switch (what) {
    case What::pressure:
      return "gauge";
    case What::flow:
      return "gas line";
    case What::power:
    case What::voltage:
    case What::current:
    case What::energy:
    case What::arcs:
      return "supply";
    case What::open:
      return "cathode";
    case What::frequency:
      return "crystal";
    default:
      return nullptr;
  }
}

void needs_builtin(Reader& reader, const Channel& channel, const Region& at, const char* device) {
  if (channel.device == device) return;
  reader.complain("unknown-reference", at, fmt::format("there is no channel '{}'", channel.name()),
                  fmt::format("did you mean '{}.{}'?", device, name(channel.what)));
}

void resolve_step(Reader& reader, const Step& step, const Plan& plan) {
  const Chamber& chamber = plan.chamber;
  for (const GasFlow& flow : step.gas) resolve(reader, flow.line.value, flow.line.at, "gas line", chamber);
  for (const GivenText& pump : step.pumps) resolve(reader, pump.value, pump.at, "pump", chamber);
  if (step.cathode) resolve(reader, step.cathode->value, step.cathode->at, "cathode", chamber);
  for (const Limit& limit : step.limits) {
    if (const auto channel = parse_channel(limit.channel.value)) {
      resolve_channel(reader, *channel, limit.channel.at, chamber);
    }
  }
  if (step.rotation && !chamber.rotation_max && !reader.broken) {
    reader.complain("unknown-reference", step.rotation->at, "the chamber states no rotation",
                    "add [rotation] to the chamber file, or leave this out");
  }
  const StepKindEntry& kind = *step_kinds()[static_cast<std::size_t>(step.kind)];
  if (step.kind_at.source != nullptr && kind.check != nullptr) kind.check(step, plan, reader);
}

}  // namespace

void resolve_channel(Reader& reader, const Channel& channel, const Region& at, const Chamber& chamber) {
  switch (channel.what) {
    case What::angle:
    case What::speed:
    case What::index:
      return needs_builtin(reader, channel, at, "optic");
    case What::step:
      return needs_builtin(reader, channel, at, "run");
    case What::temperature:
    case What::state:
    case What::alarm:
      return;  // any name
    default:
      break;
  }
  if (channel.what == What::pressure && channel.device == "chamber") return;
  resolve(reader, channel.device, at, sort_of(channel.what), chamber);
}

void resolve_recipe(Reader& reader, const Plan& plan) {
  for (const Step& step : plan.recipe.steps) resolve_step(reader, step, plan);
}

}  // namespace vacuary::plan
