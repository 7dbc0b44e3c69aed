// Rows that are missing, and clocks that jump.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "run/clock.hpp"
#include "run/hole_tally.hpp"
#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double worth_telling_periods = 3;    // outside a film shorter ones are only counted
constexpr double worth_telling_share = 0.001;  // of the film wanted, as standard uncertainty
constexpr double long_gap_periods = 20;

class GapWatch final : public Watch {
 public:
  explicit GapWatch(const Scene& scene) : scene_(scene) {}

  void row(const Row& row, Findings& findings) override {
    if (row.jumped_s > 0) {
      tell_clock(row, true, findings);
    } else if (row.gap && row.dt_s > 0 && !row.first) {
      const bool rounded = row.dt_s - row.period_s < 1.1 * greater(row.stamp_s, row.shared_s);
      if (!rounded && row.before().dt_s > 0 && turned_between(row.before(), row) == Turned::one_row) {
        tell_clock(row, false, findings);
        clock_set_ = row.time;
      } else if (!scene_.film.hole_open() && nothing_laid() && row.dt_s >= long_gap_periods * row.period_s) {
        tell_idle(row, findings);
      }
    }
    look(findings);
  }

  void finish(const Moment& /*last*/, Findings& findings) override {
    look(findings);
    if (short_.many()) {
      tell_many(findings);
    } else {
      for (const FilmGap& gap : short_.each) tell(gap, findings);
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

  // Where the row behind a gap does not say how the film goes on, the gap is laid with the next that does.
  void look(Findings& findings) {
    const double wanted_m = scene_.plan.optic ? scene_.plan.optic->film.thickness.value.value() : no_value;
    for (const FilmGap& gap : scene_.film.holes_laid()) {
      if (!gap.missing || !(gap.high_m > 0) || (clock_set_ && *clock_set_ == gap.behind.time)) continue;
      const double periods = gap.behind.dt_s / gap.behind.period_s;
      if (periods <= worth_telling_periods && gap.standard_m < worth_telling_share * wanted_m) continue;
      if (periods < long_gap_periods) {
        short_.add(gap);
      } else {
        tell(gap, findings);
      }
    }
  }

  [[nodiscard]] bool nothing_laid() const {
    const std::vector<FilmGap>& laid = scene_.film.holes_laid();
    return std::none_of(laid.begin(), laid.end(), [](const FilmGap& gap) { return gap.high_m > 0; });
  }

  void tell_idle(const Row& row, Findings& findings) const {
    Deviation d = gap_before(row, row.before().time);
    d.severity = Severity::note;
    d.effect = none_for(row) + "; no film was being laid.";
    findings.add(std::move(d));
  }

  void tell(const FilmGap& gap, Findings& findings) const {
    Deviation d = gap_before(gap.behind, gap.start.time);
    const std::string rows = none_for(gap.behind);
    d.mean_change = length_estimate(0, gap.standard_m);
    if (gap.bounded_s == 0) {
      d.severity = Severity::note;
      d.effect = fmt::format(
          "{}: too brief for a supply to trip and be back at power. {} of film is taken for it, as if all "
          "had "
          "gone straight on.",
          rows, nm(gap.film_m));
      d.advice = "Look for what keeps the logger from writing.";
    } else if (gap.by_counter) {
      d.effect = fmt::format(
          "{}. The supply's energy counter went on by {} meanwhile, so the film laid in it is known: {}{}. "
          "What the other channels did is not.",
          rows, brief(Energy::from_value(gap.energy_j), unit("kWh", Kind::energy)), nm(gap.film_m),
          gap.standard_m > 0 ? " +/- " + nm(std::sqrt(3.0) * gap.standard_m) : std::string{});
      d.advice =
          "Find the gap in the supply's own memory if it has one; a trip shorter than the gap would not show "
          "here.";
    } else {
      d.effect = fmt::format(
          "{}. Anything between no power and rated power may have run, which is between {} and {} of film: "
          "{} "
          "is taken for it, as if all had gone straight on, and the uncertainty of the mean is wider by "
          "that.",
          rows, nm(gap.low_m), nm(gap.high_m), nm(gap.film_m));
      d.advice = "Log the supply's energy counter, which bridges gaps; until then measure the film.";
    }
    findings.add(std::move(d));
  }

  void tell_many(Findings& findings) const {
    const FilmGap& first = short_.each.front();
    Deviation d = gap_before(first.behind, first.start.time);
    d.end = short_.end().time;
    d.worst = short_.longest_s;
    d.mean_change = length_estimate(0, short_.standard_m);
    d.effect = fmt::format(
        "{} times in the film no row for some rows' time, up to {} (one every {} expected). {} of film is "
        "taken "
        "for all of them, {}.",
        short_.count, duration_words(short_.longest_s), duration_words(first.behind.period_s),
        nm(short_.film_m),
        !short_.bounded
            ? std::string("as if all had gone straight on: each is too brief for a supply to trip and "
                          "be back at power")
            : fmt::format("{}between {} and {} are possible, and the uncertainty of the mean is wider "
                          "by that",
                          short_.by_counter ? "by the supply's energy counter; " : "", nm(short_.low_m),
                          nm(short_.high_m)));
    d.advice = "Look for what keeps the logger from writing.";
    findings.add(std::move(d));
  }

  [[nodiscard]] static std::string none_for(const Moment& row) {
    return fmt::format("No row for {} (one every {} expected)", duration_words(row.dt_s),
                       duration_words(row.period_s));
  }

  [[nodiscard]] Deviation gap_before(const Moment& row, Instant start) const {
    Deviation d;
    d.rule = "log-gap";
    d.origin = Origin::log;
    d.step = scene_.step_name(row.step_before);
    d.start = start;
    d.end = row.time;
    d.line = row.line;
    d.unit = unit("s", Kind::duration);
    d.worst = row.dt_s;
    d.limit = row.period_s;
    return d;
  }

  const Scene& scene_;
  HoleTally short_;
  std::optional<Instant> clock_set_;  // last, told as that
};

}  // namespace

void watch_gaps(const Scene& scene, Watches& watches) {
  watches.push_back(std::make_unique<GapWatch>(scene));
}

}  // namespace vacuary::run
