// Rows that are there, while what the film hangs on was not read, or read as what its device cannot give.
#include <fmt/format.h>

#include <cmath>

#include "run/hole_tally.hpp"
#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double worth_telling_periods = 3;    // by itself; shorter ones are told together
constexpr double worth_telling_share = 0.005;  // of the film: taken from the readings beside
constexpr double much = 0.1;                   // of it: to be looked at

// Power or shutter without a reading in a step that lays film. Long ones are bounded like a gap and told one
// by one; what rests on the others, together.
class UnreadWatch final : public Watch {
 public:
  explicit UnreadWatch(const Scene& scene) : scene_(scene) {}

  void finish(const Moment& /*last*/, Findings& findings) override {
    look();
    if (long_.many()) {
      tell_long(findings);
    } else {
      for (const FilmGap& hole : long_.each) tell(hole, findings);
    }
    if (brief_.count > 0 && brief_.film_m > worth_telling_share * scene_.film.total_m()) tell_brief(findings);
  }

 protected:
  // A row with which a hole closes is odd, so it comes alone.
  const Row* pass(const Row* /*first*/, const Row* end) override { return end; }
  void row(const Row& /*row*/, Findings& /*findings*/) override { look(); }

 private:
  void look() {
    for (const FilmGap& hole : scene_.film.holes_laid()) {
      if (hole.unread == 0 || (hole.missing && hole.bounded_s > 0))
        continue;  // told as rows that are missing
      const bool is_long = hole.bounded_s > 0 && hole.longest_s() > worth_telling_periods * hole.end.period_s;
      (is_long ? long_ : brief_).add(hole);
    }
  }

  [[nodiscard]] std::string channel_of(const FilmGap& hole) const {
    const CathodeRoles& cathode = *scene_.film.roles_in_use();
    return hole.shutter ? cathode.cathode->name.value + ".open" : cathode.supply->name.value + ".power";
  }

  [[nodiscard]] Deviation not_read(const FilmGap& first, const Moment& end) const {
    Deviation d;
    d.rule = "film-not-read";
    d.origin = Origin::log;
    d.step = scene_.step_name(end.step_before);
    d.channel = channel_of(first);
    d.start = first.start.time;
    d.end = end.time;
    d.line = first.start.line;
    return d;
  }

  void tell(const FilmGap& hole, Findings& findings) const {
    Deviation d = not_read(hole, hole.end);
    d.unit = unit("s", Kind::duration);
    d.worst = hole.longest_s();
    d.mean_change = length_estimate(0, hole.standard_m);
    d.effect = fmt::format(
        "The log has rows for {} but no reading of {} in them. {}: {} of film is taken for it{}, between {} "
        "and "
        "{} are possible, and the uncertainty of the mean is wider by that.",
        duration_words(hole.longest_s()), d.channel,
        hole.shutter ? "The shutter may have been anywhere between shut and open"
                     : "What the supply gave is not known by its power",
        nm(hole.film_m),
        hole.by_counter ? ", by the supply's energy counter" : ", as if it had gone straight on",
        nm(hole.low_m), nm(hole.high_m));
    d.advice = "Find out why it was not logged; until then measure the film.";
    findings.add(std::move(d));
  }

  void tell_long(Findings& findings) const {
    Deviation d = not_read(long_.each.front(), long_.end());
    d.unit = unit("s", Kind::duration);
    d.worst = long_.longest_s;
    d.mean_change = length_estimate(0, long_.standard_m);
    d.effect = fmt::format(
        "{} times the log has rows but no reading of {} or of what else the film hangs on in them, for up to "
        "{}. "
        "{} of film is taken for all of them, between {} and {} are possible{}, and the uncertainty of the "
        "mean "
        "is wider by that.",
        long_.count, d.channel, duration_words(long_.longest_s), nm(long_.film_m), nm(long_.low_m),
        nm(long_.high_m), long_.by_counter ? " by the supply's energy counter" : "");
    d.advice = "Find out why it was not logged; until then measure the film.";
    findings.add(std::move(d));
  }

