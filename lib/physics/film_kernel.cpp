// Racetrack, trim shield and kernel: what one place of the glass sees of the source.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <thread>

#include "physics/film_map.hpp"

namespace vacuary::physics {
namespace {

constexpr double turn_rad = 2 * std::numbers::pi;

// Fine enough that a midpoint rule along a straight is good to 1e-5 at a throw of a few of these.
constexpr double element_length_m = 0.006;

struct Point {
  double x, y, z;
};

// Half the shield's open width along the cathode's line, metres.
struct Opening {
  std::vector<double> r_m, half_m;
  [[nodiscard]] bool none() const { return r_m.empty(); }
  [[nodiscard]] double half_at(double x) const {
    std::size_t above = 1;
    return half_at(x, above);
  }
  // `above`: the point that the last answer lay below; the next one is not far.
  [[nodiscard]] double half_at(double x, std::size_t& above) const;
  [[nodiscard]] double widest_between(double low, double high) const;
};

Opening opening_of(const TrimShield& shield) {
  Opening opening;
  for (const ShieldOpening& point : shield.opening) {
    opening.r_m.push_back(point.radius.value());
    opening.half_m.push_back(point.width.value() / 2);
  }
  return opening;
}

double Opening::half_at(double x, std::size_t& above) const {
  if (x <= r_m.front()) return half_m.front();
  if (x >= r_m.back()) return half_m.back();
  while (r_m[above] <= x) ++above;
  while (r_m[above - 1] > x) --above;
  const double share = (x - r_m[above - 1]) / (r_m[above] - r_m[above - 1]);
  return half_m[above - 1] + share * (half_m[above] - half_m[above - 1]);
}

double Opening::widest_between(double low, double high) const {
  double widest = std::max(half_at(low), half_at(high));
  for (std::size_t i = 0; i < r_m.size(); ++i) {
    if (r_m[i] > low && r_m[i] < high) widest = std::max(widest, half_m[i]);
  }
  return widest;
}

// cos^n by cubic pieces from a table, good to 1e-11 where rays are not all but grazing (cos above 0.05);
// std::pow for each ray would be most of the work.
class CosinePower {
 public:
  explicit CosinePower(double n) : one_(n == 1) {
    if (one_) return;
    for (std::size_t i = 0; i <= pieces; ++i) {
      const double c = static_cast<double>(i) / pieces;
      value_.push_back(std::pow(c, n));
      rise_.push_back(i > 0 ? n * std::pow(c, n - 1) / pieces : 0);  // over one piece
    }
  }
  [[nodiscard]] double of(double c) const {
    if (one_) return c;
    const double at = c * pieces;
    const auto i = std::min(static_cast<std::size_t>(at), pieces - 1);
    const double t = at - static_cast<double>(i);
    const double step = value_[i + 1] - value_[i];
    const double bend = rise_[i] + rise_[i + 1] - 2 * step;
    return value_[i] + t * (rise_[i] + t * (3 * step - 2 * rise_[i] - rise_[i + 1] + t * bend));
  }

 private:
  static constexpr std::size_t pieces = 1024;
  bool one_;
  std::vector<double> value_, rise_;
};

// Everything (1) needs, as plain doubles in metres.
struct Scene {
  const std::vector<SourceElement>& source;
  CosinePower emission;
  double curvature_per_m, conic;
  double shield_height_m;
  Opening opening;
  // No ray crosses the plate farther on its way from the glass than this share of it. Concave glass
  // lies below its own chords, so a crossing is no farther than height over throw; 1: not known.
  double farthest_share = 1;
  double farthest_aside_m = 0;           // of the source from the cathode's line
  double nearest_m = 0, farthest_m = 0;  // of the source along it

