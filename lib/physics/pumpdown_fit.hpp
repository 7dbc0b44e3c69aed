// What a logged pumpdown says of pump, walls and leak.
//
//   (W1)  p(t) = a (t / 1 h)^-n + c        late: a = R T Q(1 h) / S, c = R T leak / S + what the pump reaches
//   alone (W2)  ln(p - c) = -(S / V) t + const   while the volume is emptied: effective speed S (W3)  Q(1 h)
//   = a S / (R T)             the walls' load
//
// Least squares of relative residuals (a gauge is good to a share of its reading). Neighbouring samples
// share their errors; the uncertainties are widened by what the residuals show of that.
// Range: (W1) samples on the walls' clock, all of one gauge, no gas let in, no plasma, pumps as they
// are; a power law in time needs a decade of it: over a factor of two in time n and c cannot be told
// apart, and the uncertainties say so. (W2) steps of constant speed only, well above the load's pressure.
// A gauge that reads nitrogen-equivalent scales a, c and not n, S.
// Source: (P1), (P2) of pumpdown.hpp turned round; least squares P. R. Bevington (1969), ch. 11.
#pragma once

#include <optional>
#include <vector>

#include "quantity/types.hpp"

namespace vacuary::physics {

struct PressureSample {
  Duration time{};
  Pressure pressure{};
};

struct DecayFit {
  Estimate<Pressure> at_1h;  // a
  Estimate<Ratio> exponent;  // n
  Estimate<Pressure> floor;  // c, not below zero
  Pressure floor_at_most{};  // one-sided 95 % bound on c
  bool floor_seen = false;   // c is more than two of its standard uncertainties above zero
  Ratio scatter;             // relative rms residual
  std::size_t samples = 0;
};
// (W1). None: fewer than 12 usable samples (positive time and pressure), or less than a factor of two in
// time.
[[nodiscard]] std::optional<DecayFit> fit_decay(const std::vector<PressureSample>& samples);

struct SpeedFit {
  Estimate<PumpingSpeed> speed;
  std::size_t samples = 0;
};
// (W2) over the samples more than twice as high as `floor`. None: fewer than 6 of them, or a pressure that
// does not fall by a factor of two.
[[nodiscard]] std::optional<SpeedFit> fit_speed(const std::vector<PressureSample>& samples, Volume volume,
                                                Pressure floor = Pressure{});

// (W3); relative uncertainties add in squares.
[[nodiscard]] Estimate<MolarFlow> wall_load(const DecayFit& decay, const Estimate<PumpingSpeed>& speed,
                                            Temperature gas);

}  // namespace vacuary::physics
