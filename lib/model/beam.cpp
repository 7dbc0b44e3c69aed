#include <algorithm>
#include <cmath>

#include "model/quality.hpp"

namespace vacuary::model {
namespace {

// Opening of the shield at a radius, linear between its points; endless without a shield.
double opening_m(const plan::Cathode& cathode, double radius_m) {
  const auto& points = cathode.shield_opening;
  if (points.empty()) return 1e9;
  if (radius_m <= points.front().radius.value.value()) return points.front().opening.value.value();
  for (std::size_t i = 1; i < points.size(); ++i) {
    const double r0 = points[i - 1].radius.value.value();
    const double r1 = points[i].radius.value.value();
    if (radius_m > r1) continue;
    const double share = r1 > r0 ? (radius_m - r0) / (r1 - r0) : 1;
    const double w0 = points[i - 1].opening.value.value();
    return w0 + share * (points[i].opening.value.value() - w0);
  }
  return points.back().opening.value.value();
}

}  // namespace

Angle beam_width(const plan::Cathode& cathode) {
  const double h_m = cathode.throw_distance.value.value();
  const double b_m = cathode.racetrack_half_width.value.value();
  const double n = cathode.emission_exponent.value.value();
  const double radius_m = cathode.calibration.radius.value.value();
  const double half_open_m = opening_m(cathode, radius_m) / 2;
  const double shield_share = cathode.shield_height ? cathode.shield_height->value.value() / h_m : 0;
  constexpr int points = 4000;
  const double reach_m = 5 * h_m + b_m;
  double sum = 0;
  double greatest = 0;
  for (int i = 0; i < points; ++i) {  // (B1), (B2), midpoint rule
    const double y_m = reach_m * (2 * (i + 0.5) / points - 1);
    double g = 0;
    for (const double source_m : {-b_m, b_m}) {
      const double crossing_m = y_m + (source_m - y_m) * shield_share;
      if (std::abs(crossing_m) > half_open_m) continue;
      const double off_m = y_m - source_m;
      g += std::pow(h_m * h_m + off_m * off_m, -(n + 2) / 2);
    }
    sum += g;
    greatest = std::max(greatest, g);
  }
  const double width_m = greatest > 0 ? sum * (2 * reach_m / points) / greatest : 0;
  return Angle::from_value(width_m / radius_m);
}

}  // namespace vacuary::model
