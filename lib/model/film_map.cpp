#include "model/film_map.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "model/film_shape.hpp"
#include "physics/uncertainty.hpp"

namespace vacuary::model {
namespace {

constexpr double turn_rad = 2 * std::numbers::pi;
constexpr double smallest_sector_m = 0.5e-9;
constexpr double smallest_sector_share = 0.005;  // of the mean: what the power's own ripple leaves
constexpr std::size_t most_sectors = 12;
constexpr std::size_t trials = 20000;
constexpr std::uint64_t seed = 1;  // the same map, the same interval

// ---------------------------------------------------------------- laying film

physics::FilmMap laid(const CathodeKernels& kernels, const FilmDose& dose) {
  physics::FilmMap map = physics::lay_film(kernels.straight, dose.straight());
  if (!kernels.scattered) return map;
  const physics::FilmMap beside = physics::lay_film(*kernels.scattered, dose.scattered());
  for (std::size_t i = 0; i < map.thickness_m.size(); ++i) map.thickness_m[i] += beside.thickness_m[i];
  return map;
}

// ---------------------------------------------------------------- sectors

// Film against the median of the same radius.
std::vector<double> against_median(const physics::FilmMap& map) {
  std::vector<double> difference(map.thickness_m);
  std::vector<double> ring(map.angles);
  for (std::size_t i = 0; i < map.radii; ++i) {
    double* row = &difference[i * map.angles];
    std::copy(row, row + map.angles, ring.begin());
    const auto middle = ring.begin() + static_cast<std::ptrdiff_t>(map.angles / 2);
    std::nth_element(ring.begin(), middle, ring.end());
    for (std::size_t j = 0; j < map.angles; ++j) row[j] -= *middle;
  }
  return difference;
}

class SectorSearch {
 public:
  SectorSearch(const physics::FilmKernel& kernel, std::vector<double> difference_m)
      : kernel_(kernel), difference_(std::move(difference_m)), profile_(kernel.angles()) {
    double area = 0;
    for (std::size_t i = 0; i < kernel.radii(); ++i) area += kernel.ring_area_m2(i);
    for (std::size_t i = 0; i < kernel.radii(); ++i) {
      const double share = kernel.ring_area_m2(i) / area;
      for (std::size_t j = 0; j < angles(); ++j) profile_[j] += share * difference_[i * angles() + j];
    }
  }

  [[nodiscard]] std::vector<FilmSector> beyond(double threshold_m) const {
    std::vector<FilmSector> sectors;
    const std::size_t n = angles();
    const auto sign = [&](std::size_t j) {
      const double value = profile_[j % n];
      return value > threshold_m ? 1 : value < -threshold_m ? -1 : 0;
    };
    std::size_t start = 0;  // where no arc runs through
    while (start < n && sign(start) != 0 && sign(start) == sign(start + n - 1)) ++start;
    for (std::size_t j = start; j < start + n;) {
      const int here = sign(j);
      std::size_t end = j + 1;
      while (end < start + n && sign(end) == here) ++end;
      if (here != 0) sectors.push_back(arc(j, end));
      j = end;
    }
    const auto deeper = [](const FilmSector& a, const FilmSector& b) {
      return std::abs(a.depth.value()) > std::abs(b.depth.value());
    };
    std::stable_sort(sectors.begin(), sectors.end(), deeper);
    if (sectors.size() > most_sectors) sectors.resize(most_sectors);
    return sectors;
  }

  // The arc about the place that differs most from zero.
  [[nodiscard]] std::optional<FilmSector> deepest(double threshold_m) const {
    const auto at = std::max_element(profile_.begin(), profile_.end(),
                                     [](double a, double b) { return std::abs(a) < std::abs(b); });
    if (!(std::abs(*at) > threshold_m)) return std::nullopt;
    const auto peak = static_cast<std::size_t>(at - profile_.begin());
    const std::size_t n = angles();
    std::size_t low = peak + n, high = peak + n;
    const auto same = [&](std::size_t j) { return profile_[j % n] / *at > 0.05; };
    while (low > peak && same(low - 1)) --low;
    while (high < low + n && same(high)) ++high;
    return arc(low, high);
  }

 private:
  [[nodiscard]] std::size_t angles() const { return kernel_.angles(); }
  [[nodiscard]] Angle angle(std::size_t step) const {
    return Angle::from_value(turn_rad * static_cast<double>(step) / static_cast<double>(angles()));
  }