  void tell_brief(Findings& findings) const {
    Deviation d = not_read(brief_.each.front(), brief_.end());
    const double share = brief_.film_m / scene_.film.total_m();
    if (share < much) d.severity = Severity::note;
    d.unit = unit("nm", Kind::length);
    d.worst = in(Length::from_value(brief_.film_m), d.unit);
    d.mean_change = length_estimate(0, brief_.standard_m);
    d.effect = fmt::format(
        "{} rows of the film have no reading of {} or of what else the film hangs on, never for longer than "
        "{}. "
        "{} of film, {:.1f} % of it, is taken from the readings beside them, as between the rows of a log "
        "that is "
        "written less often.",
        brief_.unread, d.channel, duration_words(brief_.longest_s), nm(brief_.film_m), 100 * share);
    d.advice = "Look at the link of this device: a longer silence would be doubt about the film.";
    findings.add(std::move(d));
  }

  const Scene& scene_;
  HoleTally long_, brief_;
};

// Numbers that the supply or its counter cannot have given. Nothing is made of them.
class ImpossibleWatch final : public Watch {
 public:
  ImpossibleWatch(const Scene& scene, bool counter) : scene_(scene), counter_(counter) {}

  void finish(const Moment& /*last*/, Findings& findings) override {
    if (count_ == 0) return;
    Deviation d;
    d.rule = "impossible-reading";
    d.origin = Origin::instrument;
    d.step = scene_.step_name(first_.step);
    d.channel = channel_;
    d.start = first_.time;
    d.end = last_.time;
    d.line = first_.line;
    d.unit = counter_ ? unit("kWh", Kind::energy) : unit("kW", Kind::power);
    d.worst = counter_ ? in(Energy::from_value(worst_si_), d.unit) : in(Power::from_value(worst_si_), d.unit);
    d.limit = in(Power::from_value(scene_.film.rated_w()), unit("kW", Kind::power));
    if (counter_) d.limit.reset();
    d.effect = fmt::format(
        "{} of {} cannot be: the supply gives {} at most{}. Nothing was made of {}: what was laid meanwhile "
        "is "
        "taken from the other readings, or bounded.",
        count_ == 1 ? "A reading" : fmt::format("{} readings", count_), channel_,
        brief(Power::from_value(scene_.film.rated_w()), unit("kW", Kind::power), 3),
        counter_ ? ", and its counter does not run back" : "", count_ == 1 ? "it" : "them");
    d.advice =
        "Look at the link of this channel; if the number is a code for no reading, put it into the channel "
        "map's bad_values.";
    findings.add(std::move(d));
  }

 protected:
  const Row* pass(const Row* first, const Row* end) override {
    const Row* row = first;
    while (row != end && !impossible(*row)) ++row;
    return row;
  }

  void row(const Row& row, Findings& /*findings*/) override {
    if (!impossible(row)) return;
    const double reading = row.at(column());
    if (count_++ == 0) {
      first_ = row;
      channel_ = scene_.header.channels[static_cast<std::size_t>(column())].channel.name();
      worst_si_ = reading;
    }
    if (std::abs(reading) > std::abs(worst_si_)) worst_si_ = reading;
    last_ = row;
  }

 private:
  [[nodiscard]] int column() const {
    const CathodeRoles* cathode = scene_.film.roles_in_use();
    return cathode == nullptr ? -1 : counter_ ? cathode->energy : cathode->power;
  }
  // The film meter did not take it.
  [[nodiscard]] bool impossible(const Row& row) const {
    const double reading = row.at(column());
    return !std::isnan(reading) && (counter_ ? std::isnan(row.counter_j) : row.power_w != reading);
  }

  const Scene& scene_;
  bool counter_;
  std::uint64_t count_ = 0;
  Moment first_, last_;
  double worst_si_ = 0;
  std::string channel_;
};

}  // namespace

void watch_cells(const Scene& scene, Watches& watches) {
  if (scene.roles.cathodes.empty()) return;
  watches.push_back(std::make_unique<UnreadWatch>(scene));
  for (const bool counter : {false, true})
    watches.push_back(std::make_unique<ImpossibleWatch>(scene, counter));
}

}  // namespace vacuary::run
