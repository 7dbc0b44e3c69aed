// The optic's turning while film is laid: stalls, readings that stand while it turns, and an index
// that creeps.
#include <fmt/format.h>

#include <cmath>

#include "run/turning.hpp"
#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double degree = full_turn_rad / 360;
constexpr double stalled_share = 0.3;  // of the commanded advance
constexpr double shortest_stall_s = 1.5;
// How well a row's angle is known: the encoder's digit, and the pulse's place within a control cycle.
constexpr double angle_margin = 0.3 * degree;

class RotationWatch final : public Watch {
 public:
  explicit RotationWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    const plan::Step* step = scene_.step(row.step);
    const bool coats = turns(step) && row.step_before == row.step && !row.gap;
    if (!coats) {
      if (stalled_) tell(no_value, findings);
      stalled_ = false;
      if (row.step != step_) tell_slip(findings);
      step_ = row.step;
      since_stamp_rad_ = 0;
      keep(row);
      return;
    }
    watch_stall(row, step->rotation->value.value(), findings);
    watch_index(row);
    keep(row);
  }

  void finish(const Moment& /*last*/, Findings& findings) override {
    if (stalled_) tell(no_value, findings);
    tell_slip(findings);
  }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    const plan::Step* step = scene_.step(first->step);
    const Row* row = end;
    if (turns(step)) {
      if (stalled_) return first;
      const double set_rad_s = step->rotation->value.value();
      for (row = first; row != end && !stands(*row, advance(*row), set_rad_s); ++row) {
        if (row->at(scene_.roles.index) > 0.5) break;
        count(*row);
      }
    }
    if (row != first) keep(row[-1]);
    return row;
  }

 private:
  [[nodiscard]] static bool turns(const plan::Step* step) {
    return step != nullptr && step->kind == plan::StepKind::sputter && step->rotation;
  }
  void keep(const Row& row) { last_index_ = row.at(scene_.roles.index); }

  // How far the optic went since the stamp before; no_value: not known. What rows with the same stamp show
  // of it belongs to the time that ends with the next stamp.
  [[nodiscard]] double advance(const Row& row) const {
    const double by_angle = std::abs(wrapped_rad(row.angle_rad - row.before().angle_rad));
    return std::isnan(by_angle) ? std::abs(row.speed_rad_s) * row.dt_s : since_stamp_rad_ + by_angle;
  }
  void count(const Row& row) {
    since_stamp_rad_ = row.dt_s > 0 ? 0 : greater(since_stamp_rad_, advance(row));
  }
  // It should have gone further while film was laid.
  [[nodiscard]] static bool stands(const Row& row, double advance_rad, double set_rad_s) {
    return row.dt_s > 0 && row.power_w * row.open > 0 && advance_rad < stalled_share * set_rad_s * row.dt_s;
  }

  void watch_stall(const Row& row, double set_rad_s, Findings& findings) {
    const double went_rad = advance(row);
    count(row);
    if (std::isnan(went_rad) || row.dt_s <= 0) return;
    if (stands(row, went_rad, set_rad_s)) {
      if (!stalled_) {
        start_ = row.before();
        rows_ = speed_changes_ = 0;
      }
      stalled_ = true;
      ++rows_;
      if (row.speed_rad_s != row.before().speed_rad_s) ++speed_changes_;
      end_ = row;
    } else if (stalled_) {
      tell(row.angle_rad, findings);
      stalled_ = false;
    }
  }

  void tell(double angle_back_rad, Findings& findings) {
    const double lasted_s = seconds(start_.time, end_.time);
    const double way_rad = scene_.step(step_)->rotation->value.value() * lasted_s;
    const bool frozen = reading_was_stuck({way_rad, angle_back_rad - start_.angle_rad, lasted_s, rows_,
                                           speed_changes_, scene_.roles.speed >= 0});
    frozen ? tell_frozen(lasted_s, findings) : tell_stall(findings);
  }

  void tell_frozen(double lasted_s, Findings& findings) const {
    if (lasted_s < shortest_frozen_s) return;
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "frozen-channels";
    d.origin = Origin::instrument;
    d.step = scene_.step_name(step_);
    d.channel = "optic.angle";
    d.start = start_.time;
    d.end = end_.time;
    d.line = start_.line;
    d.effect = fmt::format(
        "The optic's angle stood for {} and then went on from where the turning optic would be by then: the "
        "reading stood, not the optic. No effect on the film.",
        duration_words(lasted_s));
    d.advice = "Have the data link of the optic's drive looked at.";
    finding.covers = {"optic.speed", "optic.angle"};
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings.add(std::move(finding));
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
    d.effect = fmt::format("The optic stood still for {} with the cathode on", duration_words(lasted_s));
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

  // The index pulse should come at the same angle every turn. A row with a pulse says that it came
  // somewhere on the way from the row before; without slip all those ways have a place in common.
  void watch_index(const Row& row) {
    const double index = row.at(scene_.roles.index);
    const bool rising = index > 0.5 && !(last_index_ > 0.5);
    const double way = wrapped_rad(row.angle_rad - row.before().angle_rad);
    const double usual = scene_.step(row.step)->rotation->value.value() * row.dt_s;
    if (!rising || !(std::abs(way) > 0.3 * usual) || std::abs(way) > 3 * usual) return;
    if (pulses_ == 0) {
      first_pulse_ = row;
      place_rad_ = 0;
      latest_begin_rad_ = -full_turn_rad;
      earliest_end_rad_ = full_turn_rad;
    } else {
      const double before = last_pulse_.angle_rad;
      place_rad_ += wrapped_rad(row.angle_rad - before);
    }
    latest_begin_rad_ = greater(latest_begin_rad_, lesser(place_rad_ - way, place_rad_));
    earliest_end_rad_ = lesser(earliest_end_rad_, greater(place_rad_ - way, place_rad_));
    line_.add(pulses_, place_rad_ - 0.5 * way);
    ++pulses_;
    last_pulse_ = row;
  }

  void tell_slip(Findings& findings) {
    const double per_turn_rad = line_.slope();
    if (pulses_ >= 3 && latest_begin_rad_ > earliest_end_rad_ + 2 * angle_margin) {
      Deviation d;
      d.rule = "rotation-slip";
      d.step = scene_.step_name(step_);
      d.channel = "optic.index";
      d.start = first_pulse_.time;
      d.end = last_pulse_.time;
      d.line = first_pulse_.line;
      d.unit = unit("deg", Kind::angle);
      d.worst = per_turn_rad / degree;
      d.effect = fmt::format(
          "The index pulse creeps by {:.1f} degrees a turn against optic.angle: places on the optic given as "
          "angles are off by up to {:.0f} degrees.",
          std::abs(*d.worst), std::abs(*d.worst) * (pulses_ - 1));
      d.advice = "Have the drive checked for slip; trust the index, not the encoder.";
      findings.add(std::move(d));
    }
    pulses_ = 0;
    line_ = LineSums{};
  }

  static constexpr double shortest_frozen_s = 3;

  const Scene& scene_;
  int step_ = -1;
  Moment start_, end_;
  double since_stamp_rad_ = 0;
  double last_index_ = no_value;
  bool stalled_ = false;
  std::size_t rows_ = 0, speed_changes_ = 0;  // while the angle stands
  int pulses_ = 0;
  double place_rad_ = 0;  // of a pulse's row, against the first pulse's row
  double latest_begin_rad_ = 0, earliest_end_rad_ = 0;
  LineSums line_;
  Moment first_pulse_, last_pulse_;
};

}  // namespace

void watch_rotation(const Scene& scene, Watches& watches) {
  const bool anything = scene.roles.speed >= 0 || scene.roles.angle >= 0;
  if (anything && !scene.roles.cathodes.empty()) watches.push_back(std::make_unique<RotationWatch>(scene));
}

}  // namespace vacuary::run
