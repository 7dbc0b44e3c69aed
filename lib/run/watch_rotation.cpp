// The optic's turning while film is laid: stalls, and an index that creeps.
#include <fmt/format.h>

#include <cmath>

#include "run/beam.hpp"
#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double full_turn_rad = 2 * 3.14159265358979323846;
constexpr double degree = full_turn_rad / 360;
constexpr double stalled_share = 0.3;  // of the commanded advance
constexpr double shortest_stall_s = 1.5;
constexpr double beam_uncertainty = 0.15;

class RotationWatch final : public Watch {
 public:
  explicit RotationWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    const plan::Step* step = scene_.step(row.step);
    const bool coats = step != nullptr && step->kind == plan::StepKind::sputter && step->rotation &&
                       row.step_before == row.step && !row.gap;
    if (!coats) {
      if (stalled_) tell_stall(findings);
      stalled_ = false;
      if (row.step != step_) tell_slip(findings);
      step_ = row.step;
      last_ = row;
      return;
    }
    watch_stall(row, step->rotation->value.value(), findings);
    watch_index(row);
    last_ = row;
  }

  void finish(const Row& /*last*/, Findings& findings) override {
    if (stalled_) tell_stall(findings);
    tell_slip(findings);
  }

 private:
  void watch_stall(const Row& row, double set_rad_s, Findings& findings) {
    double advance = std::abs(std::remainder(row.angle_rad - last_.angle_rad, full_turn_rad));
    if (std::isnan(advance)) advance = std::abs(row.speed_rad_s) * row.dt_s;
    const bool lit = row.power_w * row.open > 0;
    if (std::isnan(advance) || row.dt_s <= 0) return;
    if (lit && advance < stalled_share * set_rad_s * row.dt_s) {
      if (!stalled_) start_ = last_;
      stalled_ = true;
      end_ = row;
    } else if (stalled_) {
      tell_stall(findings);
      stalled_ = false;
    }
  }

  void tell_stall(Findings& findings) {
    const double lasted_s = seconds(start_.time, end_.time);
    if (lasted_s < shortest_stall_s) return;
    const double set_rad_s = scene_.step(step_)->rotation->value.value();
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "rotation-stall";
    d.step = scene_.step_name(step_);
    d.channel = end_.speed_rad_s < stalled_share * set_rad_s || std::isnan(end_.angle_rad) ? "optic.speed"
                                                                                           : "optic.angle";
    d.start = start_.time;
    d.end = end_.time;
    d.line = start_.line;
    d.unit = unit("rpm", Kind::angular_speed);
    d.worst = 0.0;
    d.limit = in(AngularSpeed::from_value(set_rad_s), d.unit);
    const double beam_s = beam_width(*scene_.film.roles_in_use()->cathode).value() / set_rad_s;
    const double turn_m = start_.quiet_rate_m_s * full_turn_rad / set_rad_s;
    const double heap_m = turn_m * lasted_s / beam_s;
    d.effect = fmt::format("The optic stood still for {} with the cathode on", duration_words(lasted_s));
    if (!std::isnan(heap_m)) {
      d.local_change = length_estimate(heap_m, beam_uncertainty * heap_m);
      d.effect += fmt::format(": about {} more film under the standing beam", nm(heap_m));
      if (heap_m > scene_.plan.optic->film.tolerance.value.value()) d.severity = Severity::error;
    }
    if (!std::isnan(start_.angle_rad))
      d.effect += fmt::format(", at optic.angle {:.0f} degrees", start_.angle_rad / degree);
    const plan::EndKind end = scene_.step(step_)->end.kind;
    const double more_m = start_.quiet_rate_m_s * lasted_s;
    if ((end == plan::EndKind::turns || end == plan::EndKind::angle) && !std::isnan(more_m)) {
      d.mean_change = length_estimate(more_m, 0.1 * more_m);
      d.effect += fmt::format(". The step ends by turning, so it lasted longer: +{} mean film.", nm(more_m));
    } else {
      d.effect += ". The mean thickness does not change.";
    }
    d.advice = "Measure the film there; look at the drive's coupling before the optic turns again.";
    finding.covers = {"optic.speed", "optic.angle"};
    finding.covers_from = start_.time;
    finding.covers_to = Instant{end_.time.ns + 5'000'000'000};
    findings.add(std::move(finding));
  }

  // The index pulse should come at the same angle every turn.
  void watch_index(const Row& row) {
    const double index = row.at(scene_.roles.index);
    const bool rising = index > 0.5 && !(last_.at(scene_.roles.index) > 0.5);
    if (!rising || std::isnan(row.angle_rad)) return;
    if (pulses_ == 0) {
      first_pulse_ = row;
    } else {
      crept_rad_ += std::remainder(row.angle_rad - last_pulse_angle_, full_turn_rad);
    }
    ++pulses_;
    last_pulse_angle_ = row.angle_rad;
    last_pulse_ = row;
    resolution_rad_ = std::fmax(resolution_rad_, std::abs(row.speed_rad_s) * row.dt_s);
  }

  void tell_slip(Findings& findings) {
    const int turns = pulses_ - 1;
    const bool slipped = turns >= 2 && std::abs(crept_rad_) > 2 * resolution_rad_ + degree;
    if (slipped) {
      Deviation d;
      d.rule = "rotation-slip";
      d.step = scene_.step_name(step_);
      d.channel = "optic.index";
      d.start = first_pulse_.time;
      d.end = last_pulse_.time;
      d.line = first_pulse_.line;
      d.unit = unit("deg", Kind::angle);
      d.worst = crept_rad_ / degree / turns;
      d.effect = fmt::format(
          "The index pulse creeps by {:.1f} degrees a turn against optic.angle: places on the optic given as "
          "angles are off by up to {:.0f} degrees.",
          std::abs(*d.worst), std::abs(crept_rad_) / degree);
      d.advice = "Have the drive checked for slip; trust the index, not the encoder.";
      findings.add(std::move(d));
    }
    pulses_ = 0;
    crept_rad_ = resolution_rad_ = 0;
  }

  const Scene& scene_;
  int step_ = -1;
  Row last_, start_, end_;
  bool stalled_ = false;
  int pulses_ = 0;
  double crept_rad_ = 0, resolution_rad_ = 0, last_pulse_angle_ = no_value;
  Row first_pulse_, last_pulse_;
};

}  // namespace

void watch_rotation(const Scene& scene, Watches& watches) {
  const bool anything = scene.roles.speed >= 0 || scene.roles.angle >= 0;
  if (anything && !scene.roles.cathodes.empty()) watches.push_back(std::make_unique<RotationWatch>(scene));
}

}  // namespace vacuary::run
