// Rows that are there, while what the film hangs on was not read, or read as what its device cannot give.
#include <fmt/format.h>

#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double worth_telling_periods = 3;  // shorter ones are only in the uncertainty

// Power or shutter without a reading in a step that lays film: bounded like a gap.
class UnreadWatch final : public Watch {
 public:
  explicit UnreadWatch(const Scene& scene) : scene_(scene) {}

  void finish(const Moment& /*last*/, Findings& findings) override {
    if (rows_ > 0) tell(findings);
  }

 protected:
  // Such rows are odd, so they come alone.
  const Row* pass(const Row* first, const Row* end) override { return rows_ > 0 ? first : end; }

  void row(const Row& row, Findings& findings) override {
    const FilmGap* gap = scene_.film.last_gap();
    if (gap == nullptr || row.gap) {
      if (rows_ > 0) tell(findings);
      return;
    }
    if (rows_ == 0) {
      start_ = row.before();
      film_m_ = half_m_ = 0;
      by_counter_ = true;
      shutter_ = std::isnan(row.open) && !std::isnan(row.power_w);
    }
    ++rows_;
    film_m_ += gap->film_m;
    half_m_ += gap->half_width_m;
    by_counter_ = by_counter_ && gap->by_counter;
    end_ = row;
  }

 private:
  void tell(Findings& findings) {
    const double lasted_s = seconds(start_.time, end_.time);
    rows_ = 0;
    if (lasted_s <= worth_telling_periods * end_.period_s) return;
    const CathodeRoles& cathode = *scene_.film.roles_in_use();
    Deviation d;
    d.rule = "film-not-read";
    d.origin = Origin::log;
    d.step = scene_.step_name(end_.step);
    d.channel = shutter_ ? cathode.cathode->name.value + ".open" : cathode.supply->name.value + ".power";
    d.start = start_.time;
    d.end = end_.time;
    d.line = start_.line;
    d.unit = unit("s", Kind::duration);
    d.worst = lasted_s;
    d.mean_change = length_estimate(0, half_m_ / std::sqrt(3.0));
    d.effect = fmt::format(
        "The log has rows for {} but no reading of {} in them. {}: {} +/- {} of film is taken for it{}, and "
        "the "
        "uncertainty of the mean is wider by that.",
        duration_words(lasted_s), d.channel,
        shutter_ ? "The shutter may have been anywhere between shut and open"
                 : "What the supply gave is not known by its power",
        nm(film_m_), nm(half_m_), by_counter_ ? ", by the supply's energy counter" : "");
    d.advice = "Find out why it was not logged; until then measure the film.";
    findings.add(std::move(d));
  }

  const Scene& scene_;
  std::size_t rows_ = 0;
  Moment start_, end_;
  double film_m_ = 0, half_m_ = 0;
  bool by_counter_ = true, shutter_ = false;
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
