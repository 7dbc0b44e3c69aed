// A closed vessel's pressure rises: how much of that can be a leak.
//
//   (R1) p(t) = p0 + a t + b (1 - exp(-t / tau))
//   (R2) leak <= a V        (an amount when divided by R T)
//
// a is what does not saturate. Over minutes water from the walls rises in a straight line too, so a is an
// **upper bound** on the leak; only saturation (b, tau seen), a second test hours later, or the kind of gas
// tells them apart.
// Range: valves tight, gauge not pumping, no getter, p far below the saturation of water.
// Source: ISO 27895:2009 and EN 1779:1999 (pressure change technique) for (R2); (R1) common practice.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "quantity/types.hpp"

namespace vacuary::physics {

struct RiseCurve {
  Pressure p0{};
  PressureRate a{};
  Pressure b{};
  Duration tau{};
};
[[nodiscard]] Pressure risen(const RiseCurve& curve, Duration t);  // (R1)

// (R2) as pressure times volume per time, and as an amount.
[[nodiscard]] inline Throughput leak_throughput(PressureRate rate, Volume volume) {
  return Throughput::from_pa_m3_per_s(rate.value() * volume.value());
}
[[nodiscard]] inline MolarFlow leak_bound(PressureRate rate, Volume volume, Temperature gas) {
  return molar_flow(leak_throughput(rate, volume), gas);
}

// What one test lets a person say.
enum class RiseReading : std::uint8_t {
  no_rise,      // the slope is not above its uncertainty
  straight,     // leak and water cannot be told apart: the slope bounds the leak
  bends,        // part of it saturates (R1): that part is no leak, a bounds the leak
  accelerates,  // it rises ever faster: warming walls or a valve that opens; the last slope is no bound
};
[[nodiscard]] const char* name(RiseReading reading);

struct RiseFit {
  RiseReading reading = RiseReading::no_rise;
  Estimate<PressureRate> slope;      // of the straight line through all samples
  Estimate<PressureRate> steady;     // a; the same as slope where no bend is seen
  Estimate<Pressure> saturating;     // b; zero where no bend is seen
  Duration tau{};                    // zero where no bend is seen
  PressureRate leak_rate_at_most{};  // one-sided 95 % bound on the leak over the volume
  std::size_t samples = 0;
};
// Samples of one closed test, times from its start. A bend is believed when it lowers the squares by more
// than chance does in one case of a hundred (F test, two more parameters, samples as correlated as
// their residuals show) and has begun to saturate within the test (tau below its length).
// None: fewer than 8 usable samples.
struct RiseSample {
  Duration time{};
  Pressure pressure{};
};
[[nodiscard]] std::optional<RiseFit> fit_rise(const std::vector<RiseSample>& samples);

// Two tests, at wall clocks t1 < t2:
//   (R3) slope_i = l + w t_i^-n,  l = (s2 t2^n - s1 t1^n) / (t2^n - t1^n)
// l is the leak over the volume, the rest is outgassing with exponent n, by default 1.0 with u = 0.2.
enum class RiseOrigin : std::uint8_t { leak, walls, cannot_tell };
[[nodiscard]] const char* name(RiseOrigin origin);
struct TwoRises {
  RiseOrigin origin = RiseOrigin::cannot_tell;  // of most of the second test's rise, if 95 % sure
  Estimate<PressureRate> leak;                  // l, not held at zero
  PressureRate leak_at_most{};                  // one-sided 95 % bound
};
[[nodiscard]] TwoRises combine_rises(const Estimate<PressureRate>& first, Duration first_clock,
                                     const Estimate<PressureRate>& second, Duration second_clock,
                                     const Estimate<Ratio>& exponent = {Ratio::of(1.0), Ratio::of(0.2)});

}  // namespace vacuary::physics
