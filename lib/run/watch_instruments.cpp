// Gauges that are not to be believed: they disagree, change their range, or move their zero. None of
// it does anything to the film.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double mixed_s = 120;  // until gas that was let in has pushed out what was there
// Gauges apart by more standard uncertainties than this are told (one pair of sound gauges in eighty),
// or are a reason to look (one in two thousand, and the doubt about the gas is on top of that).
constexpr double told_k = 2.5;
constexpr double alarm_k = 3.5;
constexpr double gas_doubt = 1.1;  // as a factor: what the vessel holds is not known any better

// Two gauges that both should be right and are further apart than their accuracies allow.
class DisagreementWatch final : public Watch {
 public:
  DisagreementWatch(const Scene& scene, std::size_t a, std::size_t b) : scene_(scene), a_(a), b_(b) {
    const auto accuracy = [&](std::size_t g) { return scene.roles.gauges[g].gauge->accuracy.value.value(); };
    // Just short of what is told when nothing but the accuracies is uncertain.
    surely_alike_ = gas_doubt * std::exp(0.999 * told_k * std::hypot(accuracy(a), accuracy(b)));
  }

  void row(const Row& row, Findings& /*findings*/) override {
    const double a = row.true_pa[a_];
    const double b = row.true_pa[b_];
    const double apart_k = comparable(row) ? apart(a, b) : 0;
    const bool off = apart_k > told_k;
    if (off && row.step == row.step_before) {
      if (!off_) here_ = Apart{row, row, 0, 0, 0, 0};
      off_ = true;
      keep(row, apart_k);
      here_.last = row;
    } else if (off_) {
      close();
    }
  }

  // Once a pair, however often it was: the worst of it, from first to last.
  void finish(const Moment& /*last*/, Findings& findings) override {
    if (off_) close();
    if (stretches_ > 0) tell(findings);
  }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    if (!off_)
      return std::find_if(first, end, [&](const Row& row) { return comparable(row) && !surely_alike(row); });
    const Row* row = first;
    for (; row != end; ++row) {
      const double apart_k = comparable(*row) ? apart(row->true_pa[a_], row->true_pa[b_]) : 0;
      if (!(apart_k > told_k)) break;
      keep(*row, apart_k);
    }
    if (row != first) here_.last = row[-1];
    return row;
  }

 private:
  void keep(const Row& row, double apart_k) {
    ++here_.rows;
    if (apart_k <= here_.worst_k) return;
    here_.worst_k = apart_k;
    here_.a_pa = row.true_pa[a_];
    here_.b_pa = row.true_pa[b_];
  }
  // Right after gas was let in or shut off nobody knows what the vessel holds.
  [[nodiscard]] bool comparable(const Row& row) {
    if ((row.gas_mol_s > 0) != flowing_) changed_ = row.time;
    flowing_ = row.gas_mol_s > 0;
    return row.true_pa[a_] > 0 && row.true_pa[b_] > 0 && seconds(changed_, row.time) > mixed_s;
  }
  [[nodiscard]] bool surely_alike(const Row& row) const {
    const double a_pa = row.true_pa[a_], b_pa = row.true_pa[b_];
    return a_pa < surely_alike_ * b_pa && b_pa < surely_alike_ * a_pa;
  }

  struct Apart {
    Moment first, last;
    double rows = 0, worst_k = 0, a_pa = 0, b_pa = 0;
  };

  // In standard uncertainties.
  [[nodiscard]] double apart(double a_pa, double b_pa) const {
    // Nearly always they agree as well as the gas is known, whatever their accuracies.
    if (a_pa < gas_doubt * b_pa && b_pa < gas_doubt * a_pa) return 0;
    const double u_a = scene_.pressure.relative_uncertainty(a_, a_pa);
    const double u_b = scene_.pressure.relative_uncertainty(b_, b_pa);
    const double uncertain = std::sqrt(u_a * u_a + u_b * u_b);
    return (std::abs(std::log(a_pa / b_pa)) - std::log(gas_doubt)) / uncertain;
  }

  void close() {
    off_ = false;
    if (here_.rows < 10 || seconds(here_.first.time, here_.last.time) < 60) return;
    if (++stretches_ == 1) all_ = here_;
    all_.last = here_.last;
    if (here_.worst_k > all_.worst_k) {
      all_.worst_k = here_.worst_k;
      all_.a_pa = here_.a_pa;
      all_.b_pa = here_.b_pa;
    }
  }

  void tell(Findings& findings) const {
    const std::string& a = scene_.roles.gauges[a_].gauge->name.value;
    const std::string& b = scene_.roles.gauges[b_].gauge->name.value;
    Deviation d;
    d.rule = "gauges-disagree";
    d.severity = all_.worst_k > alarm_k ? Severity::warning : Severity::note;
    d.origin = Origin::instrument;
    d.step = scene_.step_name(all_.first.step);
    d.channel = a + ".pressure";
    d.start = all_.first.time;
    d.end = all_.last.time;
    d.line = all_.first.line;
    const Unit& mbar = unit("mbar", Kind::pressure);
    d.unit = mbar;
    d.worst = in(Pressure::from_value(all_.a_pa), mbar);
    d.effect = fmt::format(
        "{} says {} where {} says {} (both as true pressure): further apart than their accuracies let "
        "expect{}. No effect on the film.",
        a, brief(Pressure::from_value(all_.a_pa), mbar, 2), b,
        brief(Pressure::from_value(all_.b_pa), mbar, 2),
        stretches_ > 1 ? fmt::format(", {} times", stretches_) : std::string{});
    d.advice = "Have both gauges checked; until then trust neither near this pressure.";
    findings.add(std::move(d));
  }

  const Scene& scene_;
  std::size_t a_, b_;
  double surely_alike_;  // a factor
  bool off_ = false, flowing_ = false;
  Instant changed_;
  int stretches_ = 0;
  Apart here_, all_;
};