  [[nodiscard]] double sag(double r2) const {
    const double c = curvature_per_m;
    if (conic == -1) return c * r2 / 2;
    return c * r2 / (1 + std::sqrt(1 - (1 + conic) * c * c * r2));
  }
  [[nodiscard]] double slope(double r) const {
    const double c = curvature_per_m;
    return c * r / std::sqrt(1 - (1 + conic) * c * c * r * r);
  }
  // Every ray from p passes the plate farther aside than it is open anywhere it may pass (but not the
  // reverse).
  [[nodiscard]] bool all_cut(const Point& p) const {
    const double aside = (1 - farthest_share) * std::fabs(p.y) - farthest_share * farthest_aside_m;
    if (aside <= 0) return false;
    const double low = p.x + farthest_share * std::min(nearest_m - p.x, 0.0);
    const double high = p.x + farthest_share * std::max(farthest_m - p.x, 0.0);
    return aside > opening.widest_between(low, high);
  }
  [[nodiscard]] double margin(const Point& p, const SourceElement& e, std::size_t& above) const;
  [[nodiscard]] double term(const Point& p, double normal_x, double normal_y, double normal_z,
                            const SourceElement& e) const;
};

// How far inside the opening the ray from p to e passes the plate, metres; negative: it is cut. The plate
// is the glass lifted by its height, a conic: c (x^2 + y^2) - 2 w + (1 + k) c w^2 = 0 with w = z - height,
// so the share of the way where the ray meets it solves a quadratic.
double Scene::margin(const Point& p, const SourceElement& e, std::size_t& above) const {
  const double dx = e.x_m - p.x;
  const double dy = e.y_m - p.y;
  const double dz = e.z_m - p.z;
  const double c = curvature_per_m;
  const double h = shield_height_m;
  const double a = c * (dx * dx + dy * dy + (1 + conic) * dz * dz);
  const double b = dz - c * (p.x * dx + p.y * dy + (1 + conic) * (p.z - h) * dz);
  const double q = 2 * h + (1 + conic) * c * h * (h - 2 * p.z);
  const double share = q / (b + std::sqrt(std::max(b * b - a * q, 0.0)));
  return opening.half_at(p.x + share * dx, above) - std::fabs(p.y + share * dy);
}

double Scene::term(const Point& p, double normal_x, double normal_y, double normal_z,
                   const SourceElement& e) const {
  const double dx = e.x_m - p.x;
  const double dy = e.y_m - p.y;
  const double dz = e.z_m - p.z;
  const double out = -(dx * e.nx + dy * e.ny + dz * e.nz);
  const double in = dx * normal_x + dy * normal_y + dz * normal_z;
  if (out <= 0 || in <= 0) return 0;
  const double per_d = 1 / std::sqrt(dx * dx + dy * dy + dz * dz);
  return e.weight * emission.of(out * per_d) * in * per_d * per_d * per_d;
}

Scene scene_of(const std::vector<SourceElement>& source, Ratio exponent, const CoatedSurface& surface,
               const TrimShield& shield) {
  Scene scene{source,
              CosinePower(exponent.value()),
              surface.curvature_per_m,
              surface.conic_constant.value(),
              shield.height.value(),
              opening_of(shield)};
  if (surface.curvature_per_m >= 0) scene.farthest_share = 0;
  if (!source.empty()) scene.nearest_m = scene.farthest_m = source.front().x_m;
  for (const SourceElement& e : source) {
    scene.farthest_aside_m = std::max(scene.farthest_aside_m, std::fabs(e.y_m));
    scene.nearest_m = std::min(scene.nearest_m, e.x_m);
    scene.farthest_m = std::max(scene.farthest_m, e.x_m);
    const double throw_m = e.z_m - scene.sag(e.x_m * e.x_m + e.y_m * e.y_m);
    const double share = throw_m > scene.shield_height_m ? scene.shield_height_m / throw_m : 1;
    scene.farthest_share = std::max(scene.farthest_share, share);
  }
  return scene;
}

struct Facing {
  Point p;
  double nx, ny, nz;
};

Facing facing(const Scene& scene, double r, double psi) {
  const double tilt = scene.slope(r);
  const double unit = 1 / std::sqrt(1 + tilt * tilt);
  return {{r * std::cos(psi), r * std::sin(psi), scene.sag(r * r)},
          -tilt * std::cos(psi) * unit,
          -tilt * std::sin(psi) * unit,
          unit};
}

double open_sum(const Scene& scene, double r, double psi) {
  const Facing f = facing(scene, r, psi);
  double sum = 0;
  for (const SourceElement& e : scene.source) sum += scene.term(f.p, f.nx, f.ny, f.nz, e);
  return sum;
}

// Open share of a cell that an element and a step of the turn span, across which the margin changes by
// `along` the source and `around` the turn: where m + a u + b v is positive for u, v in +/- 1/2.
double open_share_of_cell(double m, double along, double around) {
  const double a = std::max(along, around);
  const double b = std::min(along, around);
  const double far = (a + b) / 2 - std::fabs(m);
  if (far <= 0) return m > 0 ? 1 : 0;
  if (std::fabs(m) <= (a - b) / 2) return 0.5 + m / a;
  const double corner = far * far / (2 * a * b);
  return m > 0 ? 1 - corner : corner;
}

// The sums over a turn at one radius of a scene, step by step; with a shield the margins of three steps of
// the turn are at hand at a time. An element that the opening's edge crosses within a step counts for its
// open share of element and step: neighbours along the source and around the turn tell how the margin
// changes. Without that a straight of the track, parallel to the edge, jumps in or out between two angles.
class Turn {
 public:
  Turn(const Scene& scene, double r, std::size_t angles, bool mirrored)
      : scene_(scene),
        r_(r),
        angles_(angles),
        last_(static_cast<std::ptrdiff_t>(mirrored ? angles / 2 : angles - 1)),
        mirrored_(mirrored) {}

