// The recipe's limits, debounced: an excursion counts when the channel stays beyond for longer
// than the limit's may_last. It ends when the channel has been back for a while, so that noise at
// the bound makes one excursion and not twenty.
#include <fmt/format.h>

#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double shutdown_s = 5;  // power and gas may go off this long before the step column says so

class LimitWatch final : public Watch {
 public:
  LimitWatch(const Scene& scene, int step, const plan::Limit& limit, int column, bool vessel)
      : scene_(scene), step_(step), limit_(limit), column_(column), vessel_(vessel) {
    const plan::Step& of = *scene.step(step);
    settle_s_ = of.settle ? of.settle->value.value() : 0;
    may_last_s_ = limit.may_last.value.value();
  }

  void row(const Row& row, Findings& findings) override {
    if (row.step != step_ || row.step_age_s < settle_s_) {
      if (beyond_) close(findings, row.step != step_);
      excess_before_ = 0;
      return;
    }
    const double value = vessel_ ? row.pressure_pa : row.at(column_);
    if (std::isnan(value)) return;
    const double excess = excess_of(value);
    if (beyond_ && !row.gap) integral_.add(0.5 * (excess + excess_before_) * row.dt_s);
    if (excess > 0) {
      inside_s_ = 0;
      if (!beyond_) open(row);
      run_s_ = excess_before_ > 0 && !row.gap ? run_s_ + row.dt_s : 0;
      longest_s_ = greater(longest_s_, run_s_);
      if (excess > worst_excess_) {
        worst_excess_ = excess;
        worst_ = value;
      }
      last_ = row;
      if (vessel_) watch_flow(row);
    } else if (beyond_) {
      inside_s_ += row.dt_s;
      if (inside_s_ > greater(may_last_s_, 2 * row.period_s)) close(findings, false);
    }
    excess_before_ = excess;
  }

  void finish(const Moment& /*last*/, Findings& findings) override {
    if (beyond_) close(findings, true);
  }

 protected:
  // Behind its step there is nothing open any more.
  const Row* pass(const Row* first, const Row* end) override {
    if (first->step != step_) return end;
    if (beyond_) return first;
    const double* values = vessel_ ? nullptr : first->from(column_);
    for (const Row* row = first; row != end; ++row) {
      const double value = vessel_ ? row->pressure_pa : values[row - first];
      if (row->step_age_s >= settle_s_ && excess_of(value) > 0) return row;
    }
    return end;
  }

 private:
  // Is the gas what the recipe asks for while the pressure is not?
  void watch_flow(const Row& row) {
    double wanted_mol_s = 0;
    for (const plan::GasFlow& gas : scene_.step(step_)->gas) wanted_mol_s += gas.flow.value.value();
    if (!(wanted_mol_s > 0) || !(row.gas_mol_s > 0)) return;
    (std::abs(row.gas_mol_s / wanted_mol_s - 1) < 0.03 ? flow_right_ : flow_wrong_)++;
  }

  [[nodiscard]] double excess_of(double value) const {
    if (limit_.high_si && value > *limit_.high_si) return value - *limit_.high_si;
    if (limit_.low_si && value < *limit_.low_si) return *limit_.low_si - value;
    return 0;
  }

  void open(const Row& row) {
    beyond_ = true;
    start_ = row;
    flow_right_ = flow_wrong_ = 0;
    integral_ = Sum{};
    worst_excess_ = run_s_ = longest_s_ = 0;
  }

  void close(Findings& findings, bool at_the_end) {
    beyond_ = false;
    const bool counts = may_last_s_ <= 0 || longest_s_ > may_last_s_;
    const double lasted_s = seconds(start_.time, last_.time);
    if (!counts || (at_the_end && lasted_s < shutdown_s)) return;
    findings.add(told(lasted_s));
  }

  [[nodiscard]] Finding told(double lasted_s) const {
    Finding finding;
    Deviation& d = finding.deviation;
    const bool high = limit_.high_si && worst_ > *limit_.high_si;
    const double bound = high ? *limit_.high_si : *limit_.low_si;
    const auto printed = [&](double si) { return si / limit_.unit.factor - limit_.unit.offset; };
    d.rule = "limit-exceeded";
    d.step = scene_.step_name(step_);
    d.channel = limit_.channel.value;
    d.start = start_.time;
    d.end = last_.time;
    d.line = start_.line;
    d.worst = printed(worst_);
    d.limit = printed(bound);
    d.integral = integral_.value() / limit_.unit.factor;
    d.unit = limit_.unit;
    tell_effect(d, lasted_s);
    d.advice = fmt::format("Find out why {} went {} its limit before the next run.", limit_.channel.value,
                           high ? "above" : "below");
    if (flow_right_ > 3 * flow_wrong_ && flow_right_ > 0) {
      d.effect +=
          high ? " The gas flow was as set, so the pumps took less than usual, or gas came from elsewhere."
               : " The gas flow was as set, so the pumps took more than usual.";
      d.advice =
          high
              ? "Look at the pumps (a cold head that warms up), the throttle, and for a leak or a shaft seal."
              : "Look at the throttle and at the gauge.";
    }
    if (vessel_ && scene_.film.roles_in_use() != nullptr) {
      const std::string& supply = scene_.film.roles_in_use()->supply->name.value;
      finding.covers = {"rule:target-voltage", supply + ".voltage", supply + ".current"};
      finding.covers_from = d.start;
      finding.covers_to = d.end;
    }
    finding.limit = true;
    finding.folded =
        fmt::format("{} {} {:.4g} {} (limit {:.4g} {}) for {}", d.channel, high ? "up to" : "down to",
                    *d.worst, d.unit.symbol, *d.limit, d.unit.symbol, duration_words(lasted_s));
    return finding;
  }

  void tell_effect(Deviation& d, double lasted_s) const {
    if (scene_.step(step_)->kind != plan::StepKind::sputter) {
      d.effect = "No film is laid in this step.";
      return;
    }
    const double change_m = (last_.film_m - start_.film_m) - start_.quiet_rate_m_s * lasted_s;
    if (std::isnan(change_m)) {
      d.effect = "What it did to the film cannot be told: the film's usual rate is not known at this point.";
      return;
    }
    d.mean_change = length_estimate(change_m, 0.03 * change_m);
    d.effect = fmt::format("Changes the mean thickness by {}{}{}.", change_m < 0 ? "-" : "+", nm(change_m),
                           of_wanted(scene_, change_m));
  }

  const Scene& scene_;
  int step_;
  const plan::Limit& limit_;
  int column_;
  bool vessel_;
  double settle_s_ = 0, may_last_s_ = 0;
  bool beyond_ = false;
  Moment start_, last_;
  Sum integral_;
  double excess_before_ = 0, worst_excess_ = 0, worst_ = no_value;
  std::uint64_t flow_right_ = 0, flow_wrong_ = 0;
  double run_s_ = 0, longest_s_ = 0, inside_s_ = 0;
};

}  // namespace

void watch_limits(const Scene& scene, Watches& watches) {
  for (std::size_t s = 0; s < scene.plan.recipe.steps.size(); ++s) {
    for (const plan::Limit& limit : scene.plan.recipe.steps[s].limits) {
      const auto channel = plan::parse_channel(limit.channel.value);
      if (!channel) continue;
      const bool vessel = channel->device == "chamber" && channel->what == plan::What::pressure;
      const int column = scene.header.find(*channel);
      if (!vessel && column < 0) continue;  // told under Account::missing
      watches.push_back(std::make_unique<LimitWatch>(scene, static_cast<int>(s), limit, column, vessel));
    }
  }
}

}  // namespace vacuary::run
