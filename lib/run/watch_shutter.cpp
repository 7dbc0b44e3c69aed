// The shutter: late, part open, shut while film should be laid, open while it should not.
#include <fmt/format.h>

#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double travel_s = 5;    // a shutter may take this long
constexpr double shutdown_s = 5;  // and close this long before the step column says so
constexpr double open_share = 0.95;
constexpr double lit_share = 0.5;      // of the setpoint
constexpr double least_stray = 0.002;  // of the film wanted

class ShutterWatch final : public Watch {
 public:
  explicit ShutterWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    if (row.step != step_) {
      if (part_) close(row, findings, true);
      if (stray_) tell_stray(findings);
      part_ = stray_ = opened_ = false;
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

  void finish(const Row& last, Findings& findings) override {
    if (part_) close(last, findings, true);
    if (stray_) tell_stray(findings);
  }

 private:
  void coating(const Row& row, const plan::Step& step, Findings& findings) {
    const bool lit = step.power && row.power_w > lit_share * step.power->value.value();
    if (lit && row.open < open_share) {
      if (!part_) {
        start_ = row;
        least_ = most_ = row.open;
      }
      part_ = true;
      least_ = std::fmin(least_, row.open);
      most_ = std::fmax(most_, row.open);
      last_ = row;
    } else if (part_ && lit) {
      close(row, findings, false);
    }
    if (row.open >= open_share) opened_ = true;
  }

  void close(const Row& back, Findings& findings, bool at_the_end) {
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
    findings.add(std::move(finding));
  }

  void behind(const Row& row) {
    const bool laying = row.power_w > 0.05 * scene_.film.rated_w() && row.open > 0.05;
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
  Row start_, last_;
};

}  // namespace

void watch_shutter(const Scene& scene, Watches& watches) {
  if (scene.film.shutter_logged()) watches.push_back(std::make_unique<ShutterWatch>(scene));
}

}  // namespace vacuary::run
