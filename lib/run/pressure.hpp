// The vessel's true pressure from what the gauges show.
//
//   true = (reading - zero) / relative sensitivity
// for the gas that is there: what the gas lines let in, in proportion; without gas, air above
// 1e-3 mbar and water below it. The zero of a capacitance gauge is what it shows while a better
// gauge says that it should show nothing and no gas is let in; where that never happened the zero
// drift of the chamber file stays in the uncertainty.
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "run/roles.hpp"
#include "run/row.hpp"

namespace vacuary::run {

class VesselPressure {
 public:
  VesselPressure(const plan::Plan& plan, const plan::ChannelMap& map, const Roles& roles);

  // Sets gas_mol_s, pressure_pa, gauge and gauge_u of the row, and each gauge's reading as true pressure
  // for the gas that is there (no_value: outside its range).
  void read(Row& row, double* true_pa);

  // Standard uncertainty of a gauge's true pressure, relative, by what is known of its zero by now.
  [[nodiscard]] double relative_uncertainty(std::size_t gauge, double pressure_pa) const {
    const Gauge& of = gauges_[gauge];
    if (of.drift_pa == 0 || zeros_[gauge].samples >= zero_samples) return of.accuracy;
    const double zero = of.drift_pa / pressure_pa;
    return std::sqrt(of.accuracy * of.accuracy + zero * zero);
  }
  // The next row may be the one that makes a gauge's zero known.
  [[nodiscard]] bool zero_is_near() const;

  struct Zero {
    double mean_pa = 0;
    std::uint64_t samples = 0;
  };
  [[nodiscard]] const Zero& zero(std::size_t gauge) const { return zeros_[gauge]; }
  // What was done, for the reader of the report.
  [[nodiscard]] std::vector<std::string> notes() const;

 private:
  struct Band {
    std::size_t gauge;
    double low_pa, high_pa;
  };
  static constexpr std::uint64_t zero_samples = 5;  // before a zero is believed
  // What a row needs to know of a gauge.
  struct Sensitivity {
    double water = 1;
    std::vector<double> line;  // to the gas of each line; none: reads true pressure of any gas
  };
  struct Gauge {
    int column;
    double low_pa, high_pa, accuracy, drift_pa;  // drift 0: none
    bool capacitance;
    Sensitivity sensitivity;
    double zero_pa = 0;  // taken off, once it is believed
    double now = 1;      // sensitivity to the gas that is there
  };
  void find_gas(Row& row);
  void make_true(const Row& row, double* true_pa) const;
  void adapt();
  [[nodiscard]] double made_true_pa(const Gauge& gauge, const Row& row) const;
  void learn_zeros(const Row& row);
  [[nodiscard]] bool nothing_there(double drift_pa, const Row& row) const;
  [[nodiscard]] Sensitivity sensitivity_of(const plan::Gauge& gauge) const;
  [[nodiscard]] double sensitivity(const Sensitivity& to) const;
  // Which gauge speaks: sets pressure_pa, gauge and gauge_u of the row.
  void choose(const double* true_pa, Row& row) const;

  const Roles& roles_;
  std::vector<Gauge> gauges_;
  struct Flow {
    int column;
    double on_above_mol_s;  // less is a controller's zero
    double mol_s = 0;       // now
  };
  std::vector<Flow> flows_;  // of each gas line
  double total_mol_s_ = 0;
  std::vector<Band> bands_;
  bool bands_from_map_ = false;
  static constexpr int mixed = -1;
  int flows_now_ = 0;  // the gas line that flows, from 1; 0: none
  bool flowing_ = false, water_ = false;
  int current_ = -1;
  std::vector<Zero> zeros_;
  std::vector<char> used_;
};

}  // namespace vacuary::run