// A gauge that changes its reading by a factor from one row to the next, stays there, and changes back
// as suddenly: the vessel, which breathes in and out with a time constant, cannot do that, a range
// switch can. Each jump must hold for two rows, and be large beside the noise from row to row.
class JumpWatch final : public Watch {
 public:
  JumpWatch(const Scene& scene, std::size_t gauge) : scene_(scene), gauge_(gauge) {}

  void row(const Row& row, Findings& findings) override {
    const double now_pa = sound_pa(row);
    const bool rests = !row.gap && row.step == row.step_before && at_rest(row);
    if (!rests || std::isnan(now_pa) || std::isnan(before_pa_)) {
      candidate_ = false;
      if (row.step != row.step_before) jumped_ = false;
    } else {
      step(row, std::log(now_pa / before_pa_), findings);
    }
    before_pa_ = now_pa;
  }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    const Row* row = first;
    while (row != end) {
      const Row* rests = std::find_if(row, end, at_rest);
      if (rests != row) {
        candidate_ = false;
        before_pa_ = sound_pa(rests[-1]);
      }
      for (row = rests; row != end && at_rest(*row); ++row) {
        const double now_pa = sound_pa(*row);
        if (std::isnan(now_pa) || std::isnan(before_pa_)) {
          candidate_ = false;
        } else {
          const double change = std::log(now_pa / before_pa_);
          if (candidate_ || jumps(change)) return row;
          learn(change);
        }
        before_pa_ = now_pa;
      }
    }
    return end;
  }

 private:
  [[nodiscard]] static bool at_rest(const Row& row) {
    return row.gas_mol_s <= 0 && row.step_age_s > 10 * row.period_s;
  }
  [[nodiscard]] bool jumps(double change) const {
    return std::abs(change) > greater(least_jump_, noise_needed_ * noise_);
  }
  void learn(double change) {
    noise_ = std::sqrt(noise_ * noise_ * (1 - 1 / memory_) + change * change / memory_);
  }

  // Well inside its range, and for a manometer where its zero says little.
  [[nodiscard]] double sound_pa(const Row& row) const {
    const plan::Gauge& gauge = *scene_.roles.gauges[gauge_].gauge;
    const double p = row.true_pa[gauge_];
    const double zero_pa = gauge.zero_drift ? 5 * gauge.zero_drift->value.value() : 0;
    return p > 2 * gauge.low.value.value() && p > zero_pa ? p : no_value;
  }

  void step(const Row& row, double change, Findings& findings) {
    if (candidate_) {
      candidate_ = false;
      // Stayed there: no spike.
      if (std::abs(change) < 0.25 * std::abs(candidate_log_)) settle(findings);
    } else if (jumps(change)) {
      candidate_ = true;
      candidate_log_ = change;
      candidate_row_ = row;
    } else {
      learn(change);
    }
  }

  void settle(Findings& findings) {
    const bool back = jumped_ && std::abs(candidate_log_ + jump_log_) < 0.3 * std::abs(jump_log_);
    if (back) {
      tell(findings);
      jumped_ = false;
      return;
    }
    jumped_ = true;
    start_ = candidate_row_;
    jump_log_ = candidate_log_;
  }

  void tell(Findings& findings) const {
    const std::string& name = scene_.roles.gauges[gauge_].gauge->name.value;
    const double factor = std::exp(jump_log_);
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "gauge-jump";
    d.origin = Origin::instrument;
    d.step = scene_.step_name(start_.step);
    d.channel = name + ".pressure";
    d.start = start_.time;
    d.end = candidate_row_.time;
    d.line = start_.line;
    d.unit = unit("ratio", Kind::ratio);
    d.worst = factor;
    d.effect = fmt::format(
        "{} jumped by a factor {:.2g} from one row to the next and back {} later: a change of its range or "
        "emission, not of the vacuum. No effect on the film.",
        name, factor, duration_words(seconds(d.start, d.end)));
    d.advice = fmt::format("Have the range switching of {} looked at.", name);
    finding.covers = {d.channel, "chamber.pressure", "rule:gauges-disagree"};
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings.add(std::move(finding));
  }

  static constexpr double least_jump_ = 0.4;  // a factor 1.5; ranges differ by more (common practice)
  static constexpr double noise_needed_ = 8;  // standard deviations from row to row
  static constexpr double memory_ = 32;       // rows

  const Scene& scene_;
  std::size_t gauge_;
  double before_pa_ = no_value, noise_ = 0;
  bool candidate_ = false, jumped_ = false;
  double candidate_log_ = 0, jump_log_ = 0;
  Moment candidate_row_, start_;
};

