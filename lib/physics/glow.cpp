#include "physics/glow.hpp"

#include <array>
#include <cmath>
#include <numbers>

namespace vacuary::physics {
namespace {

constexpr double torr_cm_pa_m = 101325.0 / 760 * 0.01;  // 1 Torr cm

constexpr std::array<PaschenGas, 2> gases{{
    {"Ar", 11.5 / torr_cm_pa_m, 176 / torr_cm_pa_m},
    {"N2", 11.8 / torr_cm_pa_m, 325 / torr_cm_pa_m},
}};

double townsend(Ratio electrons_per_ion) { return std::log1p(1 / electrons_per_ion.value()); }

// The x between `inside` (strikes) and `outside` (does not) at which striking ends.
template <class Strikes>
double edge(double inside, double outside, Strikes strikes) {
  for (int i = 0; i < 100; ++i) {
    const double middle = std::sqrt(inside * outside);
    (strikes(middle) ? inside : outside) = middle;
  }
  return inside;
}

}  // namespace

const PaschenGas* find_paschen(std::string_view formula) {
  for (const PaschenGas& gas : gases) {
    if (gas.formula == formula) return &gas;
  }
  return nullptr;
}

std::optional<Voltage> breakdown_voltage(const PaschenGas& gas, PressureLength x, Ratio electrons_per_ion) {
  const double below = std::log(gas.a_per_pa_m * x.value() / townsend(electrons_per_ion));
  if (!(below > 0)) return std::nullopt;
  return Voltage::from_value(gas.b_v_per_pa_m * x.value() / below);  // (D1)
}

PaschenMinimum paschen_minimum(const PaschenGas& gas, Ratio electrons_per_ion) {
  const double x = std::numbers::e / gas.a_per_pa_m * townsend(electrons_per_ion);
  return {PressureLength::from_value(x), Voltage::from_value(gas.b_v_per_pa_m * x)};  // (D2)
}

std::optional<StrikeWindow> strike_window(const PaschenGas& gas, Length gap, Voltage available,
                                          Ratio electrons_per_ion) {
  const PaschenMinimum least = paschen_minimum(gas, electrons_per_ion);
  if (available < least.voltage) return std::nullopt;
  const auto strikes = [&](double x) {
    const std::optional<Voltage> v = breakdown_voltage(gas, PressureLength::from_value(x), electrons_per_ion);
    return v && *v <= available;
  };
  const double low = edge(least.x.value(), least.x.value() / std::numbers::e, strikes);
  double far = 10 * least.x.value();
  while (strikes(far)) far *= 10;
  const double high = edge(least.x.value(), far, strikes);
  return StrikeWindow{Pressure::from_value(low / gap.value()), Pressure::from_value(high / gap.value())};
}

}  // namespace vacuary::physics
