// The shutter: late, part open, shut while film should be laid, open while it should not; and a switch
// that reports it late.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double travel_s = 5;    // a shutter may take this long
constexpr double shutdown_s = 5;  // and close this long before the step column says so
constexpr double open_share = 0.95;
constexpr double lit_share = 0.5;                        // of the setpoint
constexpr double least_stray = 0.002;                    // of the film wanted
constexpr double moving_low = 0.02, moving_high = 0.98;  // between them it is on its way

class ShutterWatch final : public Watch {
 public:
  explicit ShutterWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    if (row.step != step_) {
      leave(row, findings);
      step_ = row.step;
    }
    const plan::Step* step = scene_.step(row.step);
    if (step == nullptr || std::isnan(row.open)) return;
    if (step->kind == plan::StepKind::sputter) {
      coating(row, *step, findings);
    } else {
      behind(row);
    }
  }

  void finish(const Moment& last, Findings& findings) override { leave(last, findings); }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    const plan::Step* step = scene_.step(first->step);
    if (step == nullptr) return end;
    if (step->kind == plan::StepKind::sputter || stray_) return first;
    return std::find_if(first, end, [&](const Row& row) { return lays_behind(row); });
  }

 private:
  void leave(const Moment& row, Findings& findings) {
    if (part_) close(row, findings, true);
    if (stray_) tell_stray(findings);
    judge_opening(findings);
    part_ = stray_ = opened_ = false;
    opening_ = Opening{};
    late_.reset();
  }

  // How the shutter was seen to open, and how fast it was seen to move when it closed.
  struct Opening {
    bool seen = false, jumped = false;  // from shut to open between two rows
    Moment lit, last_shut, open;        // first row with the cathode on and the shutter not open
    double before = no_value;           // position in the row before
    double slowest_s = 0;               // whole travel, by two rows on its way
  };

  void watch_travel(const Row& row, bool lit) {
    Opening& o = opening_;
    const bool on_the_way = row.open > moving_low && row.open < moving_high;
    if (!o.seen) {
      if (lit && std::isnan(o.lit.power_w)) o.lit = row;
      if (row.open <= moving_low) o.last_shut = row;
      if (row.open >= moving_high) {
        o.seen = true;
        o.jumped = o.before <= moving_low && !row.gap;
        o.open = row;
      }
    } else if (on_the_way && o.before > row.open && o.before < moving_high && !row.gap) {
      o.slowest_s = greater(o.slowest_s, row.dt_s / (o.before - row.open));
    }
    o.before = row.open;
  }

  // A shutter that takes its time to close cannot have opened between two rows: it opened before, and
  // its switch said so late.
  void judge_opening(Findings& findings) {
    const Opening& o = opening_;
    const double late_s = std::isnan(o.lit.power_w) ? 0 : seconds(o.lit.time, o.last_shut.time);
    const bool impossible = o.seen && o.jumped &&
                            (moving_high - moving_low) * o.slowest_s > seconds(o.last_shut.time, o.open.time);
    if (!impossible || late_s <= 0) {
      if (late_) findings.add(std::move(*late_));
      return;
    }
    const plan::Step& step = *scene_.step(step_);
    const double missed_m = step.power->value.value() * o.open.kappa_m_j * seconds(o.lit.time, o.open.time);
    scene_.film.doubt(step_, missed_m);
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "limit-switch-late";
    d.origin = Origin::instrument;
    d.step = step.name.value;
    d.channel = scene_.film.roles_in_use()->cathode->name.value + ".open";
    d.start = o.lit.time;
    d.end = o.open.time;
    d.line = o.lit.line;
    d.unit = unit("s", Kind::duration);
    d.worst = seconds(o.lit.time, o.open.time);
    d.effect = fmt::format(
        "The shutter was shown shut for {} with the cathode on and then open from one row to the next, "
        "though "
        "it takes about {} to move when it closes: its switch reported late. Up to {} of film was laid that "
        "is not counted{}; the uncertainty of the mean is wider by that.",
        duration_words(*d.worst), duration_words(o.slowest_s), nm(missed_m), of_wanted(scene_, missed_m));
    d.advice = "Have the shutter's limit switch and position transmitter looked at.";
    finding.covers = {d.channel};
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings.add(std::move(finding));
  }

  void coating(const Row& row, const plan::Step& step, Findings& findings) {
    const bool lit = step.power && row.power_w > lit_share * step.power->value.value();
    watch_travel(row, lit);
    if (lit && row.open < open_share) {
      if (!part_) {
        start_ = row;
        least_ = most_ = row.open;
      }
      part_ = true;
      least_ = lesser(least_, row.open);
      most_ = greater(most_, row.open);
      last_ = row;
    } else if (part_ && row.open >= open_share && (lit || std::isnan(row.power_w))) {
      close(row, findings, false);
    }
    if (row.open >= open_share) opened_ = true;
  }

  void close(const Moment& back, Findings& findings, bool at_the_end) {
    part_ = false;
    const double lasted_s = seconds(start_.time, at_the_end ? last_.time : back.time);
    const bool ordinary = at_the_end ? lasted_s < shutdown_s : lasted_s <= travel_s && !opened_;
    if (ordinary || (opened_ && lasted_s < 2 * back.period_s)) return;
    Finding finding;
    Deviation& d = finding.deviation;
    const bool hung = at_the_end && !opened_ && most_ > 0.05;  // never went further
    d.rule = opened_ ? (most_ < 0.05 ? "shutter-closed" : "shutter-part-open")
             : hung  ? "shutter-part-open"
                     : "shutter-late";
    const double share = hung ? most_ : least_;
    d.step = scene_.step_name(step_);
    d.channel = scene_.film.roles_in_use()->cathode->name.value + ".open";
    d.start = start_.time;
    d.end = at_the_end ? last_.time : back.time;
    d.line = start_.line;
    d.unit = unit("%", Kind::ratio);
    d.worst = 100 * share;
    d.limit = 100 * open_share;
    const double rate = scene_.step(step_)->power->value.value() * back.kappa_m_j;
    const double lost_m = rate * lasted_s - (back.film_m - start_.film_m);
    d.mean_change = length_estimate(-lost_m, rate * back.period_s / std::sqrt(12.0));
    d.effect = fmt::format(
        "The cathode burned for {} with the shutter {}: {} less mean film than with it open{}.",
        duration_words(lasted_s), share < 0.05 ? "shut" : fmt::format("{:.0f} % open", 100 * share),
        nm(lost_m), of_wanted(scene_, lost_m));
    d.advice =
        "Check the shutter's drive and its limit switches; where it hung half open the film is shadowed.";
    finding.covers = {d.channel};
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    if (d.rule == "shutter-late") {
      late_ = std::move(finding);  // unless it was only the switch
    } else {
      findings.add(std::move(finding));
    }
  }

  [[nodiscard]] bool lays_behind(const Row& row) const {
    return row.power_w > 0.05 * scene_.film.rated_w() && row.open > 0.05;
  }

  void behind(const Row& row) {
    const bool laying = lays_behind(row);
    if (!laying) return;
    if (!stray_) start_ = row;
    stray_ = true;
    last_ = row;
  }

  void tell_stray(Findings& findings) {
    const double laid_m = last_.film_m - start_.film_m;
    if (!scene_.plan.optic || !(laid_m > least_stray * scene_.plan.optic->film.thickness.value.value()))
      return;
    Deviation d;
    d.rule = "film-outside-its-step";
    d.severity = Severity::error;
    d.step = scene_.step_name(step_);
    d.channel = scene_.film.roles_in_use()->cathode->name.value + ".open";
    d.start = start_.time;
    d.end = last_.time;
    d.line = start_.line;
    d.mean_change = length_estimate(laid_m, 0.05 * laid_m);
    d.effect = fmt::format(
        "The shutter was open with the cathode on in a step that lays no film: {} landed on the optic{}. It "
        "is in the mean.",
        nm(laid_m), of_wanted(scene_, laid_m));
    d.advice =
        "What a target gives before it is conditioned is oxide and dirt: look at the first layer's adhesion.";
    findings.add(std::move(d));
  }

  const Scene& scene_;
  int step_ = -1;
  bool part_ = false, opened_ = false, stray_ = false;
  double least_ = 1, most_ = 0;
  Moment start_, last_;
  Opening opening_;
  std::optional<Finding> late_;
};

}  // namespace

void watch_shutter(const Scene& scene, Watches& watches) {
  if (scene.film.shutter_logged()) watches.push_back(std::make_unique<ShutterWatch>(scene));
}

}  // namespace vacuary::run
