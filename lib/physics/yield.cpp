#include "physics/yield.hpp"

#include <array>
#include <cmath>

namespace vacuary::physics {
namespace {

constexpr std::array<TargetElement, 6> targets{{
    {"Al", 13, 26.981538, 3.39, 1.00, 2.17, 2.5, 2698.9},
    {"Si", 14, 28.0855, 4.63, 0.66, 2.32, 2.5, 2330.0},
    {"Cr", 24, 51.9961, 4.10, 0.93, 1.44, 2.5, 7190.0},
    {"Ni", 28, 58.6934, 4.44, 0.94, 1.33, 2.5, 8902.0},
    {"Cu", 29, 63.546, 3.49, 1.00, 0.73, 2.5, 8960.0},
    {"Ag", 47, 107.8682, 2.95, 1.08, 1.03, 2.8, 10500.0},
}};

double energy_transfer_factor(double m1, double m2) { return 4 * m1 * m2 / ((m1 + m2) * (m1 + m2)); }

double threshold_ev(double m1, double m2, double us_ev) {
  const double g = energy_transfer_factor(m1, m2);
  return us_ev * (m1 >= m2 ? 6.7 : 1 + 5.7 * m1 / m2) / g;  // (Y8)
}

double alpha(double ratio) {
  return ratio >= 1 ? 0.249 * std::pow(ratio, 0.56) + 0.0035 * std::pow(ratio, 1.5)
                    : 0.0875 * std::pow(ratio, -0.15) + 0.165 * ratio;  // (Y7)
}

}  // namespace

const TargetElement* find_target(std::string_view symbol) {
  for (const TargetElement& target : targets) {
    if (target.symbol == symbol) return &target;
  }
  return nullptr;
}

SputterYield::SputterYield(int projectile_number, double projectile_g_per_mol, const TargetElement& target)
    : target_(target) {
  const double z1 = projectile_number, z2 = target.atomic_number;
  const double m1 = projectile_g_per_mol, m2 = target.molar_mass_g_per_mol;
  const double screening = std::pow(z1, 2.0 / 3) + std::pow(z2, 2.0 / 3);
  to_reduced_ = 0.03255 / (z1 * z2 * std::sqrt(screening)) * m2 / (m1 + m2);  // (Y2)
  to_sn_ev_a2_ = 84.78 * z1 * z2 / std::sqrt(screening) * m1 / (m1 + m2);     // (Y4)
  k_ = 0.079 * std::pow(m1 + m2, 1.5) / (std::pow(m1, 1.5) * std::sqrt(m2)) * std::pow(z1, 2.0 / 3) *
       std::sqrt(z2) / std::pow(screening, 0.75);  // (Y5)
  g_ = target.w / (1 + std::pow(m1 / 7, 3));       // (Y6)
  a_ = alpha(m2 / m1);
  threshold_ev_ = threshold_ev(m1, m2, target.surface_binding_ev);
}

YieldTerms SputterYield::at(double ion_ev) const {
  YieldTerms t{};
  t.reduced_energy = to_reduced_ * ion_ev;
  const double e = t.reduced_energy, root = std::sqrt(e);
  t.sn = 3.441 * root * std::log(e + 2.718) / (1 + 6.355 * root + e * (6.882 * root - 1.708));  // (Y3)
  t.sn_ev_a2 = to_sn_ev_a2_ * t.sn;
  t.k = k_;
  t.g = g_;
  t.a = a_;
  t.threshold_ev = threshold_ev_;
  if (ion_ev > t.threshold_ev) {
    t.yield = 0.042 * target_.q * t.a * t.sn_ev_a2 / target_.surface_binding_ev /
              (1 + t.g * t.k * std::pow(e, 0.3)) *
              std::pow(1 - std::sqrt(t.threshold_ev / ion_ev), target_.s);  // (Y1)
  }
  return t;
}

YieldTerms sputter_yield_terms(int projectile_number, double projectile_g_per_mol,
                               const TargetElement& target, double ion_ev) {
  return SputterYield(projectile_number, projectile_g_per_mol, target).at(ion_ev);
}

ArgonYield::ArgonYield(const TargetElement& target) : yield_(18, 39.948, target) {}

Ratio argon_yield(const TargetElement& target, Voltage voltage) { return ArgonYield(target).at(voltage); }

}  // namespace vacuary::physics
