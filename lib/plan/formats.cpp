#include "plan/fields.hpp"
#include "plan/tables.hpp"

namespace vacuary::plan {

const std::vector<Format>& formats() {
  static const std::vector<Format> all{
      {"vacuary-recipe", 1, "recipe.schema.json", "What is done to an optic in a chamber, step by step.",
       &recipe_section().info()},
      {"vacuary-chamber", 1, "chamber.schema.json", "The coating vessel and everything that is fixed to it.",
       &chamber_section().info()},
      {"vacuary-optic", 1, "optic.schema.json", "The optic and the film wanted on it.",
       &optic_section().info()},
      {"vacuary-channels", 1, "channels.schema.json", "How a plant's export becomes channels.",
       &channels_section().info()},
      {"vacuary-measured", 1, "measured.schema.json", "What was measured on the film after the run.",
       &measured_section().info()},
      {"vacuary-strip", 1, "strip.schema.json", "Film measured along the radius, to calibrate a cathode by.",
       &strip_section().info()}};
  return all;
}

const std::vector<Variants>& variants() {
  static const std::vector<Variants> all{step_variants(), pump_variants(), time_variants()};
  return all;
}

}  // namespace vacuary::plan
