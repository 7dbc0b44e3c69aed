#include "run/rises.hpp"

#include "physics/physics.hpp"

namespace vacuary::run {
namespace {

MolarFlow as_leak(const plan::Chamber& chamber, PressureRate rate) {
  return physics::leak_bound(rate, chamber.volume.value, chamber.gas_temperature.value);
}

Estimate<MolarFlow> as_leak(const plan::Chamber& chamber, const Estimate<PressureRate>& rate) {
  return {as_leak(chamber, rate.value), as_leak(chamber, rate.standard_uncertainty)};
}

std::string reading(const physics::RiseFit& fit) {
  switch (fit.reading) {
    case physics::RiseReading::no_rise:
      return "no rise is seen above the scatter";
    case physics::RiseReading::straight:
      return "the rise is straight: a leak and water from the walls look the same, so this is the most the "
             "leak can be; two tests hours apart tell them apart";
    case physics::RiseReading::bends:
      return "the rise bends over: gas from the walls makes up most of it, and the leak is smaller than this";
    case physics::RiseReading::accelerates:
      break;
  }
  return "the rise grows ever faster: walls that warm or a valve that opens; it bounds no leak";
}

}  // namespace

RiseWatch::RiseWatch(const Scene& scene) : scene_(scene) {
  for (std::size_t s = 0; s < scene.plan.recipe.steps.size(); ++s) {
    if (scene.plan.recipe.steps[s].kind == plan::StepKind::rate_of_rise)
      rises_.push_back({static_cast<int>(s), false, {}, {}, {}});
  }
}

void RiseWatch::take(const Stretch& rows) {
  for (Rise& rise : rises_) {
    if (rise.step != rows.step()) continue;
    for (const Row& row : rows) {
      if (std::isnan(row.pressure_pa)) continue;
      if (!rise.any) rise.start = row.time;
      rise.any = true;
      rise.end = row.time;
      rise.samples.add(seconds(rise.start, row.time), row.pressure_pa);
    }
  }
}

void RiseWatch::tell(std::optional<Instant> zero, VacuumHealth& health) const {
  const plan::Chamber& chamber = scene_.plan.chamber;
  for (const Rise& rise : rises_) {
    std::vector<physics::RiseSample> samples;
    for (const Thinned::Point& p : rise.samples.points())
      samples.push_back({Duration::from_value(p.t_s), Pressure::from_value(p.value)});
    const std::optional<physics::RiseFit> fit = physics::fit_rise(samples);
    if (!fit) continue;
    RateOfRise told;
    told.step = scene_.step_name(rise.step);
    told.rate = fit->slope;
    told.steady = fit->steady;
    if (fit->reading == physics::RiseReading::bends) told.saturates = fit->tau;
    told.leak_at_most = as_leak(chamber, fit->steady);
    told.leak_bound = as_leak(chamber, fit->leak_rate_at_most);
    if (zero) told.clock = Duration::from_value((seconds(*zero, rise.start) + seconds(*zero, rise.end)) / 2);
    told.shape = physics::name(fit->reading);
    told.reading = reading(*fit);
    health.rises.push_back(std::move(told));
  }
  // The first and the last: the longer apart, the more they can tell.
  if (health.rises.size() < 2) return;
  const RateOfRise &first = health.rises.front(), &second = health.rises.back();
  if (!(first.clock.value() > 0) || !(second.clock > first.clock)) return;
  const physics::TwoRises both = physics::combine_rises(first.rate, first.clock, second.rate, second.clock);
  health.rises_together = RisesTogether{first.step, second.step, physics::name(both.origin),
                                        as_leak(chamber, both.leak), as_leak(chamber, both.leak_at_most)};
}

}  // namespace vacuary::run
