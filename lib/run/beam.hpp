// How wide the standing beam is: enough to say how deep a short outage bites.
#pragma once

#include "model/model.hpp"

namespace vacuary::run {

// As an angle of the optic at the calibration's radius; good to 15 %.
[[nodiscard]] inline Angle beam_width(const plan::Cathode& cathode) { return model::beam_width(cathode); }

}  // namespace vacuary::run
