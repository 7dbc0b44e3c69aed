// Pressure that the gas flow does not explain: pumps that take less than they did, gas from elsewhere,
// and gas that comes once per turn of the optic, through the seal of its shaft.
#include <fmt/format.h>

#include <array>
#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double degree = full_turn_rad / 360;

// The flow controllers' own tolerance in this account (watch_gas): less is not told from them.
constexpr double flow_tolerance = 0.03;
constexpr double needed_k = 5;    // standard deviations of the difference of two means
constexpr double restart_s = 40;  // pressure settles for this long after power or gas came back
constexpr double lit_share = 0.9;
constexpr double least_s = 60;         // and a turn of the optic, whichever is longer
constexpr double surely_warmer_k = 1;  // warmer than in the reference: the pump is why (common practice)
constexpr double much_warmer_k = 2;    // told even while the pressure holds (common practice)
constexpr double after_s = 30;         // limits that follow

void cover_pressure(const Scene& scene, Finding& finding) {
  finding.covers = {"chamber.pressure", "rule:target-voltage", "rule:target-not-settled"};
  for (const GaugeRoles& gauge : scene.roles.gauges)
    finding.covers.push_back(gauge.gauge->name.value + ".pressure");
  if (scene.film.roles_in_use() == nullptr) return;
  const std::string& supply = scene.film.roles_in_use()->supply->name.value;
  finding.covers.push_back(supply + ".voltage");
  finding.covers.push_back(supply + ".current");
}

// Pressure over gas flow while a discharge burns, against what it was in the first rows: at an unchanged
// throttle it is gas temperature over pumping speed, and stands still.
class PumpWatch final : public Watch {
 public:
  explicit PumpWatch(const Scene& scene) : scene_(scene) {
    for (std::size_t p = 0; p < scene.plan.chamber.pumps.size(); ++p) {
      const plan::Pump& pump = scene.plan.chamber.pumps[p];
      if (pump.kind != plan::PumpKind::cryo) continue;
      const int column = scene.header.find({pump.name.value, plan::What::temperature});
      if (column >= 0) cold_.push_back({&pump, column});
    }
    for (const plan::Step& step : scene.plan.recipe.steps) burning_.push_back(burns_on_high_vacuum(step));
  }

  void row(const Row& row, Findings& findings) override {
    const plan::Step* step = scene_.step(row.step);
    if (step == nullptr || !burning_[static_cast<std::size_t>(row.step)]) {
      leave(findings);
      return;
    }
    if (row.step != step_) {
      if (!alike(scene_.step(step_), *step)) leave(findings);
      step_ = row.step;
    }
    if (disturbed(row, *step)) {
      disturbed_ = row.time;
      return;
    }
    if (row.first || seconds(disturbed_, row.time) < restart_s) return;
    if (reference_.rows > 0 && row.gauge != gauge_) leave(findings);
    gauge_ = row.gauge;
    take(row, findings);
  }

  void finish(const Moment& /*last*/, Findings& findings) override { leave(findings); }

 protected:
  // What other steps leave behind their first row has cleared away.
  const Row* pass(const Row* first, const Row* end) override {
    return first->step < 0 || !burning_[static_cast<std::size_t>(first->step)] ? end : first;
  }

 private:
  static constexpr std::size_t window_ = 20;
  struct Cold {
    const plan::Pump* pump;
    int column;
    double first_k = no_value, last_k = no_value;  // as it was read
  };
  struct Mean {
    std::size_t rows = 0;
    double log_ratio = 0, squares = 0, warmer_k = 0;
    void add(double value, double by_k) {
      ++rows;
      const double off = value - log_ratio;
      log_ratio += off / static_cast<double>(rows);
      squares += off * (value - log_ratio);
      warmer_k += (by_k - warmer_k) / static_cast<double>(rows);
    }
  };

  [[nodiscard]] bool burns_on_high_vacuum(const plan::Step& step) const {
    if (step.gas.empty() || !step.power) return false;
    for (const plan::GivenText& name : step.pumps) {
      for (const plan::Pump& pump : scene_.plan.chamber.pumps) {
        if (pump.name.value == name.value && pump.kind != plan::PumpKind::roughing) return true;
      }
    }
    return false;
  }

  // The same gas through the same throttle: what was learned in one step holds in the next.
  [[nodiscard]] static bool alike(const plan::Step* before, const plan::Step& step) {
    if (before == nullptr || before->gas.size() != step.gas.size()) return false;
    for (std::size_t i = 0; i < step.gas.size(); ++i) {
      if (before->gas[i].line.value != step.gas[i].line.value ||
          before->gas[i].flow.value.value() != step.gas[i].flow.value.value())
        return false;
    }
    const auto opening = [](const plan::Step& of) { return of.throttle ? of.throttle->value.value() : 1; };
    return opening(*before) == opening(step);
  }

