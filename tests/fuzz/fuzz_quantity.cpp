// Any text as every kind of quantity: no crash, problems point into the text, and what is read prints
// as text that reads back to the same bits.
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <string_view>
#include <type_traits>

#include "quantity/quantity.hpp"

namespace {

using namespace vacuary;

double si(const WrittenFlow& q) { return q.value_si; }
double si(const WrittenFlux& q) { return q.value_si; }
template <class Q>
double si(const Q& q) {
  return q.value();
}

void require(bool holds) {
  if (!holds) std::abort();
}

template <class Q>
void try_as(std::string_view text) {
  const auto read = parse<Q>(text);
  if (const auto* problem = std::get_if<TextProblem>(&read)) {
    require(problem->offset <= text.size() && problem->length <= text.size() - problem->offset);
    require(!problem->message.empty());
    return;
  }
  const auto& written = std::get<Written<Q>>(read);
  const auto again = parse<Q>(exact(written.value, written.unit));
  require(std::holds_alternative<Written<Q>>(again));
  const double before = si(written.value);
  const double after = si(std::get<Written<Q>>(again).value);
  require(std::memcmp(&before, &after, sizeof before) == 0);
  if constexpr (std::is_same_v<Q, WrittenFlow> || std::is_same_v<Q, WrittenFlux>) {
    require(std::get<Written<Q>>(again).value.basis == written.value.basis);
  }
  require(!brief(written.value, written.unit).empty());
  require(!with_uncertainty(written.value, written.value, written.unit).empty());
}

template <class... Q>
void try_as_each(std::string_view text) {
  (try_as<Q>(text), ...);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  try_as_each<Length, Area, Volume, Duration, Mass, MassDensity, DepositionRate, Pressure, Power, Energy,
              Voltage, Current, Charge, Frequency, Angle, AngularSpeed, PumpingSpeed, WrittenFlow,
              WrittenFlux, ThicknessPerEnergy, MassPerEnergy, PowerDensity, PowerRamp, VoltageRate,
              ChargeDensity, PressureLength, PressureRate, ThermalConductivity, SpecificHeat,
              TemperatureDifference, Temperature, Ratio, Count>(text);
  (void)parse_unit_of_any_kind(text);
  return 0;
}