  // `sink(step, sum)` for each step that may not be zero; of mirrored turns the first half and the middle.
  template <class Sink>
  void each(Sink sink) {
    for (std::ptrdiff_t j = 0; j <= last_; ++j) {
      if (scene_.opening.none()) {
        sink(static_cast<std::size_t>(j), open_sum(scene_, r_, psi(j)));
      } else if (!cut(j - 1) || !cut(j) || !cut(j + 1)) {
        sink(static_cast<std::size_t>(j), shielded_sum(j));
      }
    }
  }
  [[nodiscard]] double mean() {
    double sum = 0;
    each([&](std::size_t j, double value) {
      const bool twice = mirrored_ && j > 0 && 2 * j < angles_;
      sum += twice ? 2 * value : value;
    });
    return sum / static_cast<double>(angles_);
  }

 private:
  [[nodiscard]] double psi(std::ptrdiff_t j) const {
    return turn_rad * static_cast<double>(j) / static_cast<double>(angles_);
  }
  [[nodiscard]] bool cut(std::ptrdiff_t j) const { return scene_.all_cut(facing(scene_, r_, psi(j)).p); }
  void fill(std::vector<double>& margins, std::ptrdiff_t j) const {
    const Point p = facing(scene_, r_, psi(j)).p;
    margins.resize(scene_.source.size());
    std::size_t above = 1;
    for (std::size_t i = 0; i < margins.size(); ++i) margins[i] = scene_.margin(p, scene_.source[i], above);
  }
  [[nodiscard]] double shielded_sum(std::ptrdiff_t j) {
    if (filled_ == j - 1) {
      std::swap(before_, here_);
      std::swap(here_, after_);
    } else {
      fill(before_, j - 1);
      fill(here_, j);
    }
    fill(after_, j + 1);
    filled_ = j;
    const Facing f = facing(scene_, r_, psi(j));
    const std::size_t n = scene_.source.size();
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) {
      const double here = here_[i];
      const double along = std::fabs(here_[i + 1 < n ? i + 1 : 0] - here_[i > 0 ? i - 1 : n - 1]) / 2;
      const double reach = (along + std::max(std::fabs(before_[i] - here), std::fabs(after_[i] - here))) / 2;
      if (here <= -reach) continue;
      double share = 1;
      if (here < reach) {
        // By halves of the step: the margin bends where the point crosses the cathode's line.
        const auto half = [&](double next) {
          return open_share_of_cell(here + (next - here) / 4, along, std::fabs(next - here) / 2);
        };
        share = (half(before_[i]) + half(after_[i])) / 2;
      }
      if (share > 0) sum += share * scene_.term(f.p, f.nx, f.ny, f.nz, scene_.source[i]);
    }
    return sum;
  }

