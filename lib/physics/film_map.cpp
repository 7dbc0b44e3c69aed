#include "physics/film_map.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <thread>
#include <unsupported/Eigen/FFT>

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
  [[nodiscard]] double half_at(double x) const;
};

Opening opening_of(const TrimShield& shield) {
  Opening opening;
  for (const ShieldOpening& point : shield.opening) {
    opening.r_m.push_back(point.radius.value());
    opening.half_m.push_back(point.width.value() / 2);
  }
  return opening;
}

double Opening::half_at(double x) const {
  if (x <= r_m.front()) return half_m.front();
  if (x >= r_m.back()) return half_m.back();
  const auto above = static_cast<std::size_t>(std::upper_bound(r_m.begin(), r_m.end(), x) - r_m.begin());
  const double share = (x - r_m[above - 1]) / (r_m[above] - r_m[above - 1]);
  return half_m[above - 1] + share * (half_m[above] - half_m[above - 1]);
}

// Everything (1) needs, as plain doubles in metres.
struct Scene {
  const std::vector<SourceElement>& source;
  double exponent;
  double curvature_per_m, conic;
  double shield_height_m;
  Opening opening;
  double widest_half_m = 0;
  // No ray crosses the plate farther on its way from the glass than this share of it. Concave glass
  // lies below its own chords, so a crossing is no farther than height over throw; 1: not known.
  double farthest_share = 1;
  double farthest_aside_m = 0;  // of the source from the cathode's line

  [[nodiscard]] double sag(double r2) const {
    const double c = curvature_per_m;
    if (conic == -1) return c * r2 / 2;
    return c * r2 / (1 + std::sqrt(1 - (1 + conic) * c * c * r2));
  }
  [[nodiscard]] double slope(double r) const {
    const double c = curvature_per_m;
    return c * r / std::sqrt(1 - (1 + conic) * c * c * r * r);
  }
  // Every ray from p passes the plate farther aside than its widest opening (but not the reverse).
  [[nodiscard]] bool all_cut(const Point& p) const {
    return (1 - farthest_share) * std::fabs(p.y) - farthest_share * farthest_aside_m > widest_half_m;
  }
  [[nodiscard]] double margin(const Point& p, const SourceElement& e) const;
  [[nodiscard]] double term(const Point& p, double normal_x, double normal_y, double normal_z,
                            const SourceElement& e) const;
};

// How far inside the opening the ray from p to e passes the plate, metres; negative: it is cut.
double Scene::margin(const Point& p, const SourceElement& e) const {
  const double dx = e.x_m - p.x;
  const double dy = e.y_m - p.y;
  const double dz = e.z_m - p.z;
  double share = shield_height_m / dz;  // of the way from the glass to the source
  if (curvature_per_m != 0) {
    for (int i = 0; i < 3; ++i) {  // fixed point: the plate's height changes slowly along the ray
      const double x = p.x + share * dx;
      const double y = p.y + share * dy;
      share = (sag(x * x + y * y) + shield_height_m - p.z) / dz;
    }
  }
  const double x = p.x + share * dx;
  return opening.half_at(x) - std::fabs(p.y + share * dy);
}

double Scene::term(const Point& p, double normal_x, double normal_y, double normal_z,
                   const SourceElement& e) const {
  const double dx = e.x_m - p.x;
  const double dy = e.y_m - p.y;
  const double dz = e.z_m - p.z;
  const double out = -(dx * e.nx + dy * e.ny + dz * e.nz);
  const double in = dx * normal_x + dy * normal_y + dz * normal_z;
  if (out <= 0 || in <= 0) return 0;
  const double d2 = dx * dx + dy * dy + dz * dz;
  if (exponent == 1) return e.weight * out * in / (d2 * d2);
  const double d = std::sqrt(d2);
  return e.weight * std::pow(out / d, exponent) * in / (d2 * d);
}