  // The sector within the angle steps [from, to), which may run past a whole turn.
  [[nodiscard]] FilmSector arc(std::size_t from, std::size_t to) const {
    const std::size_t n = angles();
    double worst = 0, peak = 0;
    std::size_t ring = 0, step = from, middle = from;
    for (std::size_t j = from; j < to; ++j) {
      if (std::abs(profile_[j % n]) > std::abs(peak)) {
        peak = profile_[j % n];
        middle = j;
      }
      for (std::size_t i = 0; i < kernel_.radii(); ++i) {
        const double value = difference_[i * n + j % n];
        if (value * profile_[j % n] > 0 && std::abs(value) > std::abs(worst)) {
          worst = value;
          ring = i;
          step = j;
        }
      }
    }
    std::size_t low = middle, high = middle;
    while (low > from && profile_[(low - 1) % n] / peak > 0.5) --low;
    while (high + 1 < to && profile_[(high + 1) % n] / peak > 0.5) ++high;
    const std::size_t whole = low / n * n;  // so that `from` lies within a turn
    return {angle(low - whole), angle(high - whole), angle(step % n), Length::from_value(worst),
            kernel_.radius(ring)};
  }

  const physics::FilmKernel& kernel_;
  std::vector<double> difference_, profile_;
};

// ---------------------------------------------------------------- how well it is known

// Thinnest and thickest of each ring, and how each input moves the ring.
struct Rings {
  std::vector<double> low, high;
  std::vector<std::vector<double>> change;  // by input, by ring, relative
};

double interpolated(const std::vector<double>& values, double place) {
  const double last = static_cast<double>(values.size() - 1);
  const double at = std::clamp(place, 0.0, last);
  const auto below = std::min(static_cast<std::size_t>(at), values.size() - 2);
  return values[below] + (at - static_cast<double>(below)) * (values[below + 1] - values[below]);
}

struct Extremes {
  std::vector<double> low, high, peak_to_valley;
};

Extremes drawn(const Rings& rings, double scale_u) {
  const physics::Random random(seed);
  Extremes out;
  std::vector<double> z(rings.change.size());
  for (std::size_t t = 0; t < trials; ++t) {
    for (std::size_t k = 0; k < z.size(); ++k) z[k] = random.normal(k + 1, t);
    const double scale = 1 + scale_u * random.normal(0, t);
    double low = std::numeric_limits<double>::infinity(), high = -low;
    for (std::size_t i = 0; i < rings.low.size(); ++i) {
      double factor = 1;
      for (std::size_t k = 0; k < z.size(); ++k) factor += z[k] * rings.change[k][i];
      low = std::min(low, rings.low[i] * factor);
      high = std::max(high, rings.high[i] * factor);
    }
    out.low.push_back(low * scale);
    out.high.push_back(high * scale);
    out.peak_to_valley.push_back(high + low > 0 ? (high - low) / (high + low) : 0);
  }
  return out;
}

// The middle 95 %.
template <class Q>
Spread<Q> spread(Q value, std::vector<double> trial) {
  std::sort(trial.begin(), trial.end());
  const auto at = [&](double share) {
    return trial[static_cast<std::size_t>(share * static_cast<double>(trial.size() - 1))];
  };
  return {value, Q::from_value(at(0.025)), Q::from_value(at(0.975))};
}

Spread<Ratio> spread(Ratio value, std::vector<double> trial) {
  const Spread<Length> plain = spread(Length::from_value(value.value()), std::move(trial));
  return {value, Ratio::of(plain.low.value()), Ratio::of(plain.high.value())};
}

}  // namespace

FilmDose::FilmDose(const plan::Recipe& recipe, const plan::Cathode& cathode, std::size_t bins)
    : cathode_(&cathode),
      offset_rad_(cathode.azimuth.value.value() - recipe.angle_at_mark.value.value()),
      straight_(bins),
      scattered_(bins) {}

void FilmDose::add(Angle from, Angle to, Length film, Pressure pressure) {
  if (pressure.value() != share_pa_) {
    share_pa_ = pressure.value();
    const bool known = pressure.value() > 0;
    share_ = straight_share(*cathode_, known ? pressure : cathode_->calibration.pressure.value);
  }
  add(from, to, film, share_);
}

void FilmDose::add(Angle from, Angle to, Length film, Ratio straight) {
  const Angle a = from + Angle::from_value(offset_rad_);
  const Angle b = to + Angle::from_value(offset_rad_);
  const double share = straight.value();
  straight_.add(a, b, film * share);
  if (share < 1) scattered_.add(a, b, film * (1 - share));
}

namespace {

// What the doses come to together.
struct Gathered {
  explicit Gathered(const physics::FilmKernel& grid)
      : kernel(&grid),
        map{grid.radii(), grid.angles(), std::vector<double>(grid.radii() * grid.angles())},
        turn(grid.radii()) {}
  const physics::FilmKernel* kernel;  // for the grid, which is that of all
  physics::FilmMap map;
  std::vector<double> turn;  // average by ring, m
  // Change of that by input and ring with one standard uncertainty more, m.
  std::vector<std::vector<double>> moved;
  std::vector<std::string> inputs;

