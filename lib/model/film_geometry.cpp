// Where a plan's film lands in general: kernels, and the mean over the clear area of a whole turn.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <mutex>
#include <numbers>
#include <utility>

#include "model/chamber_state.hpp"
#include "model/film_shape.hpp"

namespace vacuary::model {
namespace {

constexpr double turn_rad = 2 * std::numbers::pi;
// Rings and angles that give a turn's average to some 1e-4, and its change with an input to 1 %.
constexpr std::size_t profile_radii = 24, profile_angles = 480, change_angles = 240;

}  // namespace

physics::CoatedSurface coated_surface(const plan::Optic& optic) {
  const double radius_m = optic.radius_of_curvature.value.value();
  return {optic.inner_radius.value, optic.outer_radius.value,
          std::isfinite(radius_m) && radius_m != 0 ? 1 / radius_m : 0, optic.conic_constant.value};
}

physics::Racetrack racetrack(const plan::Cathode& cathode) {
  return {cathode.racetrack_inner.value, cathode.racetrack_outer.value, cathode.racetrack_half_width.value,
          cathode.throw_distance.value, cathode.follows_surface};
}

physics::TrimShield trim_shield(const plan::Cathode& cathode) {
  physics::TrimShield shield;
  if (!cathode.shield_height) return shield;
  shield.height = cathode.shield_height->value;
  for (const plan::ShieldPoint& point : cathode.shield_opening)
    shield.opening.push_back({point.radius.value, point.opening.value});
  return shield;
}

Geometry::Geometry(const plan::Cathode& cathode, const plan::Optic& optic)
    : surface(coated_surface(optic)),
      track(racetrack(cathode)),
      shield(trim_shield(cathode)),
      exponent(cathode.emission_exponent.value),
      reference(cathode.calibration.radius.value) {}

physics::FilmKernel Geometry::straight(const MapGrid& grid) const {
  return {
      elements(track, surface), exponent, surface, shield, reference, grid.radii, grid.angles, grid.threads};
}

physics::FilmKernel Geometry::scattered(const MapGrid& grid) const {
  return {scattered_elements(track, shield, surface),
          Ratio::of(1),
          surface,
          {},
          reference,
          grid.radii,
          grid.angles,
          grid.threads};
}

CathodeKernels::CathodeKernels(const plan::Cathode& cathode, const plan::Optic& optic, const MapGrid& grid)
    : straight(Geometry(cathode, optic).straight(grid)) {
  if (cathode.calibration.diffuse_share.value.value() > 0)
    scattered.emplace(Geometry(cathode, optic).scattered(grid));
}

ArrivingShares arriving_shares(const plan::Cathode& cathode, Pressure pressure) {
  const double straight =
      physics::transported_share(pressure, cathode.throw_distance.value, cathode.p0d0.value).value();
  const double all = straight + (1 - straight) * cathode.calibration.diffuse_share.value.value();
  return {Ratio::of(all), Ratio::of(straight / all)};
}

Ratio arriving_share(const plan::Cathode& cathode, Pressure pressure) {
  return arriving_shares(cathode, pressure).all;
}

Ratio straight_share(const plan::Cathode& cathode, Pressure pressure) {
  return arriving_shares(cathode, pressure).straight;
}

Ratio collected_share(const plan::Cathode& cathode, const plan::Optic& optic) {
  const Geometry geometry(cathode, optic);
  const physics::FilmKernel kernel = geometry.straight({profile_radii, profile_angles, 1});
  double emitted = 0;
  for (const physics::SourceElement& e : elements(geometry.track, geometry.surface)) emitted += e.weight;
  double caught = 0;
  for (std::size_t i = 0; i < kernel.radii(); ++i) caught += kernel.ring_area_m2(i) * kernel.turn_average(i);
  const double per_steradian = (geometry.exponent.value() + 1) / turn_rad;
  return Ratio::of(per_steradian * caught * kernel.reference_rate_per_m2() / emitted);
}

// ---------------------------------------------------------------- shape

Profile profile_of(const physics::FilmKernel& kernel) {
  Profile profile;
  for (std::size_t i = 0; i < kernel.radii(); ++i) {
    profile.area_m2.push_back(kernel.ring_area_m2(i));
    profile.film.push_back(kernel.turn_average(i));
  }
  return profile;
}

double Profile::mean() const {
  double area = 0, sum = 0;
  for (std::size_t i = 0; i < film.size(); ++i) {
    area += area_m2[i];
    sum += area_m2[i] * film[i];
  }
  return area > 0 ? sum / area : 0;
}

namespace {

// Straight and scattered film on a turn's average, in the shares of the calibration.
Profile mixed(const Geometry& geometry, double share, std::size_t angles) {
  Profile profile = profile_of(geometry.straight({profile_radii, angles, 1}));
  if (share >= 1) return profile;
  const Profile scattered = profile_of(geometry.scattered({profile_radii, angles, 1}));
  for (std::size_t i = 0; i < profile.film.size(); ++i)
    profile.film[i] = share * profile.film[i] + (1 - share) * scattered.film[i];
  return profile;
}

struct Varied {
  std::string input;
  double by;  // standard uncertainty, SI
  void (*vary)(Geometry&, double);
  bool operator==(const Varied&) const = default;
};

template <class Q>
std::string with_size(const char* what, const plan::Given<Q>& size) {
  return fmt::format("{} ({})", what, brief(size.value, size.unit, 2));
}

std::vector<Varied> varied_inputs(const plan::Cathode& c) {
  std::vector<Varied> inputs = {
      {with_size("throw as built", c.throw_uncertainty), c.throw_uncertainty.value.value(),
       [](Geometry& g, double by) { g.track.throw_distance += Length::from_value(by); }},
      {with_size("inner end of the racetrack", c.racetrack_uncertainty),
       c.racetrack_uncertainty.value.value(),
       [](Geometry& g, double by) { g.track.inner += Length::from_value(by); }},
      {with_size("outer end of the racetrack", c.racetrack_uncertainty),
       c.racetrack_uncertainty.value.value(),
       [](Geometry& g, double by) { g.track.outer += Length::from_value(by); }},
      {with_size("emission exponent", c.emission_exponent_uncertainty),
       c.emission_exponent_uncertainty.value.value(),
       [](Geometry& g, double by) { g.exponent = Ratio::of(g.exponent.value() + by); }}};
  if (!c.shield_height) return inputs;
  inputs.push_back({with_size("open width of the shield", c.shield_opening_uncertainty),
                    c.shield_opening_uncertainty.value.value(), [](Geometry& g, double by) {
                      for (physics::ShieldOpening& point : g.shield.opening)
                        point.width = Length::from_value(point.width.value() + by);
                    }});
  inputs.push_back({with_size("height of the shield", c.shield_height_uncertainty),
                    c.shield_height_uncertainty.value.value(),
                    [](Geometry& g, double by) { g.shield.height += Length::from_value(by); }});
  return inputs;
}

}  // namespace

namespace {

// All that a shape follows from.
struct ShapeInputs {
  ShapeInputs(const plan::Cathode& cathode, const plan::Optic& optic)
      : built(cathode, optic), varied(varied_inputs(cathode)) {
    const plan::Calibration& c = cathode.calibration;
    share = share_more = straight_share(cathode, c.pressure.value).value();
    const double by = c.diffuse_share_uncertainty.value.value();
    if (!(by > 0)) return;
    plan::Cathode more = cathode;
    more.calibration.diffuse_share.value = Ratio::of(std::min(c.diffuse_share.value.value() + by, 1.0));
    share_more = straight_share(more, c.pressure.value).value();
    share_input = with_size("diffuse share", c.diffuse_share_uncertainty);
  }
  bool operator==(const ShapeInputs&) const = default;

