#include "run/settling.hpp"

#include <cmath>

namespace vacuary::run {
namespace {

constexpr double last_share = 0.1;      // of the energy: by then it rests
constexpr double piece_share = 0.05;    // of the energy: so long that the noise of arcs averages out
constexpr double like_pressure = 0.05;  // moves the voltage by half a percent or so (common practice)

// Beyond that ratio of one third's rise to the one before the limit is anyone's guess.
constexpr double slowest = 0.8;

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

std::vector<Settling::Stretch> Settling::compared(double& all_j, double& last_v) const {
  Sum sum_j;
  for (const Stretch& one : stretches_) sum_j.add(one.energy_j);
  all_j = sum_j.value();
  Stretch last;
  for (std::size_t i = stretches_.size(); i > 0 && last.energy_j < last_share * all_j; --i)
    last.add(stretches_[i - 1]);
  std::vector<Stretch> pieces;
  if (!(last.energy_j > 0)) return pieces;
  last_v = last.energy_v / last.energy_j;
  const double rest_pa = last.energy_pa / last.energy_j;
  Stretch piece;
  for (const Stretch& one : stretches_) {
    if (std::abs(one.energy_pa / one.energy_j / rest_pa - 1) > like_pressure) continue;
    piece.add(one);
    if (piece.energy_j < piece_share * all_j) continue;
    pieces.push_back(piece);
    piece = {};
  }
  return pieces;
}

// Where the voltage is bound for, if it rises by less and less: the means of three thirds of an exponential
// that comes to rest have the limit v3 + (v3 - v2)^2 / ((v2 - v1) - (v3 - v2)).
double Settling::bound_for_v(const std::vector<Stretch>& pieces, double last_v) {
  const std::size_t third = pieces.size() / 3;
  if (third == 0) return last_v;
  double mean_v[3];
  for (std::size_t k = 0; k < 3; ++k) {
    Stretch sum;
    for (std::size_t i = pieces.size() - (3 - k) * third; i < pieces.size() - (2 - k) * third; ++i)
      sum.add(pieces[i]);
    mean_v[k] = sum.energy_v / sum.energy_j;
  }
  const double before = mean_v[1] - mean_v[0], after = mean_v[2] - mean_v[1];
  if (!(after > 0) || after > slowest * before) return last_v;
  return std::fmax(last_v, mean_v[2] + after * after / (before - after));
}

double Settling::mean_below_v() const {
  double all_j = 0, last_v = 0;
  const std::vector<Stretch> pieces = compared(all_j, last_v);
  const double rest_v = bound_for_v(pieces, last_v);
  Sum compared_j, below;
  for (const Stretch& piece : pieces) {
    compared_j.add(piece.energy_j);
    below.add(std::fmax(0.0, rest_v * piece.energy_j - piece.energy_v));
  }
  return compared_j.value() > 0 ? below.value() / compared_j.value() : 0;
}

}  // namespace vacuary::run
