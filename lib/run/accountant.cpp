#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "run/clock.hpp"
#include "run/crystal.hpp"
#include "run/estimates.hpp"
#include "run/figures.hpp"
#include "run/film.hpp"
#include "run/health.hpp"
#include "run/on_optic.hpp"
#include "run/pressure.hpp"
#include "run/pumps.hpp"
#include "run/quality.hpp"
#include "run/run.hpp"
#include "run/step_log.hpp"
#include "run/steps.hpp"
#include "run/vacuum.hpp"
#include "run/verdict.hpp"
#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double gap_periods = 1.5;

// How far apart rows should be: as the map states for the step's kind, else in general, else the
// median of the last distances.
class Cadence {
 public:
  Cadence(const plan::Plan& plan, const plan::ChannelMap& map) : plan_(plan), map_(map) {}

  [[nodiscard]] double of(const Row& row) {
    const double stated = greater(stated_s(row.step), stated_s(row.step_before));
    if (!std::isnan(stated)) return stated;
    if (row.dt_s > 0) {
      even_ = row.dt_s == last_[(next_ + last_.size() - 1) % last_.size()] ? even_ + 1 : 1;
      last_[next_] = row.dt_s;
      next_ = (next_ + 1) % last_.size();
      known_ = std::min(known_ + 1, last_.size());
    }
    if (known_ == 0) return 0;
    if (even_ >= last_.size()) return last_[0];
    std::array<double, 31> sorted = last_;
    const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(known_ / 2);
    std::nth_element(sorted.begin(), middle, sorted.begin() + static_cast<std::ptrdiff_t>(known_));
    return *middle;
  }
  [[nodiscard]] bool stated(const Row& row) const {
    return !std::isnan(stated_s(row.step)) && !std::isnan(stated_s(row.step_before));
  }

 private:
  [[nodiscard]] double stated_s(int step) const {
    if (step >= 0) {
      for (const auto& one : map_.step_periods) {
        if (one.kind == plan_.recipe.steps[static_cast<std::size_t>(step)].kind) return one.period.value();
      }
    }
    return map_.period ? map_.period->value() : no_value;
  }

  const plan::Plan& plan_;
  const plan::ChannelMap& map_;
  std::array<double, 31> last_{};
  std::size_t next_ = 0, known_ = 0;
  std::size_t even_ = 0;  // distances in a row that are the same
};

// Silence in a log on change is no gap, but while a cathode burns its energy counter runs and keeps
// making rows. Three times the longest silence so far in a discharge means that nobody wrote, or that
// the clock was set.
class Silence {
 public:
  explicit Silence(double rated_w) : least_w_(0.1 * rated_w) {}

  [[nodiscard]] bool of(const Row& row) {
    const bool burns = row.hold && row.power_w > least_w_ && !std::isnan(row.counter_j) && least_w_ > 0;
    const bool silent = burns && rows_ > least_rows && row.dt_s > shortest_s && row.dt_s > times * longest_s_;
    if (!burns) {
      rows_ = 0;
      longest_s_ = 0;
    } else if (!silent) {
      if (++rows_ > 1) longest_s_ = greater(longest_s_, row.dt_s);
    }
    return silent;
  }

 private:
  static constexpr double shortest_s = 5, times = 3;
  static constexpr int least_rows = 30;
  double least_w_;
  int rows_ = 0;
  double longest_s_ = 0;
};

// Oddities of the log that a person must know of, one deviation a kind. The rest is in the tally.
class Oddities {
 public:
  void add(const log::Event& event) {
    One& one = kinds_[static_cast<std::size_t>(event.what)];
    if (one.count == 0) one.first = event;
    one.last = event.to;
    one.count += event.count;
  }
  void tell(const StepLog& steps, Findings& findings) const {
    tell_kind(log::Oddity::clock_step, "clock-step",
              "Nothing is known to be missing; where film was laid, the step itself counts as a gap.", steps,
              findings);
    tell_kind(log::Oddity::clock_restart, "clock-step",
              "Where film was laid, the energy counter says how much meanwhile; without one none is claimed.",
              steps, findings);
    tell_kind(log::Oddity::backward_stamp, "clock-step",
              "Rows whose time runs backward are left out; the film's energy in them is bounded as in a gap.",
              steps, findings);
    tell_kind(log::Oddity::daylight_saving_fold, "clock-fold",
              "Local times of this hour come twice; the order of the rows decides.", steps, findings);
    tell_kind(log::Oddity::joined_export, "joined-log",
              "The log is two exports joined; what lies between them is not in it.", steps, findings);
    tell_kind(log::Oddity::contradictory_unit, "contradictory-unit",
              "Cells that name a unit of another kind than their channel's are not used.", steps, findings);
  }