// A manometer's zero that moves while the run is under way. It is seen where a better gauge says that
// there is nothing to see: the mean of the last readings there against that of all before.
class ZeroWatch final : public Watch {
 public:
  ZeroWatch(const Scene& scene, std::size_t gauge)
      : scene_(scene), gauge_(gauge), drift_pa_(scene.roles.gauges[gauge].gauge->zero_drift->value.value()) {}

  void row(const Row& row, Findings& findings) override {
    const double reading_pa = row.at(scene_.roles.gauges[gauge_].pressure);
    if (!shows_zero(row, reading_pa)) return;
    if (filled_ == window_) take_in(recent_[next_].reading_pa);
    recent_[next_] = {row, reading_pa};
    next_ = (next_ + 1) % window_;
    filled_ = std::min(filled_ + 1, window_);
    if (filled_ == window_ && known_ >= window_) compare(findings);
  }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    const double* reading_pa = first->from(scene_.roles.gauges[gauge_].pressure);
    return std::find_if(first, end,
                        [&](const Row& row) { return shows_zero(row, reading_pa[&row - first]); });
  }

 private:
  [[nodiscard]] bool shows_zero(const Row& row, double reading_pa) const {
    return std::abs(reading_pa) < most_of_drift_ * drift_pa_ && row.gas_mol_s <= 0 && nothing_there(row);
  }

  static constexpr std::size_t window_ = 10;
  static constexpr double needed_k_ = 6;          // standard deviations of the difference
  static constexpr double least_of_drift_ = 0.1;  // of the drift: less is not worth a word

  struct Look {
    Moment row;
    double reading_pa = 0;
  };

  [[nodiscard]] bool nothing_there(const Row& row) const {
    for (std::size_t g = 0; g < scene_.roles.gauges.size(); ++g) {
      if (scene_.roles.gauges[g].gauge->kind == plan::GaugeKind::capacitance) continue;
      if (row.true_pa[g] < nothing_ * drift_pa_) return true;
    }
    return false;
  }

  void take_in(double reading_pa) {
    ++known_;
    const double off = reading_pa - mean_pa_;
    mean_pa_ += off / static_cast<double>(known_);
    squares_ += off * (reading_pa - mean_pa_);
    last_known_ = recent_[next_].row;
  }

  void compare(Findings& findings) {
    double mean = 0;
    for (const Look& look : recent_) mean += look.reading_pa / static_cast<double>(window_);
    const auto n = static_cast<double>(known_);
    const double sigma = std::sqrt(squares_ / (n - 1) * (1 / n + 1.0 / window_));
    const double moved = mean - mean_pa_;
    if (std::abs(moved) < greater(needed_k_ * sigma, least_of_drift_ * drift_pa_)) return;
    // All of the window has moved only when its first reading has.
    const double oldest = recent_[next_].reading_pa - mean_pa_;
    if (std::abs(oldest) < 0.5 * std::abs(moved)) return;
    tell(moved, findings);
    known_ = 0;
    filled_ = 0;
    mean_pa_ = squares_ = 0;
  }

  void tell(double moved_pa, Findings& findings) const {
    const std::string& name = scene_.roles.gauges[gauge_].gauge->name.value;
    const Unit& pa = unit("Pa", Kind::pressure);
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "gauge-zero";
    d.severity = Severity::note;
    d.origin = Origin::instrument;
    d.step = scene_.step_name(recent_[next_].row.step);
    d.channel = name + ".pressure";
    d.start = last_known_.time;
    d.end = recent_[next_].row.time;
    d.line = recent_[next_].row.line;
    d.unit = pa;
    d.worst = moved_pa;
    d.limit = least_of_drift_ * drift_pa_;
    d.effect = fmt::format(
        "The zero of {} moved by {} between these times, from {} to {}, seen where a better gauge says that "
        "there is nothing. It is taken off, so the film's account is not touched; the plant that regulates "
        "by it is.",
        name, brief(Pressure::from_value(moved_pa), pa, 2), brief(Pressure::from_value(mean_pa_), pa, 2),
        brief(Pressure::from_value(mean_pa_ + moved_pa), pa, 2));
    d.advice = fmt::format("Set the zero of {} at high vacuum, and find out what moved it.", name);
    finding.covers = {"rule:pressure-without-gas"};
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings.add(std::move(finding));
  }

  static constexpr double nothing_ = 0.1;       // of the drift
  static constexpr double most_of_drift_ = 10;  // more is a reading, not a zero

  const Scene& scene_;
  std::size_t gauge_;
  double drift_pa_;
  std::array<Look, window_> recent_{};
  std::size_t next_ = 0, filled_ = 0, known_ = 0;
  double mean_pa_ = 0, squares_ = 0;
  Moment last_known_;
};

}  // namespace

void watch_gauges(const Scene& scene, Watches& watches) {
  // Gauges of one kind and range are twins on two vessels, or spares: nothing says they should agree.
  const auto twins = [](const plan::Gauge& a, const plan::Gauge& b) {
    return a.kind == b.kind && a.low.value == b.low.value && a.high.value == b.high.value;
  };
  for (std::size_t a = 0; a < scene.roles.gauges.size(); ++a) {
    if (scene.roles.gauges[a].pressure < 0) continue;
    watches.push_back(std::make_unique<JumpWatch>(scene, a));
    const plan::Gauge& gauge = *scene.roles.gauges[a].gauge;
    if (gauge.kind == plan::GaugeKind::capacitance && gauge.zero_drift && gauge.zero_drift->value.value() > 0)
      watches.push_back(std::make_unique<ZeroWatch>(scene, a));
    for (std::size_t b = a + 1; b < scene.roles.gauges.size(); ++b) {
      if (scene.roles.gauges[b].pressure < 0 ||
          twins(*scene.roles.gauges[a].gauge, *scene.roles.gauges[b].gauge))
        continue;
      watches.push_back(std::make_unique<DisagreementWatch>(scene, a, b));
    }
  }
}

}  // namespace vacuary::run
