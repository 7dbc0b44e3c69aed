#include "run/settling.hpp"

#include <cmath>

namespace vacuary::run {
namespace {

constexpr double last_share = 0.1;      // of the energy: by then it rests
constexpr double piece_share = 0.05;    // of the energy: so long that the noise of arcs averages out
constexpr double like_pressure = 0.05;  // moves the voltage by half a percent or so (common practice)

}  // namespace

void Settling::add(double energy_j, double voltage_v, double pressure_pa) {
  if (!(energy_j > 0) || std::isnan(voltage_v)) return;
  in_hand_.add({energy_j, energy_j * voltage_v, energy_j * pressure_pa});
  if (++rows_in_hand_ < rows_a_stretch_) return;
  stretches_.push_back(in_hand_);
  in_hand_ = {};
  rows_in_hand_ = 0;
  if (stretches_.size() < most) return;
  for (std::size_t i = 0; 2 * i + 1 < stretches_.size(); ++i) {
    stretches_[i] = stretches_[2 * i];
    stretches_[i].add(stretches_[2 * i + 1]);
  }
  stretches_.resize(stretches_.size() / 2);
  rows_a_stretch_ *= 2;
}

double Settling::mean_below_v() const {
  Sum all_j;
  for (const Stretch& one : stretches_) all_j.add(one.energy_j);
  Stretch last;
  for (std::size_t i = stretches_.size(); i > 0 && last.energy_j < last_share * all_j.value(); --i)
    last.add(stretches_[i - 1]);
  if (!(last.energy_j > 0)) return 0;
  const double rest_v = last.energy_v / last.energy_j;
  const double rest_pa = last.energy_pa / last.energy_j;
  Sum compared_j, below;
  Stretch piece;
  for (const Stretch& one : stretches_) {
    if (std::abs(one.energy_pa / one.energy_j / rest_pa - 1) > like_pressure) continue;
    piece.add(one);
    if (piece.energy_j < piece_share * all_j.value()) continue;
    compared_j.add(piece.energy_j);
    below.add(std::fmax(0.0, rest_v * piece.energy_j - piece.energy_v));
    piece = {};
  }
  return compared_j.value() > 0 ? below.value() / compared_j.value() : 0;
}

}  // namespace vacuary::run
