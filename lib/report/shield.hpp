// The proposal of a trim shield as text, JSON (schemas/shield.schema.json), CSV, a drawing and TOML.
#pragma once

#include <string>

#include "trim/trim.hpp"

namespace vacuary::report {

[[nodiscard]] std::string shield_text(const trim::Proposal& proposal);
[[nodiscard]] std::string shield_json(const trim::Proposal& proposal);
// One row a radius: where it is, along the plate, open width, both edges from the centre line. mm.
[[nodiscard]] std::string shield_csv(const trim::Proposal& proposal);
// An A3 sheet, to scale, with the table, for a workshop. Plain SVG 1.1 with real text.
[[nodiscard]] std::string shield_drawing(const trim::Proposal& proposal);
// The chamber file's [cathode.shield] for it, under a new name.
[[nodiscard]] std::string shield_block(const trim::Proposal& proposal);

// What a person who makes and hangs it must mind; a few short sentences.
[[nodiscard]] const std::vector<std::string>& shield_cautions();

}  // namespace vacuary::report