 private:
  struct One {
    std::uint64_t count = 0;
    log::Event first;
    Instant last;
  };
  void tell_kind(log::Oddity what, const char* rule, const char* effect, const StepLog& steps,
                 Findings& findings) const {
    const One& one = kinds_[static_cast<std::size_t>(what)];
    if (one.count == 0) return;
    Deviation d;
    d.rule = rule;
    d.origin = Origin::log;
    d.start = one.first.from;
    d.end = std::max(d.start, one.last);  // a clock set back ends before it begins
    d.line = {one.first.line, one.first.file};
    d.step = steps.step_at(one.first.from);
    d.effect = one.first.detail.empty()
                   ? std::string{}
                   : fmt::format("{}{}. ", one.first.detail,
                                 one.count > 1 ? fmt::format(" ({} times)", one.count) : "");
    d.effect += effect;
    d.advice = "Look at the logger, and at how the log was exported.";
    findings.add(std::move(d));
  }
  std::array<One, static_cast<std::size_t>(log::Oddity::count_)> kinds_;
};

}  // namespace

const char* name(Verdict verdict) {
  switch (verdict) {
    case Verdict::within_limits:
      return "within_limits";
    case Verdict::review:
      return "review";
    case Verdict::out_of_limits:
      break;
  }
  return "out_of_limits";
}

const char* name(Origin origin) {
  switch (origin) {
    case Origin::process:
      return "process";
    case Origin::instrument:
      return "instrument";
    case Origin::log:
      break;
  }
  return "log";
}

struct Accountant::State {
  State(const plan::Plan& plan_in, const plan::ChannelMap& map_in, const log::Header& header_in,
        const model::MapGrid& grid)
      : plan(plan_in),
        map(map_in),
        header(header_in),
        roles(find_roles(plan, header)),
        pressure(plan, map, roles),
        film(plan, roles, grid),
        crystals(plan, header),
        steps(plan, map, roles),
        figures(plan, header),
        cadence(plan, map),
        silence(film.rated_w()),
        clock(film.rated_w()),
        scene{plan, header, roles, pressure, film},
        step_log(scene),
        vacuum(scene),
        pumps(scene),
        quality(scene) {
    watch_limits(scene, watches);
    watch_power(scene, watches);
    watch_gas(scene, watches);
    watch_pumping(scene, watches);
    watch_shaft(scene, watches);
    watch_rotation(scene, watches);
    watch_shutter(scene, watches);
    watch_target(scene, watches);
    watch_arcs(scene, watches);
    watch_frozen(scene, watches);
    watch_gauges(scene, watches);
    watch_gaps(scene, watches);
    watch_cells(scene, watches);
    rows.resize(most_rows + 1);
    rows.front().hold = map.logging == plan::Logging::on_change;
    true_pa.resize(rows.size() * roles.gauges.size());
    columns.resize(header.channels.size());
  }

  [[nodiscard]] bool holds() const { return rows.front().hold; }
  [[nodiscard]] const Row& last_row() const { return rows[next - 1]; }

  // Where the readings of a block are; a channel that it lacks has none. In a log on change the reader has
  // let values stand, and ended them where a cell says that there is no reading.
  void look_at(const log::Block& block) {
    none.resize(std::max(none.size(), block.rows()), no_value);
    for (std::size_t c = 0; c < columns.size(); ++c) {
      const bool there = c < block.values.size() && !block.values[c].empty();
      columns[c] = there ? block.values[c].data() : none.data();
    }
  }

  void read_step(const log::Block& block, std::size_t r, std::size_t& next_text) {
    if (roles.step < 0 || static_cast<std::size_t>(roles.step) >= block.texts.size()) return;
    const auto& changes = block.texts[static_cast<std::size_t>(roles.step)];
    while (next_text < changes.size() && changes[next_text].row <= r) {
      steps.text(changes[next_text].text, block.time[r], {block.line[r], block.file_of(r)});
      ++next_text;
    }
  }

  // What of the log is known to be lost before rows of a block: the reader's events, by row.
  struct Lost {
    std::size_t row;
    const log::Event* event;
  };
  [[nodiscard]] static std::vector<Lost> lost_in(const log::Block& block) {
    std::vector<Lost> lost;
    for (const log::Event& event : block.events) {
      if (!event.lost) continue;
      std::size_t row = 0;
      while (row < block.rows() && (block.line[row] != event.line || block.file_of(row) != event.file)) ++row;
      if (event.what != log::Oddity::clock_restart) {  // rows that were dropped, before the next that is kept
        const auto next = std::find_if(block.breaks.begin(), block.breaks.end(), [&](std::size_t at) {
          return block.time[at] >= event.from && block.file_of(at) == event.file;
        });
        row = next == block.breaks.end() ? block.rows() : *next;
      }
      lost.push_back({row, &event});
    }
    return lost;
  }