  const Scene& scene_;
  double r_;
  std::size_t angles_;
  std::ptrdiff_t last_;
  bool mirrored_;
  std::vector<double> before_, here_, after_;
  std::ptrdiff_t filled_ = -2;  // the step that `here_` belongs to
};

// Both sides of the cathode's line alike, element by element: half the kernel is enough.
bool mirrored(const std::vector<SourceElement>& source) {
  const std::size_t n = source.size();
  for (std::size_t i = 0; i < n; ++i) {
    const SourceElement& a = source[i];
    const bool has_mirror = std::any_of(source.begin(), source.end(), [&](const SourceElement& b) {
      return b.x_m == a.x_m && b.y_m == -a.y_m && b.z_m == a.z_m && b.nx == a.nx && b.ny == -a.ny &&
             b.nz == a.nz && b.weight == a.weight;
    });
    if (!has_mirror) return false;
  }
  return true;
}

}  // namespace

Length CoatedSurface::sag(Length r) const {
  const double c = curvature_per_m;
  const double r2 = r.value() * r.value();
  return Length::from_value(c * r2 / (1 + std::sqrt(1 - (1 + conic_constant.value()) * c * c * r2)));
}

double CoatedSurface::slope(Length r) const {
  const double c = curvature_per_m;
  return c * r.value() / std::sqrt(1 - (1 + conic_constant.value()) * c * c * r.value() * r.value());
}

std::vector<SourceElement> elements(const Racetrack& track, const CoatedSurface& surface) {
  const double half = track.half_width.value();
  const double first = track.inner.value() + half;
  const double last = track.outer.value() - half;
  std::vector<SourceElement> out;
  const auto add = [&](double x, double y, double weight) {
    SourceElement e;
    e.x_m = x;
    e.y_m = y;
    e.weight = weight;
    const double tilt = track.follows_surface ? surface.slope(Length::from_value(x)) : 0;
    const double unit = 1 / std::sqrt(1 + tilt * tilt);
    const double below = track.follows_surface ? surface.sag(Length::from_value(x)).value() : 0;
    e.z_m = below + track.throw_distance.value();
    e.nx = tilt * unit;
    e.nz = -unit;
    out.push_back(e);
  };
  // Once round the track, so that neighbours in the list are neighbours on the target.
  const auto straights = static_cast<std::size_t>(std::ceil(std::max(last - first, 0.0) / element_length_m));
  const auto bends = static_cast<std::size_t>(std::ceil(std::numbers::pi * half / element_length_m));
  const double step = (last - first) / static_cast<double>(std::max<std::size_t>(straights, 1));
  const auto middle = [](std::size_t i, std::size_t n) {
    return (static_cast<double>(i) + 0.5) / static_cast<double>(n);
  };
  for (std::size_t i = 0; i < straights; ++i) add(first + (last - first) * middle(i, straights), half, step);
  for (std::size_t i = 0; i < bends; ++i) {
    const double t = std::numbers::pi * (0.5 - middle(i, bends));
    add(last + half * std::cos(t), half * std::sin(t), std::numbers::pi * half / static_cast<double>(bends));
  }
  for (std::size_t i = straights; i-- > 0;) add(first + (last - first) * middle(i, straights), -half, step);
  for (std::size_t i = 0; i < bends; ++i) {
    const double t = std::numbers::pi * (0.5 - middle(bends - 1 - i, bends));
    add(first - half * std::cos(t), half * std::sin(t), std::numbers::pi * half / static_cast<double>(bends));
  }
  return out;
}

std::vector<SourceElement> scattered_elements(const Racetrack& track, const TrimShield& shield,
                                              const CoatedSurface& surface) {
  constexpr double cell_m = 0.02;
  constexpr std::size_t strips = 6;
  const Opening opening = opening_of(shield);
  const double height = opening.none() ? track.throw_distance.value() / 2 : shield.height.value();
  const double way = (track.outer - track.inner).value();
  const auto cells = static_cast<std::size_t>(std::ceil(std::max(way, cell_m) / cell_m));
  std::vector<SourceElement> out;
  for (std::size_t i = 0; i < cells; ++i) {
    SourceElement e;
    e.x_m = track.inner.value() + way * (static_cast<double>(i) + 0.5) / static_cast<double>(cells);
    const double half =
        opening.none() ? track.half_width.value() + track.throw_distance.value() / 2 : opening.half_at(e.x_m);
    const double tilt = surface.slope(Length::from_value(e.x_m));
    const double unit = 1 / std::sqrt(1 + tilt * tilt);
    e.z_m = surface.sag(Length::from_value(e.x_m)).value() + height;
    e.nx = tilt * unit;
    e.nz = -unit;
    e.weight = half;
    for (std::size_t k = 0; k < strips; ++k) {
      // The same for both sides of the line, to the last bit: mirrored kernels cost half.
      const auto odd = static_cast<double>(2 * (k / 2) + 1);
      e.y_m = (k % 2 == 0 ? half : -half) * odd / static_cast<double>(strips);
      out.push_back(e);
    }
  }
  return out;
}