  [[nodiscard]] static bool disturbed(const Row& row, const plan::Step& step) {
    double wanted_mol_s = 0;
    for (const plan::GasFlow& gas : step.gas) wanted_mol_s += gas.flow.value.value();
    const bool flows = std::abs(row.gas_mol_s / wanted_mol_s - 1) < flow_tolerance;
    const bool lit = row.power_w > lit_share * step.power->value.value();
    return row.gap || !flows || !lit || !(row.pressure_pa > 0);
  }

  // By how much the pump is warmer that warmed the most since it was first read; where one is not read it is
  // as it was read last, and one that never was is not known to be warmer.
  [[nodiscard]] double warmer_k(const Row& row) {
    double most_k = no_value;
    for (Cold& cold : cold_) {
      const double now_k = row.at(cold.column);
      if (std::isnan(cold.first_k)) cold.first_k = now_k;
      if (!std::isnan(now_k)) cold.last_k = now_k;
      const double by_k = cold.last_k - cold.first_k;
      if (std::isnan(by_k) || by_k <= most_k) continue;
      most_k = by_k;
      warmest_ = &cold;
    }
    return std::isnan(most_k) ? 0 : most_k;
  }

  void take(const Row& row, Findings& findings) {
    const double now = std::log(row.pressure_pa / row.gas_mol_s);
    if (reference_.rows < window_) {
      reference_.add(now, warmer_k(row));
      return;
    }
    keep(now, warmer_k(row));
    if (filled_ < window_ || surely_as_before()) {
      if (over_) close(findings);
      return;
    }
    double log_ratio = 0;
    double by_k = 0;
    for (const auto& [value, more_k] : recent_) {
      log_ratio += value / static_cast<double>(window_);
      by_k += more_k / static_cast<double>(window_);
    }
    const double rise = log_ratio - reference_.log_ratio;
    const double warmer = by_k - reference_.warmer_k;
    const double sigma = std::sqrt(2 * reference_.squares / (window_ - 1.0) / window_);
    const bool high = rise > greater(std::log1p(flow_tolerance), needed_k * sigma);
    if (high || warmer > much_warmer_k) {
      if (!over_) start_ = row;
      over_ = true;
      rise_ = greater(rise_, rise);
      if (warmer > warmer_) {
        warmer_ = warmer;
        warm_ = warmest_;
      }
      highest_pa_ = greater(highest_pa_, row.pressure_pa);
      last_ = row;
    } else if (over_) {
      close(findings);
    }
  }

  void keep(double log_ratio, double by_k) {
    auto& [oldest, oldest_k] = recent_[next_];
    about_.first += log_ratio - oldest;
    about_.second += by_k - oldest_k;
    oldest = log_ratio;
    oldest_k = by_k;
    next_ = (next_ + 1) % window_;
    filled_ = std::min(filled_ + 1, window_);
    if (next_ != 0) return;
    about_ = {};  // once a window anew, so that roundings do not gather
    for (const auto& [value, more_k] : recent_) {
      about_.first += value;
      about_.second += more_k;
    }
  }

  // By running sums, which are good enough to see that nothing has changed.
  [[nodiscard]] bool surely_as_before() const {
    constexpr double rounding = 1e-6;
    const auto n = static_cast<double>(window_);
    return about_.first / n - reference_.log_ratio < std::log1p(flow_tolerance) - rounding &&
           about_.second / n - reference_.warmer_k < much_warmer_k - rounding;
  }

  void leave(Findings& findings) {
    if (over_) close(findings);
    reference_ = Mean{};
    for (Cold& cold : cold_) cold.first_k = cold.last_k = no_value;
    filled_ = next_ = 0;
    step_ = -1;
  }

  void close(Findings& findings) {
    over_ = false;
    const double lasted_s = seconds(start_.time, last_.time);
    const double turn_s = start_.speed_rad_s > 0 ? full_turn_rad / start_.speed_rad_s : 0;
    if (lasted_s > greater(least_s, turn_s)) tell(lasted_s, findings);
    rise_ = warmer_ = 0;
    highest_pa_ = no_value;
  }

