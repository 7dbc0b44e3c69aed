// Prints what the models say of a few cases, one "name value" a line, for compare.py to hold against SciPy.
#include <fmt/format.h>

#include <cmath>
#include <limits>

#include "physics/physics.hpp"

using namespace vacuary;
using namespace vacuary::physics;

namespace {

Pressure pa(double x) { return Pressure::from_value(x); }
Duration s(double x) { return Duration::from_value(x); }

void say(const std::string& name, double value) { fmt::print("{} {:.17g}\n", name, value); }

PumpdownCase vessel() {
  PumpdownCase c;
  const auto litres = [](double x) { return PumpingSpeed::from_value(x / 1000); };
  const double rt = constants::gas_j_per_mol_k * 293.15;
  c.volume = Volume::from_value(14);
  // Pa m3/s at 1 h over R T: 2.31e-3 with exponent 1, 3.9e-4 with exponent 0.5.
  c.walls = {{Area::from_value(1), MolarFlux::from_value(2.31e-3 / rt), Ratio::of(1)},
             {Area::from_value(1), MolarFlux::from_value(3.9e-4 / rt), Ratio::of(0.5)}};
  c.leak = MolarFlow::from_value(2e-5 / rt);
  c.argon_flow = MolarFlow::from_value(1e-4 / rt);
  PumpingStage rough;
  rough.rows = {{pa(110000), litres(60), litres(60), litres(60)},
                {pa(30000), litres(150), litres(150), litres(150)},
                {pa(3000), litres(400), litres(400), litres(400)}};
  rough.ultimate = pa(0.1);
  rough.until = pa(3);
  PumpingStage high;
  high.rows = {{pa(1e9), litres(3670), litres(7280), litres(3070)}};
  c.stages = {rough, high};
  c.start = {pa(100000), pa(1000), pa(325)};
  c.longest = s(40000);
  return c;
}

void pumpdown() {
  PumpdownCase c = vessel();
  for (double t : {100.0, 400.0, 700.0, 900.0, 5000.0, 40000.0}) {
    c.longest = s(t);
    say(fmt::format("pumpdown_at_{:.0f}", t), pump_down(c).end().total().value());
  }
  for (double target : {3.0, 1e-2, 2e-4}) {
    c.longest = s(1e6);
    c.target = pa(target);
    say(fmt::format("pumpdown_to_{}", target), pump_down(c).time.value_or(s(-1)).value());
  }
}

void fits() {
  std::vector<PressureSample> decay;
  std::vector<RiseSample> rise;
  for (int i = 0; i < 150; ++i) {
    const double wobble = 1 + 0.02 * std::sin(7.0 * i * i);
    const double t = 1800 * std::pow(30.0, i / 149.0);
    decay.push_back({s(t), pa((2e-4 * std::pow(t / 3600, -0.9) + 3e-5) * wobble)});
    const double x = 6.0 * i;
    rise.push_back(
        {s(x), pa(1e-4 + 2e-6 * x + 4e-3 * (1 - std::exp(-x / 200)) + 2e-5 * std::sin(7.0 * i * i))});
  }
  const auto d = fit_decay(decay);
  say("decay_a", d->at_1h.value.value());
  say("decay_n", d->exponent.value.value());
  say("decay_c", d->floor.value.value());
  const auto r = fit_rise(rise);
  say("rise_a", r->steady.value.value());
  say("rise_b", r->saturating.value.value());
  say("rise_tau", r->tau.value());
}

void statistics() {
  say("student_99_16", student_factor(0.99, 16));
  say("student_95_3.5", student_factor(0.95, 3.5));
  say("normal_95", student_factor(0.95, std::numeric_limits<double>::infinity()));
  const WeightedMean mean = weighted_mean({10, 10.4, 9.1, 11.7}, {0.3, 0.5, 0.4, 0.9});
  say("weighted_mean", mean.mean);
  say("weighted_probability", mean.probability);
  const auto nm = [](double x) { return Length::from_value(x * 1e-9); };
  const CombinedEstimates all = combine_estimates({{"energy", {nm(90), nm(2.4)}},
                                                   {"crystal", {nm(93), nm(3)}},
                                                   {"witness", {nm(88.5), nm(1)}},
                                                   {"target mass", {nm(104), nm(5)}}});
  say("estimates_mean_nm", all.mean.value.value() * 1e9);
  say("estimates_widened_nm", all.mean.standard_uncertainty.value() * 1e9);
  say("estimates_probability", all.probability);
  say("estimates_u_difference_nm", all.each[0].difference_uncertainty.value() * 1e9);
  say("estimates_subset_mean_nm", all.consistent_mean.value.value() * 1e9);
}

void optics() {
  const auto nm = [](double x) { return Length::from_value(x * 1e-9); };
  const std::vector<Layer> layers{{{1.46, 0}, nm(90)}, {{2.1, 0.01}, nm(55)}, {{0.97, 6.5}, nm(30)}};
  for (double wavelength : {400.0, 550.0, 1000.0}) {
    const StackResult r = stack(layers, {1.52, 0}, nm(wavelength));
    say(fmt::format("stack_r_{:.0f}", wavelength), r.reflectance.value());
    say(fmt::format("stack_t_{:.0f}", wavelength), r.transmittance.value());
  }
}

void heat() {
  const Glass sheet{MassDensity::from_value(2230), ThermalConductivity::from_value(1.14),
                    SpecificHeat::from_value(830), Length::from_value(0.02)};
  for (double t : {60.0, 600.0, 3600.0}) {
    const SlabRise r = slab_rise(sheet, PowerDensity::from_value(24.1), Duration::from_value(t));
    say(fmt::format("slab_front_{:.0f}", t), r.front.value());
    say(fmt::format("slab_back_{:.0f}", t), r.back.value());
  }
}

void glow() {
  const auto window = strike_window(*find_paschen("Ar"), Length::from_value(2.41), Voltage::from_value(1500),
                                    Ratio::of(0.01));
  say("strike_low_pa", window ? window->low.value() : 0);
  say("strike_high_pa", window ? window->high.value() : 0);
}

}  // namespace

int main() {
  pumpdown();
  fits();
  statistics();
  optics();
  heat();
  glow();
}
