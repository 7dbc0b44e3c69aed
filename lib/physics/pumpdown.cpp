#include "physics/pumpdown.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace vacuary::physics {
namespace {

constexpr double hour_s = 3600;
constexpr double load_step = 0.01;  // share of the wall clock per step: Q linear to 1e-5
constexpr double fall_step = 0.05;  // share of V/S per step while the pressure still falls

using Triple = std::array<double, 3>;  // air, water, argon

// Walls of one exponent as one: sum of q A at 1 h.
struct Load {
  double mol_per_s_1h;
  double exponent;
};

std::vector<Load> group(const std::vector<OutgassingWall>& walls) {
  std::vector<Load> loads;
  for (const OutgassingWall& wall : walls) {
    const double n = wall.exponent.value();
    const double q = wall.at_1h.value() * wall.area.value();
    const auto same =
        std::find_if(loads.begin(), loads.end(), [n](const Load& l) { return l.exponent == n; });
    if (same == loads.end()) {
      loads.push_back({q, n});
    } else {
      same->mol_per_s_1h += q;
    }
  }
  return loads;
}

double load_mol_per_s(const std::vector<Load>& loads, double clock_s) {
  constexpr double t0 = outgassing_floor_s;
  const double x = std::sqrt((clock_s * clock_s + t0 * t0) / (hour_s * hour_s + t0 * t0));  // (P2)
  double sum = 0;
  for (const Load& load : loads) {
    sum += load.mol_per_s_1h * (load.exponent == 1 ? 1 / x : std::pow(x, -load.exponent));
  }
  return sum;
}

// Integral over one step of (P1) with S constant and Q linear from q0 to q1, exact:
// with a = h S / V, p(h) = p e^-a + u (1 - e^-a) + (h / V) (q0 (phi1 - phi2) + q1 phi2).
double step_exact(double p, double u, double speed, double volume, double q0, double q1, double h) {
  const double a = h * speed / volume;
  const double decay = std::exp(-a);
  double phi1 = 1 - a / 2 + a * a / 6, phi2 = 0.5 - a / 6 + a * a / 24;
  if (a > 1e-3) {
    phi1 = -std::expm1(-a) / a;
    phi2 = (1 - phi1) / a;
  }
  return p * decay + u * (1 - decay) + h / volume * (q0 * (phi1 - phi2) + q1 * phi2);
}

class Integrator {
 public:
  explicit Integrator(const PumpdownCase& c)
      : case_(c),
        loads_(group(c.walls)),
        rt_(constants::gas_j_per_mol_k * thermodynamic(c.gas).value()),
        p_{c.start.air.value(), c.start.water.value(), c.start.argon.value()},
        water_kg_(c.liquid_water.value()) {}

  Pumpdown run() {
    enter_stages();
    record();
    while (time_ < case_.longest.value() && !done()) {
      advance();
      enter_stages();
      record();
    }
    if (done()) result_.time = Duration::from_value(time_);
    return std::move(result_);
  }

 private:
  static double total(const Triple& p) { return p[0] + p[1] + p[2]; }
  bool done() const { return case_.target.value() > 0 && total(p_) <= case_.target.value(); }
  const PumpingStage& stage() const { return case_.stages[stage_]; }
  bool last_stage() const { return stage_ + 1 == case_.stages.size(); }

  void enter_stages() {
    while (!last_stage() && total(p_) <= stage().until.value()) {
      ++stage_;
      result_.crossovers.push_back(Duration::from_value(time_));
    }
  }

  // The row in force at total pressure `p`, and the pressure at which the next one takes over.
  const SpeedRow& row(double pressure_pa, double& next_pa) const {
    const std::vector<SpeedRow>& rows = stage().rows;
    std::size_t i = 0;
    while (i + 1 < rows.size() && pressure_pa <= rows[i + 1].below.value()) ++i;
    next_pa = i + 1 < rows.size() ? rows[i + 1].below.value() : 0.0;
    return rows[i];
  }

  Triple speeds(const SpeedRow& row, double pressure_pa) const {
    Triple s{row.air.value(), row.water.value(), row.argon.value()};
    if (!stage().line) return s;
    const double c =
        tube_conductance(*find_gas("air"), case_.gas, *stage().line, Pressure::from_value(pressure_pa))
            .value();
    for (double& x : s) x = 1 / (1 / x + 1 / c);
    return s;
  }

  Triple loads_pa_m3_per_s(double time_s) const {
    return {case_.leak.value() * rt_, load_mol_per_s(loads_, case_.pumped.value() + time_s) * rt_,
            case_.argon_flow.value() * rt_};
  }

