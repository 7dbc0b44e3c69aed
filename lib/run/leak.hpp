// A leak, from how the pressure of a pumped vessel falls.
//
//   (K1)  p(t) = k q(t)^e + c          a steady inflow from the start
//   (K2)  p(t) = k q(t)^e + c + d [t > t0]   one that opens on the way
// q is the outgassing of the chamber file, k what its level may be off by, e around 1 what its
// exponents may be off by. Least squares of the relative residuals over stretches of equal ln t.
// Every (e, t0) whose residuals are nearly as small as the best ones' is believed; what the least of
// their inflows leaves over is what no outgassing explains. (K2) is taken only where it leaves a
// quarter of what (K1) leaves of the squared residuals.
//
// Range: high vacuum, gas load by outgassing and leak only (no gas let in). A leak that is small
// beside the outgassing, or that opened before the first stretch and hides in an exponent, is not
// seen.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>

#include "run/sums.hpp"

namespace vacuary::run {

class PressureFall {
 public:
  void add(double t_s, double pressure_pa);

  struct Inflow {
    double best_pa = 0, least_pa = 0;  // inflow over pumping speed
    std::optional<double> opened_s;    // (K2)
    // The walls' part at one hour, and over all that is believed; e of the best.
    double walls_1h_pa = 0, walls_1h_least_pa = 0, walls_1h_most_pa = 0, exponent = 1;
    double from_s = 0, to_s = 0;  // stretch seen
  };
  // `outgassing` of t in seconds, any unit, above zero. Nothing with fewer than 12 stretches.
  [[nodiscard]] std::optional<Inflow> inflow(const std::function<double(double)>& outgassing) const;

 private:
  static constexpr std::size_t bins = 130;  // 50 a decade from 5 min on
  struct Bin {
    std::uint64_t n = 0;
    Sum ln_t, pressure_pa;
  };
  std::array<Bin, bins> bins_;
};

}  // namespace vacuary::run