  void add(const plan::Optic& optic, const FilmDose& dose, const CathodeKernels& kernels);
  [[nodiscard]] std::vector<ShapeInput> shape(double mean_m) const;
  [[nodiscard]] Rings rings() const;
};

void Gathered::add(const plan::Optic& optic, const FilmDose& dose, const CathodeKernels& kernels) {
  const physics::FilmMap one = laid(kernels, dose);
  std::vector<double> part(map.radii);
  for (std::size_t i = 0; i < map.radii; ++i) {
    for (std::size_t j = 0; j < map.angles; ++j) {
      map.thickness_m[i * map.angles + j] += one.at(i, j);
      part[i] += one.at(i, j) / static_cast<double>(map.angles);
    }
    turn[i] += part[i];
  }
  const FilmShape known = film_shape(dose.cathode(), optic);
  const auto rings = static_cast<double>(map.radii);
  for (const ShapeChange& change : known.changes) {
    const auto coarse = static_cast<double>(change.relative.size());
    std::vector<double> at_ring(map.radii);
    for (std::size_t i = 0; i < map.radii; ++i) {
      const double place = (static_cast<double>(i) + 0.5) / rings * coarse - 0.5;
      at_ring[i] = interpolated(change.relative, place) * part[i];
    }
    moved.push_back(std::move(at_ring));
    inputs.push_back(change.input);
  }
}

std::vector<ShapeInput> Gathered::shape(double mean_m) const {
  double area = 0;
  for (std::size_t i = 0; i < map.radii; ++i) area += kernel->ring_area_m2(i);
  std::vector<ShapeInput> out;
  for (std::size_t k = 0; k < moved.size(); ++k) {
    double sum = 0;
    for (std::size_t i = 0; i < map.radii; ++i) sum += kernel->ring_area_m2(i) / area * moved[k][i];
    out.push_back({inputs[k], Ratio::of(sum / mean_m), Ratio::of(moved[k].front() / mean_m),
                   Ratio::of(moved[k].back() / mean_m)});
  }
  return out;
}

Rings Gathered::rings() const {
  Rings rings;
  for (std::size_t i = 0; i < map.radii; ++i) {
    const auto row = map.thickness_m.begin() + static_cast<std::ptrdiff_t>(i * map.angles);
    const auto [thin, thick] = std::minmax_element(row, row + static_cast<std::ptrdiff_t>(map.angles));
    rings.low.push_back(*thin);
    rings.high.push_back(*thick);
  }
  for (const std::vector<double>& change : moved) {
    rings.change.push_back(change);
    for (std::size_t i = 0; i < map.radii; ++i) {
      double& relative = rings.change.back()[i];
      relative = turn[i] > 0 ? relative / turn[i] : 0;
    }
  }
  return rings;
}

}  // namespace

FilmMap film_map(const plan::Optic& optic, const std::vector<FilmDose>& doses, Ratio scale_uncertainty,
                 const std::vector<CathodeKernels>& kernels) {
  FilmMap out;
  const auto laid_any = [](const FilmDose& dose) { return dose.total().value() > 0; };
  if (std::none_of(doses.begin(), doses.end(), laid_any)) return out;
  const physics::FilmKernel& kernel = kernels.front().straight;
  Gathered film(kernel);
  for (std::size_t i = 0; i < doses.size(); ++i) {
    if (laid_any(doses[i])) film.add(optic, doses[i], kernels[i]);
  }
  const Length low = optic.film.thickness.value - optic.film.tolerance.value;
  const Length high = optic.film.thickness.value + optic.film.tolerance.value;
  const physics::FilmFigures plain = figures(kernel, film.map, low, high, optic.film.density.value);
  const Extremes trial = drawn(film.rings(), scale_uncertainty.value());
  out.mean = plain.mean;
  out.thinnest = {spread(plain.thinnest.thickness, trial.low), plain.thinnest.radius, plain.thinnest.angle};
  out.thickest = {spread(plain.thickest.thickness, trial.high), plain.thickest.radius, plain.thickest.angle};
  out.rms = plain.rms;
  out.peak_to_valley = spread(plain.peak_to_valley, trial.peak_to_valley);
  out.area_in_tolerance = plain.area_in_tolerance;
  out.mass = plain.mass;
  out.sectors = SectorSearch(kernel, against_median(film.map))
                    .beyond(std::max(smallest_sector_m, smallest_sector_share * plain.mean.value()));
  out.shape = film.shape(plain.mean.value());
  out.radii = kernel.radii();
  out.angles = kernel.angles();
  for (std::size_t i = 0; i < kernel.radii(); ++i) out.radius_m.push_back(kernel.radius(i).value());
  out.thickness_m = std::move(film.map.thickness_m);
  return out;
}

std::optional<FilmSector> sector_of(const CathodeKernels& kernels, const FilmDose& difference) {
  physics::FilmMap map = laid(kernels, difference);
  return SectorSearch(kernels.straight, std::move(map.thickness_m)).deepest(0.02e-9);
}

}  // namespace vacuary::model