  void tell_lost(const log::Event& event) {
    if (!film_lost.empty()) return;
    const std::string where =
        header.files.size() > 1
            ? fmt::format("line {} of {}", event.line, header.files[static_cast<std::size_t>(event.file)])
            : fmt::format("line {}", event.line);
    film_lost =
        event.what == log::Oddity::clock_restart
            ? fmt::format(
                  "the log counts its time from 0 again at {}, while film was laid, and no energy counter "
                  "says "
                  "what was laid before that",
                  where)
            : fmt::format(
                  "from {} on {} rows go back in time and were left out, which are not there twice: film may "
                  "have been laid in them. Put the files of the run in order, or cut out what is no part of "
                  "it",
                  where, event.count);
  }

  void take(const log::Block& block, std::size_t r, bool broken, const log::Event* lost) {
    if (next == rows.size() || pressure.zero_is_near()) settle(false);
    if (next == rows.size()) {
      rows.front() = rows.back();
      waiting = next = 1;
    }
    const Moment& before = rows[next - 1];
    Row& row = rows[next];
    static_cast<Moment&>(row) = before;
    row.columns = columns.data();
    row.in_block = r;
    row.first = !any;
    row.time = clock.dated(block.time[r]);
    row.line = {block.line[r], block.file_of(r)};
    row.dt_s = any ? seconds(before.time, row.time) : 0;
    row.jumped_s = 0;
    row.lost = lost != nullptr;
    row.shared_s = shared_stamp_s;
    row.step_before = before.step;
    pressure.read(row, true_pa.data() + next * roles.gauges.size());
    row.step = steps.of(row);
    row.period_s = cadence.of(row);
    // A line that was dropped between two rows of the usual distance was none of the plant's.
    const bool usual = row.dt_s > 0 && row.dt_s < gap_periods * row.period_s && !row.hold;
    row.gap = any && (row.lost || (broken && !usual) ||
                      (!row.hold && cadence.stated(row) && row.dt_s > gap_periods * row.period_s));
    const bool enters = row.first || row.step != row.step_before;
    // What the rows before are judged by must not yet know of a row that is odd.
    if (enters || row.gap) settle(false);
    film.read(row);
    row.gap = row.gap || silence.of(row);
    if (any) clock.row(anchored ? anchor : before, row, block.time[r]);
    if (row.gap && !row.lost && owed(row)) row.gap = false;
    const bool odd = rows_alone || enters || row.gap || row.jumped_s > 0 || film.unknown(row);
    if (odd) settle(false);
    if (enters) step_start = row.time;
    row.step_age_s = seconds(step_start, row.time);
    film.add(row);
    if (lost != nullptr && film.film_lost(row, lost->what != log::Oddity::clock_restart)) tell_lost(*lost);
    if (row.hold) {
      figures.add(row);
    } else {
      intervals.push_back(Figures::interval(row, broken));
    }
    ++next;
    keep_owed(before, row);
    if (odd) settle(true);
    any = true;
  }

  // Rows that come with the stamp of the row before, with other readings, are rows all the same: the time
  // that they should have taken comes with the next, which then is not late.
  [[nodiscard]] bool owed(const Row& row) const {
    return owed_s > 0 && row.dt_s - owed_s <= gap_periods * row.period_s;
  }
  void keep_owed(const Moment& before, const Row& row) {
    const bool stands = any && row.dt_s == 0;
    if (stands && !anchored) anchor = before;
    const auto differs = [](double a, double b) { return a != b && !(std::isnan(a) && std::isnan(b)); };
    const bool new_row = differs(row.counter_j, before.counter_j) ||
                         differs(row.angle_rad, before.angle_rad) || differs(row.power_w, before.power_w) ||
                         differs(row.voltage_v, before.voltage_v) ||
                         differs(row.pressure_pa, before.pressure_pa);
    if (!stands) owed_s = 0;
    if (!stands || !new_row) {
      anchored = stands;
      return;
    }
    // Where no period is stated, that of rows with a stamp of their own is not that of the rows between.
    owed_s = cadence.stated(row) ? owed_s + row.period_s : greater(owed_s, row.period_s);
    anchored = stands;
  }

