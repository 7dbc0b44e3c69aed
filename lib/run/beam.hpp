// How wide the standing beam is: enough to say how deep a short outage bites.
//
//   (B1)  G(y) = sum over both straights, at y = -b and +b, of (h^2 + (y - b)^2)^(-(n + 2)/2)
//         where the ray passes the shield's opening, else 0
//   (B2)  width = integral of G dy / greatest G
// for a long straight cathode (its ends far away) at throw h with emission cos^n, seen by a flat
// glass: the integral of cos^n cos / d^2 along an endless line. No gas scatter, which widens it.
// Source: elementary integration of the cosine law of emission; no fit.
#pragma once

#include "plan/plan.hpp"

namespace vacuary::run {

// As an angle of the optic at the calibration's radius.
[[nodiscard]] Angle beam_width(const plan::Cathode& cathode);

}  // namespace vacuary::run
