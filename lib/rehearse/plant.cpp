#include "rehearse/plant.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "rehearse/random.hpp"

namespace vacuary::rehearse {

namespace {

// One stream per thing, by its name: adding a gauge to a chamber leaves the others as they were.
class Draw {
 public:
  Draw(std::uint64_t seed, bool scatter) : seed_(seed), scatter_(scatter) {}

  [[nodiscard]] double normal(const std::string& what, double sigma) const {
    return scatter_ ? sigma * Random(seed_, "plant " + what).normal() : 0;
  }
  [[nodiscard]] double gain(const std::string& what, double sigma) const {
    return std::exp(normal(what, sigma));
  }
  [[nodiscard]] double uniform(const std::string& what, double low, double high) const {
    return scatter_ ? Random(seed_, "plant " + what).uniform(low, high) : (low + high) / 2;
  }

 private:
  std::uint64_t seed_;
  bool scatter_;
};

CathodeTruth draw_cathode(const plan::Cathode& cathode, const Draw& draw) {
  const std::string& name = cathode.name.value;
  CathodeTruth truth;
  truth.film_gain = 1 + draw.normal(name + " film", cathode.calibration.uncertainty.value.value());
  const double throw_m = cathode.throw_distance.value.value();
  truth.throw_m = std::max(0.5 * throw_m,
                           throw_m + draw.normal(name + " throw", cathode.throw_uncertainty.value.value()));
  truth.exponent =
      std::max(0.2, cathode.emission_exponent.value.value() +
                        draw.normal(name + " exponent", cathode.emission_exponent_uncertainty.value.value()));
  const double ends_m = cathode.racetrack_uncertainty.value.value();
  truth.racetrack_inner_m = draw.normal(name + " racetrack inner", ends_m);
  truth.racetrack_outer_m = draw.normal(name + " racetrack outer", ends_m);
  truth.shield_opening_m =
      draw.normal(name + " shield opening", cathode.shield_opening_uncertainty.value.value());
  truth.shield_height_m =
      draw.normal(name + " shield height", cathode.shield_height_uncertainty.value.value());
  truth.p0d0_gain = draw.gain(name + " p0d0", 0.3);
  truth.voltage_gain = draw.gain(name + " voltage", 0.008);
  truth.oxide_v = draw.uniform(name + " oxide depth", 70, 90);
  truth.oxide_s = draw.uniform(name + " oxide time", 90, 120);
  return truth;
}

}  // namespace

Plant draw_plant(const plan::Plan& plan, std::uint64_t seed, bool scatter) {
  const Draw draw(seed, scatter);
  const plan::Chamber& chamber = plan.chamber;
  Plant plant;
  for (const plan::Cathode& cathode : chamber.cathodes) {
    plant.cathodes.push_back(draw_cathode(cathode, draw));
  }
  for (const plan::Surface& surface : chamber.surfaces) {
    plant.outgassing_gain.push_back(draw.gain(surface.name.value + " outgassing", 0.15));
  }
  if (chamber.leak_limit) {
    const double limit = throughput(chamber.leak_limit->value, chamber.gas_temperature.value).pa_m3_per_s();
    plant.leak_pa_m3_per_s = limit * (scatter ? draw.uniform("leak", 0.2, 0.9) : 0.5);
  }
  plant.roughing_gain = draw.gain("roughing speed", 0.03);
  plant.cryo_gain = draw.gain("high-vacuum speed", 0.02);
  for (const plan::Gauge& gauge : chamber.gauges) {
    const std::string& name = gauge.name.value;
    plant.gauges.push_back(
        {draw.gain(name + " gain", gauge.accuracy.value.value()),
         draw.normal(name + " zero", gauge.zero_drift ? gauge.zero_drift->value.value() : 0)});
  }
  for (const plan::GasLine& line : chamber.gas_lines) {
    plant.flow_error.push_back(draw.normal(line.name.value + " flow", line.accuracy.value.value()));
  }
  for (const plan::Supply& supply : chamber.supplies) {
    plant.meter_gain.push_back(
        1 + draw.normal(supply.name.value + " meter", supply.power_accuracy.value.value()));
  }
  plant.encoder_offset_rad = draw.normal("encoder", plan.recipe.angle_at_mark_uncertainty.value.value());
  plant.angle_at_start_rad = draw.uniform("angle", 0, 2 * std::numbers::pi);
  return plant;
}

}  // namespace vacuary::rehearse