  void tell(double lasted_s, Findings& findings) const {
    const bool pump = warmer_ > surely_warmer_k;
    const double usual_k = pump ? warm_->first_k + reference_.warmer_k : no_value;
    const Unit& pa = unit("Pa", Kind::pressure);
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = pump ? "pump-warm" : "pressure-without-gas";
    d.step = scene_.step_name(start_.step);
    d.channel = pump ? warm_->pump->name.value + ".temperature" : "chamber.pressure";
    d.start = start_.time;
    d.end = last_.time;
    d.line = start_.line;
    d.unit = pump ? unit("K", Kind::temperature) : pa;
    d.worst = pump ? usual_k + warmer_ : highest_pa_;
    d.limit = pump ? usual_k + surely_warmer_k
                   : std::exp(reference_.log_ratio) * start_.gas_mol_s * (1 + flow_tolerance);
    d.effect = fmt::format("At an unchanged gas flow the pressure rose by {:.0f} %, to {}, for {}",
                           100 * std::expm1(greater(rise_, 0.0)),
                           brief(Pressure::from_value(highest_pa_), pa), duration_words(lasted_s));
    d.effect += pump ? fmt::format("; {} warmed by {:.1f} K meanwhile: it takes less and less gas.",
                                   warm_->pump->name.value, warmer_)
                     : ": the pumps take less than they did, or gas comes from elsewhere.";
    const double change_m = (last_.film_m - start_.film_m) - start_.quiet_rate_m_s * lasted_s;
    if (scene_.step(start_.step)->kind == plan::StepKind::sputter && !std::isnan(change_m)) {
      // As for a sag of the gas: the correction for pressure rests on an assumed transport.
      d.mean_change = length_estimate(change_m, 0.33 * change_m);
      d.effect += fmt::format(" {}{} mean film{}.", change_m < 0 ? "-" : "+", nm(change_m),
                              of_wanted(scene_, change_m));
    }
    d.advice = pump ? "Regenerate the pump and look at its cold head and compressor before the next run."
                    : "Look at the pumps, the throttle and the gauge, and search for a leak.";
    cover_pressure(scene_, finding);
    finding.covers_from = start_.time;
    finding.covers_to = Instant{last_.time.ns + static_cast<std::int64_t>(after_s * 1e9)};
    findings.add(std::move(finding));
  }

  const Scene& scene_;
  std::vector<Cold> cold_;
  std::vector<char> burning_;  // by step
  int step_ = -1, gauge_ = -1;
  Instant disturbed_;
  Mean reference_;
  std::array<std::pair<double, double>, window_> recent_{};
  std::pair<double, double> about_;  // sums of them
  std::size_t next_ = 0, filled_ = 0;
  bool over_ = false;
  double rise_ = 0, warmer_ = 0, highest_pa_ = no_value;
  const Cold *warmest_ = nullptr, *warm_ = nullptr;  // at present, and at its warmest
  Moment start_, last_;
};

