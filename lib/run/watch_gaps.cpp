// Rows that are missing, and clocks that jump.
#include <fmt/format.h>

#include <cmath>

#include "run/clock.hpp"
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
    if (row.jumped_s > 0) {
      tell_clock(row, true, findings);
    } else if (row.gap && row.dt_s > 0 && !row.first) {
      const bool rounded = row.dt_s - row.period_s < 1.1 * row.stamp_s;
      if (!rounded && row.before().dt_s > 0 && turned_between(row.before(), row) == Turned::one_row) {
        tell_clock(row, false, findings);
      } else {
        tell(row, findings);
      }
    }
  }

 protected:
  const Row* pass(const Row* /*first*/, const Row* end) override { return end; }

 private:
  void tell_clock(const Row& row, bool by_counter, Findings& findings) const {
    const double jumped_s = by_counter ? row.jumped_s : row.dt_s - row.period_s;
    Deviation d;
    d.rule = "clock-step";
    d.origin = Origin::log;
    d.step = scene_.step_name(row.step_before);
    d.start = row.before().time;
    d.end = row.time;
    d.line = row.line;
    d.unit = unit("s", Kind::duration);
    d.worst = jumped_s;
    d.effect =
        by_counter
            ? fmt::format(
                  "The log's clock jumped forward by {}: the energy counter went on by one row only. "
                  "Nothing is missing and the film is unaffected; rows from here on are dated that much "
                  "earlier than they say, so that time runs on.",
                  duration_words(jumped_s))
            : fmt::format(
                  "The log's clock jumped forward by {}: the optic turned on by one row only. Either "
                  "the clock was set and nothing is missing, or the optic stood for that time; the "
                  "film's uncertainty allows for a gap.",
                  duration_words(jumped_s));
    d.advice = "Look at what set the logger's clock.";
    findings.add(std::move(d));
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
    d.start = row.before().time;
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
};

}  // namespace

void watch_gaps(const Scene& scene, Watches& watches) {
  watches.push_back(std::make_unique<GapWatch>(scene));
}

}  // namespace vacuary::run
