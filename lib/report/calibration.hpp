// A calibration as text and JSON (schemas/calibration.schema.json); its TOML is in the value itself.
#pragma once

#include <string>

#include "calibrate/calibrate.hpp"

namespace vacuary::report {

[[nodiscard]] std::string calibration_text(const calibrate::Calibration& calibration);
[[nodiscard]] std::string calibration_json(const calibrate::Calibration& calibration,
                                           const Diagnostics& findings);

}  // namespace vacuary::report