double direct_sum_per_m2(const std::vector<SourceElement>& source, Ratio emission_exponent,
                         const CoatedSurface& surface, const TrimShield& shield, Length r, Angle psi) {
  const Scene scene = scene_of(source, emission_exponent, surface, shield);
  const Facing f = facing(scene, r.value(), psi.value());
  double sum = 0;
  std::size_t above = 1;
  for (const SourceElement& e : source) {
    if (!scene.opening.none() && scene.margin(f.p, e, above) <= 0) continue;
    sum += scene.term(f.p, f.nx, f.ny, f.nz, e);
  }
  return sum;
}

std::vector<double> turn_means_per_m2(const std::vector<SourceElement>& source, Ratio emission_exponent,
                                      const CoatedSurface& surface, const TrimShield& shield,
                                      const std::vector<Length>& radii, std::size_t angles) {
  const Scene scene = scene_of(source, emission_exponent, surface, shield);
  const bool even = mirrored(source);
  std::vector<double> out;
  for (const Length& r : radii) out.push_back(Turn(scene, r.value(), angles, even).mean());
  return out;
}

FilmKernel::FilmKernel(const std::vector<SourceElement>& source, Ratio emission_exponent,
                       const CoatedSurface& surface, const TrimShield& shield, Length reference_radius,
                       std::size_t radii, std::size_t angles, unsigned threads)
    : radii_(radii), angles_(angles), surface_(surface), table_(radii * angles) {
  const Scene scene = scene_of(source, emission_exponent, surface, shield);
  const bool even = mirrored(source) && angles % 2 == 0;
  reference_rate_ = Turn(scene, reference_radius.value(), angles, even).mean();
  const double scale = reference_rate_ > 0 ? 1 / reference_rate_ : 0;
  const auto fill = [&](std::size_t start, std::size_t stride) {
    for (std::size_t i = start; i < radii_; i += stride) {
      double* row = &table_[i * angles_];
      Turn(scene, radius(i).value(), angles_, even).each([&](std::size_t j, double sum) {
        row[j] = scale * sum;
        if (even && j > 0) row[angles_ - j] = row[j];
      });
    }
  };
  std::vector<std::thread> helpers;
  for (unsigned t = 1; t < threads; ++t) helpers.emplace_back(fill, t, threads);
  fill(0, std::max(1U, threads));
  for (std::thread& helper : helpers) helper.join();
}

Length FilmKernel::radius(std::size_t ring) const {
  const double share = (static_cast<double>(ring) + 0.5) / static_cast<double>(radii_);
  return surface_.inner_radius + share * (surface_.outer_radius - surface_.inner_radius);
}

double FilmKernel::ring_area_m2(std::size_t ring) const {
  const double width = (surface_.outer_radius - surface_.inner_radius).value() / static_cast<double>(radii_);
  const double tilt = surface_.slope(radius(ring));
  return turn_rad * radius(ring).value() * width * std::sqrt(1 + tilt * tilt);
}

double FilmKernel::turn_average(std::size_t ring) const {
  double sum = 0;
  for (std::size_t j = 0; j < angles_; ++j) sum += at(ring, j);
  return sum / static_cast<double>(angles_);
}

Angle FilmKernel::equivalent_width(std::size_t ring) const {
  double peak = 0;
  for (std::size_t j = 0; j < angles_; ++j) peak = std::max(peak, at(ring, j));
  return Angle::from_value(peak > 0 ? turn_rad * turn_average(ring) / peak : 0);
}

}  // namespace vacuary::physics