Scene scene_of(const std::vector<SourceElement>& source, Ratio exponent, const CoatedSurface& surface,
               const TrimShield& shield) {
  Scene scene{source,
              exponent.value(),
              surface.curvature_per_m,
              surface.conic_constant.value(),
              shield.height.value(),
              opening_of(shield)};
  for (const double half_m : scene.opening.half_m)
    scene.widest_half_m = std::max(scene.widest_half_m, half_m);
  if (surface.curvature_per_m >= 0) scene.farthest_share = 0;
  for (const SourceElement& e : source) {
    scene.farthest_aside_m = std::max(scene.farthest_aside_m, std::fabs(e.y_m));
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

// Open share of an element whose neighbours along the source have these margins: an edge that
// crosses it cuts it in proportion. Half the spread of the neighbours' margins is the change of
// the margin over the element's own length.
double open_share(double before, double here, double after) {
  const double change = std::fabs(after - before) / 2;
  if (std::fabs(here) >= change / 2) return here > 0 ? 1 : 0;
  return 0.5 + here / change;
}

double smooth_sum(const Scene& scene, double r, double psi, std::vector<double>& margins) {
  const Facing f = facing(scene, r, psi);
  double sum = 0;
  const std::size_t n = scene.source.size();
  if (scene.opening.none()) {
    for (const SourceElement& e : scene.source) sum += scene.term(f.p, f.nx, f.ny, f.nz, e);
    return sum;
  }
  if (scene.all_cut(f.p)) return 0;
  for (std::size_t i = 0; i < n; ++i) margins[i] = scene.margin(f.p, scene.source[i]);
  for (std::size_t i = 0; i < n; ++i) {
    const double share = open_share(margins[(i + n - 1) % n], margins[i], margins[(i + 1) % n]);
    if (share > 0) sum += share * scene.term(f.p, f.nx, f.ny, f.nz, scene.source[i]);
  }
  return sum;
}

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

// The mean over a turn at any radius, for the scale. The source is symmetric about its line or it
// is not: the whole turn is summed.
double turn_mean(const Scene& scene, double r, std::size_t angles) {
  std::vector<double> margins(scene.source.size());
  double sum = 0;
  for (std::size_t j = 0; j < angles; ++j) {
    sum += smooth_sum(scene, r, turn_rad * static_cast<double>(j) / static_cast<double>(angles), margins);
  }
  return sum / static_cast<double>(angles);
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
  for (const SourceElement& e : source) {
    if (!scene.opening.none() && scene.margin(f.p, e) <= 0) continue;
    sum += scene.term(f.p, f.nx, f.ny, f.nz, e);
  }
  return sum;
}

namespace {

// Open share of a cell an element and a step of the turn span, across which the margin changes by
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

// One radius of a shielded scene, the margins of three steps of the turn at hand at a time.
double shielded_turn_mean(const Scene& scene, double r, std::size_t angles, bool even) {
  const std::size_t n = scene.source.size();
  std::vector<double> before(n), here(n), after(n);
  const auto at = [&](std::ptrdiff_t j) {
    return facing(scene, r, turn_rad * static_cast<double>(j) / static_cast<double>(angles));
  };
  const auto fill = [&](std::vector<double>& margins, std::ptrdiff_t j) {
    const Facing f = at(j);
    for (std::size_t i = 0; i < n; ++i) margins[i] = scene.margin(f.p, scene.source[i]);
  };
  double sum = 0;
  std::ptrdiff_t filled = -2;  // the step `here` belongs to
  const auto last = static_cast<std::ptrdiff_t>(even ? angles / 2 : angles - 1);
  for (std::ptrdiff_t j = 0; j <= last; ++j) {
    const Facing f = at(j);
    if (scene.all_cut(f.p) && scene.all_cut(at(j - 1).p) && scene.all_cut(at(j + 1).p)) continue;
    if (filled == j - 1) {
      std::swap(before, here);
      std::swap(here, after);
    } else {
      fill(before, j - 1);
      fill(here, j);
    }
    fill(after, j + 1);
    filled = j;
    const bool twice = even && j > 0 && j < last;
    for (std::size_t i = 0; i < n; ++i) {
      const double along = std::fabs(here[(i + 1) % n] - here[(i + n - 1) % n]) / 2;
      // By halves of the step: the margin bends where the point crosses the cathode's line.
      const auto half = [&](double next) {
        return open_share_of_cell(here[i] + (next - here[i]) / 4, along, std::fabs(next - here[i]) / 2);
      };
      const double share = (half(before[i]) + half(after[i])) / 2;
      if (share > 0) sum += (twice ? 2 : 1) * share * scene.term(f.p, f.nx, f.ny, f.nz, scene.source[i]);
    }
  }
  return sum / static_cast<double>(angles);
}

}  // namespace

std::vector<double> turn_means_per_m2(const std::vector<SourceElement>& source, Ratio emission_exponent,
                                      const CoatedSurface& surface, const TrimShield& shield,
                                      const std::vector<Length>& radii, std::size_t angles) {
  const Scene scene = scene_of(source, emission_exponent, surface, shield);
  const bool even = mirrored(source);
  std::vector<double> margins(source.size());
  std::vector<double> out;
  for (const Length& r : radii) {
    if (!shield.opening.empty()) {
      out.push_back(shielded_turn_mean(scene, r.value(), angles, even));
      continue;
    }
    double sum = 0;
    for (std::size_t j = 0; j < (even ? angles / 2 + 1 : angles); ++j) {
      const double psi = turn_rad * static_cast<double>(j) / static_cast<double>(angles);
      const bool twice = even && j > 0 && j < angles / 2;
      sum += (twice ? 2 : 1) * smooth_sum(scene, r.value(), psi, margins);
    }
    out.push_back(sum / static_cast<double>(angles));
  }
  return out;
}

FilmKernel::FilmKernel(const std::vector<SourceElement>& source, Ratio emission_exponent,
                       const CoatedSurface& surface, const TrimShield& shield, Length reference_radius,
                       std::size_t radii, std::size_t angles, unsigned threads)
    : radii_(radii), angles_(angles), surface_(surface), table_(radii * angles) {
  const Scene scene = scene_of(source, emission_exponent, surface, shield);
  reference_rate_ = turn_mean(scene, reference_radius.value(), angles);
  const double scale = reference_rate_ > 0 ? 1 / reference_rate_ : 0;
  const bool even = mirrored(source);
  const auto fill = [&](std::size_t start, std::size_t stride) {
    std::vector<double> margins(scene.source.size());
    for (std::size_t i = start; i < radii_; i += stride) {
      double* row = &table_[i * angles_];
      for (std::size_t j = 0; j < angles_; ++j) {
        const double psi = turn_rad * static_cast<double>(j) / static_cast<double>(angles_);
        row[j] = even && j > angles_ / 2 ? row[angles_ - j]
                                         : scale * smooth_sum(scene, radius(i).value(), psi, margins);
      }
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

AngleDose::AngleDose(std::size_t bins) : zeroth_(bins, 0.0), first_(bins, 0.0), second_(bins, 0.0) {}

// `dose` spread evenly over `width`, its middle `offset` from the middle of the bin.
void AngleDose::put(std::size_t bin, double dose_m, double offset_rad, double width_rad) {
  zeroth_[bin] += dose_m;
  first_[bin] += dose_m * offset_rad;
  second_[bin] += dose_m * (offset_rad * offset_rad + width_rad * width_rad / 12);
}

// Bin b holds the angles within half a bin of its middle 2 pi b / bins.
void AngleDose::add(Angle from, Angle to, Length dose) {
  const double bins = static_cast<double>(zeroth_.size());
  const double bin_rad = turn_rad / bins;
  double low = std::min(from.value(), to.value()) / bin_rad;  // in bins
  const double high = std::max(from.value(), to.value()) / bin_rad;
  const double way = high - low;
  const auto index = [&](double whole) {
    const double wrapped = whole - bins * std::floor(whole / bins);
    return std::min(static_cast<std::size_t>(wrapped), zeroth_.size() - 1);
  };
  if (way < 1e-9) {
    const double middle = std::floor(low + 0.5);
    put(index(middle), dose.value(), (low - middle) * bin_rad, 0);
    return;
  }
  // Whole turns lie evenly over all bins.
  const double turns = std::floor(way / bins);
  if (turns > 0) {
    for (std::size_t b = 0; b < zeroth_.size(); ++b) put(b, dose.value() * turns / way, 0, bin_rad);
    low += turns * bins;
  }
  while (low < high) {
    const double middle = std::floor(low + 0.5);
    const double end = std::min(high, middle + 0.5);
    put(index(middle), dose.value() * (end - low) / way, ((end + low) / 2 - middle) * bin_rad,
        (end - low) * bin_rad);
    if (end <= low) break;  // too small a rest to move on
    low = end;
  }
}

Length AngleDose::total() const {
  double sum = 0;
  for (const double m : zeroth_) sum += m;
  return Length::from_value(sum);
}

FilmMap lay_film(const FilmKernel& kernel, const AngleDose& dose) {
  const std::size_t n = kernel.angles();
  FilmMap map{kernel.radii(), n, std::vector<double>(kernel.radii() * n)};
  Eigen::FFT<double> fft;
  std::vector<std::complex<double>> zeroth;
  std::vector<std::complex<double>> first;
  std::vector<std::complex<double>> second;
  std::vector<std::complex<double>> ring;
  fft.fwd(zeroth, dose.zeroth_m());
  fft.fwd(first, dose.first_m_rad());
  fft.fwd(second, dose.second_m_rad2());
  // Within a bin G(psi - d) = G - d G' + d^2 G'' / 2, derivatives as central differences of the table:
  // they hand a bin's moments to its two neighbours and do not ring at an edge of the shield.
  const double step = turn_rad / static_cast<double>(n);
  for (std::size_t k = 0; k < n; ++k) {
    const double phase = step * static_cast<double>(k);
    const std::complex<double> slope(0, std::sin(phase) / step);
    const double bend = (2 * std::cos(phase) - 2) / (step * step);
    zeroth[k] += -slope * first[k] + bend / 2 * second[k];
  }
  std::vector<double> row(n);
  for (std::size_t i = 0; i < kernel.radii(); ++i) {
    for (std::size_t j = 0; j < n; ++j) row[j] = kernel.at(i, j);
    fft.fwd(ring, row);
    for (std::size_t k = 0; k < n; ++k) ring[k] *= zeroth[k];
    fft.inv(row, ring);
    for (std::size_t j = 0; j < n; ++j) map.thickness_m[i * n + j] = row[j];
  }
  return map;
}

FilmFigures figures(const FilmKernel& kernel, const FilmMap& map, Length low, Length high,
                    MassDensity density) {
  double area = 0;
  double volume = 0;
  double inside = 0;
  FilmFigures out;
  std::size_t thinnest = 0;
  std::size_t thickest = 0;
  for (std::size_t i = 0; i < map.radii; ++i) {
    const double cell = kernel.ring_area_m2(i) / static_cast<double>(map.angles);
    for (std::size_t j = 0; j < map.angles; ++j) {
      const double t = map.at(i, j);
      area += cell;
      volume += cell * t;
      if (t >= low.value() && t <= high.value()) inside += cell;
      if (t < map.thickness_m[thinnest]) thinnest = i * map.angles + j;
      if (t > map.thickness_m[thickest]) thickest = i * map.angles + j;
    }
  }
  const double mean = area > 0 ? volume / area : 0;
  double square = 0;
  for (std::size_t i = 0; i < map.radii; ++i) {
    const double cell = kernel.ring_area_m2(i) / static_cast<double>(map.angles);
    for (std::size_t j = 0; j < map.angles; ++j)
      square += cell * (map.at(i, j) - mean) * (map.at(i, j) - mean);
  }
  const auto place = [&](std::size_t at) {
    const double angle = turn_rad * static_cast<double>(at % map.angles) / static_cast<double>(map.angles);
    return FilmPlace{Length::from_value(map.thickness_m[at]), kernel.radius(at / map.angles),
                     Angle::from_value(angle)};
  };
  out.mean = Length::from_value(mean);
  out.thinnest = place(thinnest);
  out.thickest = place(thickest);
  out.rms = Ratio::of(mean > 0 && area > 0 ? std::sqrt(square / area) / mean : 0);
  const double sum = out.thickest.thickness.value() + out.thinnest.thickness.value();
  out.peak_to_valley =
      Ratio::of(sum > 0 ? (out.thickest.thickness - out.thinnest.thickness).value() / sum : 0);
  out.area_in_tolerance = Ratio::of(area > 0 ? inside / area : 0);
  out.mass = Mass::from_value(volume * density.value());
  return out;
}

}  // namespace vacuary::physics
