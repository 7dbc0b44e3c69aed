// Film laid through a kernel: the dose by angle, its convolution, and what a map comes to.
#include "physics/film_map.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <unsupported/Eigen/FFT>

namespace vacuary::physics {
namespace {

constexpr double turn_rad = 2 * std::numbers::pi;

}  // namespace

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
    // What the transform's rounding leaves where nothing lands is nothing.
    double largest = 0;
    for (const double film : row) largest = std::max(largest, std::fabs(film));
    for (std::size_t j = 0; j < n; ++j)
      map.thickness_m[i * n + j] = std::fabs(row[j]) > 1e-13 * largest ? row[j] : 0;
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
