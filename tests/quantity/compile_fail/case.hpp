// What all cases share. Each is compiled twice: as it is, which must succeed, and with BAD defined, which
// must not. Because the two differ in one line, the bad one fails for the reason its comment gives.
#pragma once
#include "quantity/types.hpp"
using namespace vacuary;  // NOLINT
inline const Length length{};
inline const Pressure pressure{};
inline const Power power{};
inline const Energy energy{};
inline const Duration duration{};
inline const MolarFlow flow{};
inline const MolarFlux flux{};
inline const WrittenFlow written_flow{};
inline const Throughput throughput_of_gas{};
inline const PumpingSpeed pumping_speed{};
inline const Temperature warm{};
inline const TemperatureDifference difference{};
inline const Ratio ratio{};
inline const Count count{};
inline const Angle angle{};
inline const AngularSpeed turning{};
inline const Frequency frequency{};
inline const GasReference reference{};
template <class Q>
void take(const Q&) {}