// Once per turn and in phase with it. Each whole turn gives the amplitude (a vector: cosine and sine of
// the optic's angle) of the logarithm of the pressure, its straight trend taken off. Without anything
// that turns with the optic these vectors point anywhere, and N times the square of their mean over
// their variance follows F with 2 and 2(N - 1) degrees of freedom (Hotelling, Ann. Math. Stat. 2, 360,
// 1931, for two equal variances), whose tail is (1 + F/(N - 1))^-(N - 1) in closed form.
class ShaftWatch final : public Watch {
 public:
  explicit ShaftWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    const plan::Step* step = scene_.step(row.step);
    if (row.step != step_) {
      leave(findings);
      step_ = row.step;
    }
    const bool turns =
        row.speed_rad_s > 0 || (std::isnan(row.speed_rad_s) && row.angle_rad != row.before().angle_rad);
    if (!turns) turning_since_ = row.time;
    if (step != nullptr && step->rotation && turns && row.step == row.step_before) turn(row);
  }

  void finish(const Moment& /*last*/, Findings& findings) override { leave(findings); }

 private:
  static constexpr std::size_t terms_ = 4;   // level, trend, cosine, sine
  static constexpr double least_rows_ = 12;  // in a turn
  static constexpr double least_turns_ = 3;  // to speak of every turn
  static constexpr double least_amplitude_ =
      0.01;                                // of the pressure; below nobody would act (common practice)
  static constexpr double chance_ = 1e-5;  // of none at all looking like this

  void turn(const Row& row) {
    double way = std::abs(wrapped_rad(row.angle_rad - row.before().angle_rad));
    if (std::isnan(way)) way = row.speed_rad_s * row.dt_s;
    if (std::isnan(way) || row.gap || !(row.pressure_pa > 0)) {
      broken_ = true;
      if (std::isnan(way)) return;
    }
    turned_rad_ += way;
    if (turned_rad_ >= full_turn_rad) {
      close_turn();
      turned_rad_ = std::fmod(turned_rad_, full_turn_rad);
    }
    if (!(row.pressure_pa > 0)) return;
    if (rows_ == 0 && turns_ == 0) first_ = row;
    last_ = row;
    lowest_pa_ = lesser(lowest_pa_, row.pressure_pa);
    highest_pa_ = greater(highest_pa_, row.pressure_pa);
    const double angle = std::isnan(row.angle_rad) ? turned_rad_ : row.angle_rad;
    const std::array<double, terms_> x = {1, turned_rad_ / full_turn_rad, std::cos(angle), std::sin(angle)};
    const double y = std::log(row.pressure_pa);
    for (std::size_t j = 0; j < terms_; ++j) {
      for (std::size_t k = 0; k < terms_; ++k) normal_[j][k] += x[j] * x[k];
      normal_[j][terms_] += x[j] * y;
    }
    ++rows_;
  }

  void close_turn() {
    if (!broken_ && rows_ >= least_rows_) {
      const auto [c, s] = amplitude();
      ++turns_;
      const double off_c = c - mean_c_;
      const double off_s = s - mean_s_;
      mean_c_ += off_c / turns_;
      mean_s_ += off_s / turns_;
      squares_ += off_c * (c - mean_c_) + off_s * (s - mean_s_);
    }
    normal_ = {};
    rows_ = 0;
    broken_ = false;
  }

  // Gauss with the normal equations of a turn; they are well conditioned over a whole one.
  [[nodiscard]] std::pair<double, double> amplitude() const {
    auto a = normal_;
    for (std::size_t j = 0; j < terms_; ++j) {
      for (std::size_t k = 0; k < terms_; ++k) {
        if (k == j || a[j][j] == 0) continue;
        const double factor = a[k][j] / a[j][j];
        for (std::size_t m = 0; m <= terms_; ++m) a[k][m] -= factor * a[j][m];
      }
    }
    const auto of = [&](std::size_t j) { return a[j][j] == 0 ? 0 : a[j][terms_] / a[j][j]; };
    return {of(2), of(3)};
  }

  void leave(Findings& findings) {
    const double size = std::hypot(mean_c_, mean_s_);
    if (turns_ >= least_turns_ && size > least_amplitude_) {
      const double degrees = turns_ - 1;
      const double f = turns_ * size * size / (squares_ / degrees);
      if (std::pow(1 + f / degrees, -degrees) < chance_) tell(findings);
    }
    normal_ = {};
    broken_ = false;
    rows_ = turns_ = turned_rad_ = mean_c_ = mean_s_ = squares_ = 0;
    lowest_pa_ = highest_pa_ = no_value;
  }

  void tell(Findings& findings) const {
    const Unit& pa = unit("Pa", Kind::pressure);
    const Unit& flow =
        scene_.plan.chamber.leak_limit ? scene_.plan.chamber.leak_limit->unit : unit("mbar L/s", Kind::flow);
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "shaft-seal";
    d.step = scene_.step_name(step_);
    d.channel = "chamber.pressure";
    d.start = first_.time;
    d.end = last_.time;
    d.line = first_.line;
    d.unit = pa;
    d.worst = in(Pressure::from_value(highest_pa_), pa);
    const double worst_deg = std::fmod(std::atan2(mean_s_, mean_c_) / degree + 360, 360.0);
    d.effect = fmt::format(
        "The pressure rose and fell once per turn, over {:.0f} turns and in phase with them, between {} and "
        "{}, "
        "highest near optic.angle {:.0f} degrees: gas comes in with the turning of the shaft.",
        turns_, brief(Pressure::from_value(lowest_pa_), pa), brief(Pressure::from_value(highest_pa_), pa),
        worst_deg);
    if (last_.gas_mol_s > 0) {
      d.effect += fmt::format(" About {} at the worst, if the pumps take it as they take the process gas.",
                              flow_words(scene_, last_.gas_mol_s * (highest_pa_ / lowest_pa_ - 1), flow));
    }
    d.effect += " Air in the film costs reflectance.";
    d.advice = "Have the seal of the rotary feedthrough looked at; measure the reflectance of the witness.";
    cover_pressure(scene_, finding);
    finding.covers.emplace_back("rule:pressure-without-gas");
    finding.covers_from = std::min(turning_since_, first_.time);
    finding.covers_to = Instant{last_.time.ns + static_cast<std::int64_t>(after_s * 1e9)};
    findings.add(std::move(finding));
  }

  const Scene& scene_;
  int step_ = -1;
  Moment first_, last_;
  Instant turning_since_;
  bool broken_ = false;  // something is missing in this turn
  double turned_rad_ = 0, rows_ = 0, turns_ = 0;
  std::array<std::array<double, terms_ + 1>, terms_> normal_{};
  double mean_c_ = 0, mean_s_ = 0, squares_ = 0;
  double lowest_pa_ = no_value, highest_pa_ = no_value;
};

}  // namespace

void watch_pumping(const Scene& scene, Watches& watches) {
  if (!scene.roles.cathodes.empty()) watches.push_back(std::make_unique<PumpWatch>(scene));
}

void watch_shaft(const Scene& scene, Watches& watches) {
  if (scene.roles.speed >= 0 || scene.roles.angle >= 0)
    watches.push_back(std::make_unique<ShaftWatch>(scene));
}

}  // namespace vacuary::run
