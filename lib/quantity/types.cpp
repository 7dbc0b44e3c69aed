#include "quantity/types.hpp"

namespace vacuary {
namespace {

Temperature kelvin(double value) { return Temperature::from_value(value); }

// What a throughput of 1 Pa m3/s is in mol/s at temperature T.
double mol_per_pa_m3(double temperature_k) { return 1.0 / (constants::gas_j_per_mol_k * temperature_k); }

double amount(FlowBasis basis, double value_si, const GasReference& reference) {
  switch (basis) {
    case FlowBasis::amount:
      break;
    case FlowBasis::standard:
      return value_si * reference.standard_pressure.value() *
             mol_per_pa_m3(reference.standard_temperature.value());
    case FlowBasis::pressure_volume:
      return value_si * mol_per_pa_m3(reference.gas_temperature.value());
  }
  return value_si;
}

}  // namespace

Throughput throughput(MolarFlow flow, Temperature gas) {
  return Throughput::from_pa_m3_per_s(flow.value() / mol_per_pa_m3(gas.value()));
}

MolarFlow molar_flow(Throughput throughput, Temperature gas) {
  return MolarFlow::from_value(throughput.pa_m3_per_s() * mol_per_pa_m3(gas.value()));
}

GasReference GasReference::usual() {
  return {kelvin(273.15), Pressure::from_value(101325.0), kelvin(293.15)};
}

MolarFlow WrittenFlow::resolve(const GasReference& reference) const {
  return MolarFlow::from_value(amount(basis, value_si, reference));
}

WrittenFlow WrittenFlow::of(MolarFlow flow, FlowBasis basis, const GasReference& reference) {
  return {basis, flow.value() / amount(basis, 1.0, reference)};
}

MolarFlux WrittenFlux::resolve(const GasReference& reference) const {
  return MolarFlux::from_value(amount(basis, value_si, reference));
}

}  // namespace vacuary
