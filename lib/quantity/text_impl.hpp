// The templates of text.hpp: thin typed shells over functions on doubles in SI.
#pragma once

#include <type_traits>

#include "quantity/text.hpp"

namespace vacuary {

namespace detail {

struct WrittenSi {
  double value_si = 0;
  Unit unit;
};
[[nodiscard]] std::variant<WrittenSi, TextProblem> parse_si(std::string_view text, Kind kind);
[[nodiscard]] double in_unit(double value_si, const Unit& unit);
[[nodiscard]] double to_si(double value, const Unit& unit);
[[nodiscard]] std::string exact_si(double value_si, const Unit& unit);
[[nodiscard]] std::string brief_si(double value_si, const Unit& unit, int digits);
[[nodiscard]] std::string with_uncertainty_si(double value_si, double expanded_si, const Unit& unit);
// Throws std::logic_error when `unit` cannot be the unit of such a quantity: our own mistake.
void require_kind(Kind kind, const Unit& unit);
void require_basis(FlowBasis basis, const Unit& unit);

// value_si and back for each type. `checked` takes the value out after a look at the unit.
template <class Q>
struct Si {
  static Q make(double value_si, const Unit&) { return Q::from_value(value_si); }
  static double checked(const Q& q, const Unit&) { return q.value(); }
};
template <class Q>
struct SiStrong {
  static Q make(double value_si, const Unit&) { return Q::of(value_si); }
  static double checked(const Q& q, const Unit&) { return q.value(); }
};
template <>
struct Si<Ratio> : SiStrong<Ratio> {};
template <>
struct Si<Count> : SiStrong<Count> {};
template <class Q>
struct SiWritten {
  static Q make(double value_si, const Unit& unit) { return Q{unit.basis, value_si}; }
  static double checked(const Q& q, const Unit& unit) {
    require_basis(q.basis, unit);
    return q.value_si;
  }
};
template <>
struct Si<WrittenFlow> : SiWritten<WrittenFlow> {};
template <>
struct Si<WrittenFlux> : SiWritten<WrittenFlux> {};
template <class Q>
struct SiAmount {
  static Q make(double value_si, const Unit& unit) {
    require_basis(FlowBasis::amount, unit);
    return Q::from_value(value_si);
  }
  static double checked(const Q& q, const Unit& unit) {
    require_basis(FlowBasis::amount, unit);
    return q.value();
  }
};
template <>
struct Si<MolarFlow> : SiAmount<MolarFlow> {};
template <>
struct Si<MolarFlux> : SiAmount<MolarFlux> {};
template <>
struct Si<Throughput> {
  static Throughput make(double value_si, const Unit& unit) {
    require_basis(FlowBasis::pressure_volume, unit);
    return Throughput::from_pa_m3_per_s(value_si);
  }
  static double checked(const Throughput& q, const Unit& unit) {
    require_basis(FlowBasis::pressure_volume, unit);
    return q.pa_m3_per_s();
  }
};

// A flow in text may be an amount, a standard flow or a throughput, and which one only a WrittenFlow
// can hold.
template <class Q>
inline constexpr bool readable =
    !std::is_same_v<Q, MolarFlow> && !std::is_same_v<Q, MolarFlux> && !std::is_same_v<Q, Throughput>;

}  // namespace detail

template <Kind K>
using KindConstant = std::integral_constant<Kind, K>;
template <>
struct KindOf<Length> : KindConstant<Kind::length> {};
template <>
struct KindOf<Area> : KindConstant<Kind::area> {};
template <>
struct KindOf<Volume> : KindConstant<Kind::volume> {};
template <>
struct KindOf<Duration> : KindConstant<Kind::duration> {};
template <>
struct KindOf<Mass> : KindConstant<Kind::mass> {};
template <>
struct KindOf<MassDensity> : KindConstant<Kind::mass_density> {};
template <>
struct KindOf<DepositionRate> : KindConstant<Kind::deposition_rate> {};
template <>
struct KindOf<Pressure> : KindConstant<Kind::pressure> {};
template <>
struct KindOf<Power> : KindConstant<Kind::power> {};
template <>
struct KindOf<Energy> : KindConstant<Kind::energy> {};
template <>
struct KindOf<Voltage> : KindConstant<Kind::voltage> {};
template <>
struct KindOf<Current> : KindConstant<Kind::current> {};
template <>
struct KindOf<Charge> : KindConstant<Kind::charge> {};
template <>
struct KindOf<Frequency> : KindConstant<Kind::frequency> {};
template <>
struct KindOf<Angle> : KindConstant<Kind::angle> {};
template <>
struct KindOf<AngularSpeed> : KindConstant<Kind::angular_speed> {};
template <>
struct KindOf<PumpingSpeed> : KindConstant<Kind::pumping_speed> {};
template <>
struct KindOf<WrittenFlow> : KindConstant<Kind::flow> {};
template <>
struct KindOf<MolarFlow> : KindConstant<Kind::flow> {};
template <>
struct KindOf<Throughput> : KindConstant<Kind::flow> {};
template <>
struct KindOf<WrittenFlux> : KindConstant<Kind::flux> {};
template <>
struct KindOf<MolarFlux> : KindConstant<Kind::flux> {};
template <>
struct KindOf<ThicknessPerEnergy> : KindConstant<Kind::thickness_per_energy> {};
template <>
struct KindOf<MassPerEnergy> : KindConstant<Kind::mass_per_energy> {};
template <>
struct KindOf<PowerDensity> : KindConstant<Kind::power_density> {};
template <>
struct KindOf<PowerRamp> : KindConstant<Kind::power_ramp> {};
template <>
struct KindOf<VoltageRate> : KindConstant<Kind::voltage_rate> {};
template <>
struct KindOf<ChargeDensity> : KindConstant<Kind::charge_density> {};
template <>
struct KindOf<PressureLength> : KindConstant<Kind::pressure_length> {};
template <>
struct KindOf<PressureRate> : KindConstant<Kind::pressure_rate> {};
template <>
struct KindOf<ThermalConductivity> : KindConstant<Kind::thermal_conductivity> {};
template <>
struct KindOf<SpecificHeat> : KindConstant<Kind::specific_heat> {};
template <>
struct KindOf<TemperatureDifference> : KindConstant<Kind::temperature_difference> {};
template <>
struct KindOf<Temperature> : KindConstant<Kind::temperature> {};
template <>
struct KindOf<Ratio> : KindConstant<Kind::ratio> {};
template <>
struct KindOf<Count> : KindConstant<Kind::count> {};

template <class Q>
std::variant<Written<Q>, TextProblem> parse(std::string_view text) {
  static_assert(detail::readable<Q>, "read a WrittenFlow or WrittenFlux and resolve it");
  std::variant<detail::WrittenSi, TextProblem> read = detail::parse_si(text, KindOf<Q>::value);
  if (auto* problem = std::get_if<TextProblem>(&read)) return std::move(*problem);
  auto& written = std::get<detail::WrittenSi>(read);
  const Q value = detail::Si<Q>::make(written.value_si, written.unit);
  return Written<Q>{value, std::move(written.unit)};
}

template <class Q>
double in(Q value, const Unit& unit) {
  detail::require_kind(KindOf<Q>::value, unit);
  return detail::in_unit(detail::Si<Q>::checked(value, unit), unit);
}

template <class Q>
Q of(double value, const Unit& unit) {
  detail::require_kind(KindOf<Q>::value, unit);
  return detail::Si<Q>::make(detail::to_si(value, unit), unit);
}

template <class Q>
std::string exact(Q value, const Unit& unit) {
  detail::require_kind(KindOf<Q>::value, unit);
  return detail::exact_si(detail::Si<Q>::checked(value, unit), unit);
}

template <class Q>
std::string brief(Q value, const Unit& unit, int digits) {
  detail::require_kind(KindOf<Q>::value, unit);
  return detail::brief_si(detail::Si<Q>::checked(value, unit), unit, digits);
}

template <class Q>
std::string with_uncertainty(Q value, Q expanded, const Unit& unit) {
  detail::require_kind(KindOf<Q>::value, unit);
  return detail::with_uncertainty_si(detail::Si<Q>::checked(value, unit),
                                     detail::Si<Q>::checked(expanded, unit), unit);
}

}  // namespace vacuary
