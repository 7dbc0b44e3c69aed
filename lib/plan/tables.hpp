// The root tables of the formats, and what reads them.
#pragma once

#include "plan/measured.hpp"
#include "plan/section.hpp"
#include "plan/strip.hpp"

namespace vacuary::plan {

[[nodiscard]] const Section<Chamber>& chamber_section();
[[nodiscard]] const Section<Optic>& optic_section();
[[nodiscard]] const Section<Recipe>& recipe_section();
[[nodiscard]] const Section<ChannelMap>& channels_section();
[[nodiscard]] const Section<Measured>& measured_section();
[[nodiscard]] const Section<Strip>& strip_section();

[[nodiscard]] const Variants& pump_variants();
[[nodiscard]] const Variants& step_variants();
[[nodiscard]] const Variants& time_variants();

// Reads the `format` key: complains unless it is `name` in a version this release reads. False when
// the file is of another format or version: its keys could mean something else.
[[nodiscard]] bool read_format(Reader& reader, const Node& root, const std::string& name);

// Names of a chamber's devices of one sort, for suggestions.
template <class T>
std::vector<std::string> names_of(const std::vector<T>& all) {
  std::vector<std::string> names;
  for (const T& one : all) names.push_back(one.name.value);
  return names;
}

// Complains unless the chamber has a device that has this channel.
void resolve_channel(Reader& reader, const Channel& channel, const Region& at, const Chamber& chamber);

// Complains about channels, gauges and steps in the map that the plan does not have.
void resolve_channels(Reader& reader, const ChannelMap& map, const Node& root, const Plan& plan);

// Complains about everything in the recipe that the chamber or the optic cannot answer to.
void resolve_recipe(Reader& reader, const Plan& plan);

}  // namespace vacuary::plan