  Geometry built;
  std::vector<Varied> varied;
  double share = 1;         // that flew straight
  double share_more = 1;    // with one standard uncertainty more of the diffuse share
  std::string share_input;  // empty: that has none
};

FilmShape worked_out(const ShapeInputs& inputs) {
  FilmShape shape;
  shape.turn = mixed(inputs.built, inputs.share, profile_angles);
  const Profile same = mixed(inputs.built, inputs.share, change_angles);
  const auto change = [&](const std::string& input, const Profile& other) {
    ShapeChange made{input, {}};
    for (std::size_t i = 0; i < same.film.size(); ++i)
      made.relative.push_back(same.film[i] > 0 ? other.film[i] / same.film[i] - 1 : 0);
    shape.changes.push_back(std::move(made));
  };
  for (const Varied& input : inputs.varied) {
    if (!(input.by > 0)) continue;
    Geometry other = inputs.built;
    input.vary(other, input.by);
    change(input.input, mixed(other, inputs.share, change_angles));
  }
  if (!inputs.share_input.empty())
    change(inputs.share_input, mixed(inputs.built, inputs.share_more, change_angles));
  return shape;
}

}  // namespace

FilmShape film_shape(const plan::Cathode& cathode, const plan::Optic& optic) {
  // Whoever works on a plan asks for its shapes again and again, and each takes some 50 ms.
  constexpr std::size_t most_kept = 8;
  static std::mutex mutex;
  static std::vector<std::pair<ShapeInputs, FilmShape>> kept;
  const ShapeInputs inputs(cathode, optic);
  const std::lock_guard<std::mutex> lock(mutex);
  const auto known =
      std::find_if(kept.begin(), kept.end(), [&](const auto& one) { return one.first == inputs; });
  if (known != kept.end()) return known->second;
  if (kept.size() == most_kept) kept.erase(kept.begin());
  return kept.emplace_back(inputs, worked_out(inputs)).second;
}

Estimate<Ratio> clear_area_mean(const plan::Cathode& cathode, const plan::Optic& optic) {
  const FilmShape shape = film_shape(cathode, optic);
  const double mean = shape.turn.mean();
  double variance = 0;
  for (const ShapeChange& change : shape.changes) {
    Profile other = shape.turn;
    for (std::size_t i = 0; i < other.film.size(); ++i) other.film[i] *= 1 + change.relative[i];
    variance += (other.mean() - mean) * (other.mean() - mean);
  }
  return {Ratio::of(mean), Ratio::of(std::sqrt(variance))};
}

}  // namespace vacuary::model