  Triple stepped(const Triple& s, const Triple& q0, double h) const {
    const double v = case_.volume.value();
    const Triple q1 = loads_pa_m3_per_s(time_ + h);
    const Triple u{stage().ultimate.value(), 0, 0};
    Triple p{};
    for (std::size_t i = 0; i < 3; ++i) p[i] = step_exact(p_[i], u[i], s[i], v, q0[i], q1[i], h);
    if (water_kg_ > 0) p[1] = std::max(p[1], case_.plateau.value());
    return p;
  }

  // Far from the quasi-steady pressure steps resolve the fall; near it only the load matters.
  double step_length(const Triple& s, const Triple& q) const {
    const double v = case_.volume.value();
    double h = load_step * (case_.pumped.value() + time_ + outgassing_floor_s);
    for (std::size_t i = 0; i < 3; ++i) {
      const double steady = (i == 0 ? stage().ultimate.value() : 0.0) + q[i] / s[i];
      if (std::abs(p_[i] - steady) > 1e-3 * total(p_)) h = std::min(h, fall_step * v / s[i]);
    }
    if (water_kg_ > 0) h = std::min(h, fall_step * v / s[1]);
    return std::min(h, case_.longest.value() - time_);
  }

  // One step, cut short where the total pressure crosses a bound at which something changes.
  void advance() {
    double next_pa = 0;
    const SpeedRow& in_force = row(total(p_), next_pa);
    Triple s = speeds(in_force, total(p_));
    const Triple q0 = loads_pa_m3_per_s(time_);
    double h = step_length(s, q0);
    Triple p = stepped(s, q0, h);
    if (stage().line) {  // the line's conductance at the middle of the step
      s = speeds(in_force, (total(p_) + total(p)) / 2);
      p = stepped(s, q0, h);
    }
    const double bound =
        std::max({next_pa, case_.target.value(), last_stage() ? 0.0 : stage().until.value()});
    if (bound > 0 && total(p) < bound && total(p_) > bound) h = cut(s, q0, h, bound, p);
    use_water(s[1], p, h);
    time_ += h;
    p_ = p;
  }

  // Bisects for the moment the total pressure passes `bound`; ends at or below it.
  double cut(const Triple& s, const Triple& q0, double h, double bound, Triple& p) const {
    double above = 0, below = h;
    for (int i = 0; i < 60 && below - above > 1e-9 * (time_ + h); ++i) {
      const double middle = (above + below) / 2;
      const Triple there = stepped(s, q0, middle);
      (total(there) > bound ? above : below) = middle;
    }
    p = stepped(s, q0, below);
    return below;
  }

  void use_water(double speed, const Triple& p, double h) {
    if (water_kg_ <= 0 || p[1] > case_.plateau.value()) return;
    constexpr double kg_per_mol = 18.015e-3;
    water_kg_ -= speed * case_.plateau.value() / rt_ * kg_per_mol * h;
  }

  void record() {
    const PartialPressures p{Pressure::from_value(p_[0]), Pressure::from_value(p_[1]),
                             Pressure::from_value(p_[2])};
    result_.lowest = result_.curve.empty() ? p.total() : std::min(result_.lowest, p.total());
    result_.curve.push_back({Duration::from_value(time_), p});
  }

  const PumpdownCase& case_;
  std::vector<Load> loads_;
  double rt_;
  Triple p_;
  double water_kg_;
  double time_ = 0;
  std::size_t stage_ = 0;
  Pumpdown result_;
};

}  // namespace

MolarFlow outgassing(const std::vector<OutgassingWall>& walls, Duration pumped) {
  return MolarFlow::from_value(load_mol_per_s(group(walls), pumped.value()));
}

Pumpdown pump_down(const PumpdownCase& c) { return Integrator(c).run(); }

PartialPressures quasi_steady(const PumpdownCase& c, Duration pumped) {
  const PumpingStage& stage = c.stages.back();
  const SpeedRow& row = stage.rows.back();
  const double rt = constants::gas_j_per_mol_k * thermodynamic(c.gas).value();
  const auto over = [rt](MolarFlow flow, PumpingSpeed speed) {
    return Pressure::from_value(flow.value() * rt / speed.value());
  };
  return {stage.ultimate + over(c.leak, row.air), over(outgassing(c.walls, pumped), row.water),
          over(c.argon_flow, row.argon)};  // (P4)
}

Duration textbook_pumpdown(Volume volume, PumpingSpeed speed, Pressure from, Pressure to, Pressure ultimate) {
  if (to <= ultimate) return Duration::from_value(std::numeric_limits<double>::infinity());
  return Duration::from_value(volume.value() / speed.value() *
                              std::log((from - ultimate).value() / (to - ultimate).value()));  // (P3)
}

}  // namespace vacuary::physics