  // Shows the rows that are waiting to all who watch.
  void settle(bool odd) {
    if (waiting == next) return;
    const Stretch stretch(rows.data() + waiting, rows.data() + next, odd);
    crystals.take(stretch, film);
    step_log.take(stretch);
    vacuum.take(stretch);
    pumps.take(stretch);
    quality.take(stretch);
    for (const auto& watch : watches) watch->take(stretch, findings);
    findings.settle();
    waiting = next;
  }

  const plan::Plan& plan;
  const plan::ChannelMap& map;
  log::Header header;
  Roles roles;
  VesselPressure pressure;
  FilmMeter film;
  CrystalMeter crystals;
  Steps steps;
  Figures figures;
  std::vector<Figures::Interval> intervals;  // of the present part
  Cadence cadence;
  std::string film_lost;  // why the log cannot be believed to show all film
  double shared_stamp_s = 0,
         coarsest_stamp_s = 0;  // to which stamps are, where rows share them: now, and ever
  Silence silence;
  ClockSteps clock;
  Scene scene;
  StepLog step_log;
  VacuumWatch vacuum;
  PumpWatch pumps;
  QualityMeter quality;
  Watches watches;
  Findings findings;
  // A power that is shown in coarser steps from here on may be off by half a step, always the same way.
  void doubt_coarse_power(const std::vector<StepAccount>& accounts) {
    for (const log::Event& event : coarse) {
      const auto cathode = std::find_if(roles.cathodes.begin(), roles.cathodes.end(),
                                        [&](const CathodeRoles& one) { return one.power == event.channel; });
      if (cathode == roles.cathodes.end()) continue;
      const log::ChannelInfo& info = header.channels[static_cast<std::size_t>(event.channel)];
      const double half_step_w = 0.5 * event.digit * info.unit.factor;
      for (std::size_t i = 0; i < accounts.size(); ++i) {
        const FilmSums& sums = film.steps()[i];
        const plan::MaybeText& of = plan.recipe.steps[i].cathode;
        if (of && of->value != cathode->cathode->name.value) continue;
        if (!accounts[i].found || !(sums.energy.value() > 0)) continue;
        const Instant from = std::max(event.from, accounts[i].start);
        if (from >= accounts[i].end) continue;
        const double kappa_m_j = sums.film.value() / sums.energy.value();
        film.doubt(static_cast<int>(i), half_step_w * kappa_m_j * seconds(from, accounts[i].end));
      }
    }
  }

  Oddities oddities;
  std::vector<log::Event> coarse;  // channels that lost digits
  // Rows in hand: [waiting, next) wait to be shown, the one before them is there too. So many that they stay
  // in the nearest cache.
  static constexpr std::size_t most_rows = 96;
  std::vector<Row> rows;
  std::size_t waiting = 1, next = 1;
  std::vector<double> true_pa;         // by row in hand and gauge
  std::vector<const double*> columns;  // by channel, of the present block
  std::vector<double> none;            // readings of a channel that a block lacks
  Instant step_start;
  // The first row of the present stamp, when there are more of it.
  Moment anchor;
  bool anchored = false;
  double owed_s = 0;
  bool any = false;
  bool rows_alone = false;
};

Accountant::Accountant(const plan::Plan& plan, const plan::ChannelMap& map, const log::Header& header,
                       const model::MapGrid& grid)
    : state_(std::make_unique<State>(plan, map, header, grid)) {}
Accountant::Accountant(Accountant&&) noexcept = default;
Accountant& Accountant::operator=(Accountant&&) noexcept = default;
Accountant::~Accountant() = default;

void Accountant::show_rows_alone() { state_->rows_alone = true; }

