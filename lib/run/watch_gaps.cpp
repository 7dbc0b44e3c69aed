// Rows that are missing, and clocks that jump.
#include <fmt/format.h>

#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double worth_telling_periods = 3;    // outside a film shorter ones are only counted
constexpr double worth_telling_share = 0.001;  // of the film wanted, as half width
constexpr double long_gap_periods = 20;

class GapWatch final : public Watch {
 public:
  explicit GapWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    if (row.gap && row.dt_s > 0 && !row.first) {
      if (!clock_stepped(row, findings)) tell(row, findings);
    }
    before_ = row;
  }

 private:
  // The energy counter went on by one row's worth although the clock went on by many: the clock
  // was set, and nothing is missing.
  [[nodiscard]] bool counter_went_on_by_one_row(const Row& row) const {
    const double power_w = 0.5 * (before_.power_w + row.power_w);
    const double ran_s = (row.counter_j - before_.counter_j) / power_w;
    const bool running =
        power_w > 0.1 * scene_.film.rated_w() && std::abs(row.power_w / before_.power_w - 1) < 0.1;
    return running && std::abs(ran_s - row.period_s) < 0.3 * row.period_s;
  }

  // The same by the optic's angle, where its speed is steady and the gap no whole number of turns.
  [[nodiscard]] bool optic_went_on_by_one_row(const Row& row) const {
    constexpr double turn_rad = 2 * 3.14159265358979323846;
    constexpr double speed_known_to = 0.01;
    const double speed = std::abs(0.5 * (before_.speed_rad_s + row.speed_rad_s));
    const double one_row = speed * row.period_s;
    if (!(one_row > 0) || one_row > turn_rad / 4 || std::abs(before_.speed_rad_s / row.speed_rad_s - 1) > 0.1)
      return false;
    const double turned = std::abs(std::remainder(row.angle_rad - before_.angle_rad, turn_rad));
    const double if_gap = std::abs(std::remainder(speed * row.dt_s, turn_rad));
    return std::abs(turned - one_row) < 0.3 * one_row &&
           std::abs(if_gap - one_row) > 0.5 * one_row + speed_known_to * speed * row.dt_s;
  }

  bool clock_stepped(const Row& row, Findings& findings) const {
    const bool by_counter = counter_went_on_by_one_row(row);
    if (!by_counter && !optic_went_on_by_one_row(row)) return false;
    Deviation d;
    d.rule = "clock-step";
    d.origin = Origin::log;
    d.step = scene_.step_name(row.step_before);
    d.start = before_.time;
    d.end = row.time;
    d.line = row.line;
    d.unit = unit("s", Kind::duration);
    d.worst = row.dt_s - row.period_s;
    const std::string forward = duration_words(row.dt_s - row.period_s);
    d.effect = by_counter
                   ? fmt::format(
                         "The log's clock jumped forward by {}: the energy counter went on by one row only. "
                         "Nothing is missing and the film is unaffected; times and the step's duration after "
                         "it are late by that much.",
                         forward)
                   : fmt::format(
                         "The log's clock jumped forward by {}: the optic turned on by one row only. Either "
                         "the clock was set and nothing is missing, or the optic stood for that time; the "
                         "film's uncertainty allows for a gap.",
                         forward);
    d.advice = "Look at what set the logger's clock.";
    findings.add(std::move(d));
    return true;
  }

  void tell(const Row& row, Findings& findings) {
    const FilmGap* gap = scene_.film.last_gap();
    const double periods = row.dt_s / row.period_s;
    const bool in_film = gap != nullptr && gap->energy_j > 0;
    const double wanted_m = scene_.plan.optic ? scene_.plan.optic->film.thickness.value.value() : no_value;
    if (in_film ? periods <= worth_telling_periods && gap->half_width_m < worth_telling_share * wanted_m
                : periods < long_gap_periods) {
      return;
    }
    Finding finding;
    Deviation& d = finding.deviation;
    d.rule = "log-gap";
    d.origin = Origin::log;
    d.step = scene_.step_name(row.step_before);
    d.start = before_.time;
    d.end = row.time;
    d.line = row.line;
    d.unit = unit("s", Kind::duration);
    d.worst = row.dt_s;
    d.limit = row.period_s;
    const std::string rows = fmt::format("No row for {} (one every {} expected)", duration_words(row.dt_s),
                                         duration_words(row.period_s));
    if (!in_film) {
      d.severity = Severity::note;
      d.effect = rows + "; no film was being laid.";
    } else if (gap->by_counter) {
      d.mean_change = length_estimate(0, gap->half_width_m / std::sqrt(3.0));
      d.effect = fmt::format(
          "{}. The supply's energy counter went on by {} meanwhile, so the film laid in it is known: {}{}. "
          "What the other channels did is not.",
          rows, brief(Energy::from_value(gap->energy_j), unit("kWh", Kind::energy)), nm(gap->film_m),
          gap->half_width_m > 0 ? " +/- " + nm(gap->half_width_m) : std::string{});
      d.advice =
          "Find the gap in the supply's own memory if it has one; a trip shorter than the gap would not show "
          "here.";
    } else {
      d.mean_change = length_estimate(0, gap->half_width_m / std::sqrt(3.0));
      d.effect = fmt::format(
          "{}. Anything between no power and rated power may have run: {} +/- {} of film is taken for it, "
          "and the uncertainty of the mean is wider by that.",
          rows, nm(gap->film_m), nm(gap->half_width_m));
      d.advice = "Log the supply's energy counter, which bridges gaps; until then measure the film.";
    }
    findings.add(std::move(finding));
  }

  const Scene& scene_;
  Row before_;
};

}  // namespace

void watch_gaps(const Scene& scene, Watches& watches) {
  watches.push_back(std::make_unique<GapWatch>(scene));
}

}  // namespace vacuary::run
