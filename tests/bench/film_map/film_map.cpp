// What kernel and map cost, against the same sums done as they are written down (README.md).
#include "physics/film_map.hpp"

#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <ctime>
#include <functional>
#include <random>

#include "model/film_map.hpp"
#include "plan/plan.hpp"

namespace {

using namespace vacuary;

constexpr std::size_t radii = 256, angles = 1440;
constexpr double turn_rad = 6.283185307179586;

struct Took {
  double wall_s = 1e300, processor_s = 1e300;
};

// The best of some: what a busy machine adds is not ours.
Took best_of(int times, const std::function<void()>& work) {
  Took best;
  for (int i = 0; i < times; ++i) {
    const auto start = std::chrono::steady_clock::now();
    const std::clock_t used = std::clock();
    work();
    const double wall = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    best.wall_s = std::min(best.wall_s, wall);
    best.processor_s = std::min(best.processor_s, static_cast<double>(std::clock() - used) / CLOCKS_PER_SEC);
  }
  return best;
}

void row(const char* what, const Took& took, double alternative_s, const char* alternative) {
  fmt::print("{:<44} {:8.4f} s {:8.4f} s  {:9.1f} times less than {:.3g} s, {}\n", what, took.wall_s,
             took.processor_s, alternative_s / took.processor_s, alternative_s, alternative);
}

// Every ring and step by the definition, of a few rings; the rest is taken to cost the same.
double direct_kernel_s(const plan::Cathode& cathode, const plan::Optic& optic) {
  constexpr std::size_t every = 32;
  const auto surface = model::coated_surface(optic);
  const auto source = physics::elements(model::racetrack(cathode), surface);
  const auto shield = model::trim_shield(cathode);
  const double width_m = (optic.outer_radius.value - optic.inner_radius.value).value() / radii;
  double sum = 0;
  const Took took = best_of(1, [&] {
    for (std::size_t i = every / 2; i < radii; i += every) {
      for (std::size_t j = 0; j < angles; ++j) {
        const Length r =
            optic.inner_radius.value + Length::from_value(width_m * (static_cast<double>(i) + 0.5));
        const Angle psi = Angle::from_value(turn_rad * static_cast<double>(j) / angles);
        sum += physics::direct_sum_per_m2(source, cathode.emission_exponent.value, surface, shield, r, psi);
      }
    }
  });
  return sum > 0 ? took.processor_s * every : 0;
}

// The convolution as a sum over all bins, of a few rings.
double direct_map_s(const physics::FilmKernel& kernel, const physics::AngleDose& dose, double& worst) {
  constexpr std::size_t every = 32;
  std::vector<double> film(angles);
  const physics::FilmMap map = physics::lay_film(kernel, dose);
  const Took took = best_of(1, [&] {
    for (std::size_t i = every / 2; i < radii; i += every) {
      for (std::size_t j = 0; j < angles; ++j) {
        double sum = 0;
        for (std::size_t b = 0; b < angles; ++b)
          sum += dose.zeroth_m()[b] * kernel.at(i, (j + angles - b) % angles);
        film[j] = sum;
      }
      for (std::size_t j = 0; j < angles; ++j) worst = std::max(worst, std::fabs(film[j] / map.at(i, j) - 1));
    }
  });
  return took.processor_s * every;
}

}  // namespace

int main() {
  const std::string recipe = std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/aluminium-90nm.toml";
  const plan::Plan plan = plan::load(recipe).value();
  const plan::Cathode& cathode = plan.chamber.cathodes.front();
  const model::CathodeKernels kernels(cathode, *plan.optic, {radii, angles, 2});
  plan::Cathode bare = cathode;
  bare.shield_height.reset();
  bare.shield_opening.clear();
  bare.calibration.diffuse_share.value = Ratio::of(0);
  plan::Cathode narrow = bare;  // any exponent but 1 needs a power for each ray
  narrow.emission_exponent.value = Ratio::of(1.3);

  fmt::print("{:<44} {:>10} {:>10}\n", fmt::format("grid {} x {}", radii, angles), "wall", "processor");
  const double direct_s = direct_kernel_s(cathode, *plan.optic);
  const double bare_s = direct_kernel_s(bare, *plan.optic);
  const double narrow_s = direct_kernel_s(narrow, *plan.optic);
  for (const unsigned threads : {1U, 2U}) {
    const auto build = [&](const plan::Cathode& one) {
      return best_of(5, [&] { (void)model::CathodeKernels(one, *plan.optic, {radii, angles, threads}); });
    };
    row(fmt::format("sample cathode's kernels, {} thread{}", threads, threads == 1 ? "" : "s").c_str(),
        build(cathode), direct_s, "the definition at every place");
    row(fmt::format("without its shield, {} thread{}", threads, threads == 1 ? "" : "s").c_str(), build(bare),
        bare_s, "the definition at every place");
    row(fmt::format("the same with n = 1.3, {} thread{}", threads, threads == 1 ? "" : "s").c_str(),
        build(narrow), narrow_s, "the definition at every place");
  }
  physics::AngleDose dose(angles);
  std::mt19937_64 random(1);
  std::uniform_real_distribution<double> unit(0.9, 1.1);
  double at = 0;
  for (int i = 0; i < 720; ++i) {
    const double to = at + 0.0523 * unit(random);
    dose.add(Angle::from_value(at), Angle::from_value(to), Length::from_value(0.125e-9 * unit(random)));
    at = to;
  }
  double worst = 0;
  const double slow_s = direct_map_s(kernels.straight, dose, worst);
  row("map from a known kernel, 1 thread",
      best_of(10, [&] { (void)physics::lay_film(kernels.straight, dose); }), slow_s, "a sum over all bins");
  fmt::print("nearest-bin sum and map differ by up to {:.1e}: the bins' moments\n", worst);
  return 0;
}