void Accountant::add(const log::Block& block) {
  State& s = *state_;
  std::size_t next_text = 0;
  std::size_t next_break = 0;
  s.look_at(block);
  s.shared_stamp_s = static_cast<double>(block.shared_stamp_ns) * 1e-9;
  s.coarsest_stamp_s = greater(s.coarsest_stamp_s, s.shared_stamp_s);
  const std::vector<log::Part> all = {{0, block.rows(), {}}};
  const std::vector<log::Part>& parts = block.parts.empty() ? all : block.parts;
  auto part = parts.begin();
  const std::vector<State::Lost> lost = State::lost_in(block);
  std::size_t next_lost = 0;
  for (std::size_t r = 0; r < block.rows(); ++r) {
    while (next_break < block.breaks.size() && block.breaks[next_break] < r) ++next_break;
    const bool broken = next_break < block.breaks.size() && block.breaks[next_break] == r;
    s.read_step(block, r, next_text);
    const log::Event* gone = nullptr;
    for (; next_lost < lost.size() && lost[next_lost].row <= r; ++next_lost) gone = lost[next_lost].event;
    s.take(block, r, broken, gone);
    if (r + 1 < part->to || s.holds()) continue;
    s.figures.add(block, *part, s.intervals);
    s.intervals.clear();
    ++part;
  }
  s.settle(false);
  for (; next_lost < lost.size(); ++next_lost) s.tell_lost(*lost[next_lost].event);  // no row behind them
  for (log::Event event : block.events) {
    const double taken_off_s = seconds(s.clock.dated(event.to), event.to);
    event.from = s.clock.dated(event.from);
    event.to = s.clock.dated(event.to);
    if (event.what == log::Oddity::clock_step && taken_off_s > 0)
      event.detail += fmt::format("; less {} by which the energy counter had shown it set forward before",
                                  duration_words(taken_off_s));
    s.oddities.add(event);
    const bool gauge =
        event.channel >= 0 && static_cast<std::size_t>(event.channel) < s.header.channels.size() &&
        s.header.channels[static_cast<std::size_t>(event.channel)].channel.what == plan::What::pressure;
    if (event.what == log::Oddity::overrange && gauge) s.vacuum.saturated(event.from, event.to);
    if (event.what == log::Oddity::quantisation_change && event.channel >= 0) s.coarse.push_back(event);
  }
}

Account Accountant::finish(const log::Tally& tally) {
  State& s = *state_;
  Account account;
  const plan::Plan& plan = s.plan;
  account.recipe = plan.recipe.name.value;
  account.revision = plan.recipe.revision.value;
  account.author = plan.recipe.author.value;
  account.chamber = plan.chamber.name.value;
  if (plan.optic) account.optic = plan.optic->name.value;
  account.log_files = s.header.files.empty() ? std::vector<std::string>{s.header.file} : s.header.files;
  account.log = tally;
  account.unmapped = s.header.unmapped;
  account.unmapped.insert(account.unmapped.end(), tally.unmapped.begin(), tally.unmapped.end());
  account.missing = missing_channels(plan, s.header, s.roles);
  account.notes = s.pressure.notes();
  account.steps_from = s.steps.from_column() ? "step column" : "inferred from what the plant did";
  for (const auto& note : plan.chamber.safety) account.safety.push_back(note.value);

  s.film.finish();
  for (const auto& watch : s.watches) watch->finish(s.last_row(), s.findings);
  const model::Prediction prediction = model::predict(plan);
  account.vacuum = s.vacuum.health();
  s.pumps.tell(account.vacuum);
  judge_health(s.scene, s.vacuum.seen(), account.vacuum, s.findings);
  const StepLog::Rest rest{prediction, s.figures, s.vacuum, s.steps, account.vacuum.vent};
  s.vacuum.finish(prediction, s.findings);
  s.step_log.finish(rest, s.findings);
  s.oddities.tell(s.step_log, s.findings);
  account.steps = s.step_log.accounts(rest);
  s.doubt_coarse_power(account.steps);
  account.film = film_of(plan, s.roles, s.film, s.film_lost);
  if (s.coarsest_stamp_s > 0) {
    account.film.assumed.push_back(
        fmt::format("rows that share a stamp of {} were dated within it as they go on: where on the optic "
                    "their film lies is known "
                    "to less than that only, and the map may show thin or thick sectors that are none",
                    duration_words(s.coarsest_stamp_s)));
  }
  account.film.crystals = s.crystals.finish(s.film, s.roles);
  account.quality = s.quality.finish(account.film, s.findings);
  bring_together(plan, account.quality.targets, {}, account.film);
  account.deviations = s.findings.told();
  place_on_optic(plan, s.film, account);
  if (s.findings.untold() > 0) {
    account.notes.push_back(
        fmt::format("{} further deviations of the same kinds are not listed.", s.findings.untold()));
  }
  decide(account, lays_film(plan));
  return account;
}

Result<Account> account(const plan::Plan& plan, const plan::ChannelMap& map, log::Reader& reader) {
  Accountant accountant(plan, map, reader.header());
  std::uint64_t rows = 0;
  while (const log::Block* block = reader.next()) {
    rows += block->rows();
    accountant.add(*block);
  }
  if (rows == 0) {
    Diagnostics diagnostics = reader.diagnostics();
    Diagnostic nothing;
    nothing.rule = "empty-log";
    nothing.message = "the log has no row that could be read";
    nothing.where = Place::whole_file(reader.header().file);
    nothing.remedy = "check that this is the run's log, and that the channel map fits it";
    diagnostics.push_back(std::move(nothing));
    return {std::move(diagnostics)};
  }
  return {accountant.finish(reader.tally()), reader.diagnostics()};
}

}  // namespace vacuary::run
