#include "run/film.hpp"

#include <algorithm>
#include <cmath>

namespace vacuary::run {
namespace {

constexpr double counter_rules_s = 3;
constexpr double clearly_more = 1.25;       // by power than counted: no rounding of either
constexpr std::size_t most_waiting = 4096;  // rows of a standing angle
constexpr double smooth_s = 5;              // voltage noise of arcs averages out, a restart does not
constexpr double lit_share = 0.02;  // of rated power: there is a discharge, its voltage means something

void keep_once(std::vector<std::string>& list, const std::vector<std::string>& more) {
  for (const std::string& text : more) {
    if (list.size() < 8 && std::find(list.begin(), list.end(), text) == list.end()) list.push_back(text);
  }
}

// Of the rated power: a supply's overshoot and its meter's error; an offset of its meter.
constexpr double most_of_rated = 1.2, least_of_rated = 0.05;
constexpr double count_slack_s = 10;  // of full power: digits of the counter, stamps that come late
constexpr int believed_after = 4;     // rows

double or_zero(double value) { return std::isnan(value) ? 0 : value; }

}  // namespace

FilmMeter::FilmMeter(const plan::Plan& plan, const Roles& roles, const model::MapGrid& grid)
    : plan_(plan), roles_(roles), steps_(plan.recipe.steps.size()), grid_(grid), turning_(roles) {
  for (const CathodeRoles& one : roles.cathodes) rates_.emplace_back(*one.cathode);
  doubted_.resize(rates_.size());
  used_.resize(rates_.size());
  if (!roles.cathodes.empty()) use(roles.cathodes.front());
  for (const plan::Step& step : plan.recipe.steps) sputters_.push_back(step.kind == plan::StepKind::sputter);
  if (!plan.optic || !lays_film(plan)) return;
  for (const CathodeRoles& one : roles.cathodes) {
    area_mean_.push_back(model::clear_area_mean(*one.cathode, *plan.optic));
    doses_.emplace_back(plan.recipe, *one.cathode, grid.angles);
  }
  const auto work_out = [this] {
    std::vector<model::CathodeKernels> kernels;
    for (const CathodeRoles& one : roles_.cathodes) kernels.emplace_back(*one.cathode, *plan_.optic, grid_);
    return kernels;
  };
  kernels_ = std::async(work_out).share();
}

int FilmMeter::cathode_index() const { return static_cast<int>(in_use_ - roles_.cathodes.data()); }

Estimate<Ratio> FilmMeter::area_mean(int cathode) const {
  const auto at = static_cast<std::size_t>(cathode);
  return at < area_mean_.size() ? area_mean_[at] : Estimate<Ratio>{Ratio::of(1), Ratio::of(0)};
}

double FilmMeter::asked_rad_s(const Row& row) const {
  const int step = row.step_before >= 0 ? row.step_before : row.step;
  if (step < 0) return no_value;
  const plan::Maybe<AngularSpeed>& rotation = plan_.recipe.steps[static_cast<std::size_t>(step)].rotation;
  return rotation ? rotation->value.value() : no_value;
}

Way FilmMeter::way() const {
  return {from_rad(),           turning_.angle_rad(),   turning_.stands(), turning_.speed_moved(),
          turning_.moved_rad(), turning_.expected_rad()};
}

// Without its time and place.
FilmPiece FilmMeter::piece_of(const FilmSums& sums, double film_m, double pressure_pa) const {
  FilmPiece piece;
  piece.film_m = film_m;
  piece.pressure_pa = std::isnan(pressure_pa) ? 0 : pressure_pa;
  piece.step = &sums == &stray_ ? -1 : static_cast<int>(&sums - steps_.data());
  piece.cathode = cathode_index();
  return piece;
}

// Where on the optic a piece of film lies.
void FilmMeter::place(const FilmPiece& piece, const Way& way) {
  if (doses_.empty()) return;
  if (way.stands && waiting_.size() < most_waiting) {
    if (way.speed_moved) ++waiting_speed_changes_;
    waiting_.push_back(piece);
    waiting_rad_ += way.expected_rad;
    return;
  }
  if (!waiting_.empty()) {
    waiting_.push_back(piece);
    settle_waiting(way);
    return;
  }
  put(piece);
}

// The film of a stuck reading lies spread over the way; that of an optic that stood in one place.
void FilmMeter::settle_waiting(const Way& last) {
  const double whole_s = seconds(waiting_.front().start, waiting_.back().end);
  const bool stuck =
      whole_s > 0 && reading_was_stuck({waiting_rad_, last.moved_rad - last.expected_rad, whole_s,
                                        waiting_.size(), waiting_speed_changes_, roles_.speed >= 0});
  if (stuck) {
    const double unseen = waiting_rad_ + last.expected_rad - last.moved_rad;
    const double turns_rad = full_turn_rad * std::round(unseen / full_turn_rad);
    turning_.make_up(turns_rad);
    waiting_.back().to_rad += turns_rad;
  }
  const double from = waiting_.front().from_rad, to = waiting_.back().to_rad;
  for (FilmPiece& piece : waiting_) {
    if (stuck) {
      piece.from_rad = from + (to - from) * seconds(waiting_.front().start, piece.start) / whole_s;
      piece.to_rad = from + (to - from) * seconds(waiting_.front().start, piece.end) / whole_s;
    }
    put(piece);
  }
  waiting_.clear();
  waiting_rad_ = 0;
  waiting_speed_changes_ = 0;
}

void FilmMeter::put(const FilmPiece& piece) {
  if (piece.step >= 0) trace_.add(piece);
  if (!(piece.film_m > 0)) return;
  const double at_radius_m = piece.film_m / area_mean(piece.cathode).value.value();
  model::FilmDose& dose = doses_[static_cast<std::size_t>(piece.cathode)];
  const auto from = Angle::from_value(piece.from_rad), to = Angle::from_value(piece.to_rad);
  const auto film = Length::from_value(at_radius_m);
  if (piece.pressure_pa == rated_.pressure_pa && piece.cathode == cathode_index()) {
    dose.add(from, to, film, rated_.film.straight);
  } else {
    dose.add(from, to, film, Pressure::from_value(piece.pressure_pa));
  }
  angle_known_ = turning_.known();
}

void FilmMeter::finish() {
  closed_.clear();
  if (hole_.open()) close_hole();
  if (seen_open_ > 0) unseen_j_.add(since_seen_j_);
  for (const FilmPiece& piece : waiting_) put(piece);
  waiting_.clear();
  tell_rates();
}

void FilmMeter::use(const CathodeRoles& cathode) {
  if (&cathode != in_use_) {  // another supply: its counter has nothing to do with the one before
    if (hole_.open()) close_hole();
    anchored_ = false;
    believed_count_j_ = base_count_j_ = no_value;
    stood_j_ = most_stood_j_ = ahead_j_ = 0;
    counter_ = {};
  }
  in_use_ = &cathode;
  rated_w_ = cathode.supply->power_max.value.value();
  lit_w_ = lit_share * rated_w_;
}

void FilmMeter::choose_cathode(const Row& row) {
  if (row.step < 0 || row.step == row.step_before) return;
  const plan::Step& step = plan_.recipe.steps[static_cast<std::size_t>(row.step)];
  if (!step.cathode) return;
  for (const CathodeRoles& roles : roles_.cathodes) {
    if (roles.cathode->name.value == step.cathode->value) use(roles);
  }
}

// A supply gives no more than it can, and takes nothing back: anything else is no reading of it.
double FilmMeter::possible_power(double power_w) const {
  return power_w <= most_of_rated * rated_w_ && power_w >= -least_of_rated * rated_w_ ? power_w : no_value;
}

// Its counter goes on by no more than that, and not back. What does so for some rows is a counter that was
// reset or exchanged.
double FilmMeter::possible_count(const Row& row) {
  const double count_j = row.at(in_use_->energy);
  since_count_s_ += greater(row.dt_s, row.period_s);
  if (std::isnan(count_j)) return no_value;
  const double more_j = count_j - believed_count_j_;
  const double most_j =
      most_of_rated * rated_w_ * (since_count_s_ + row.period_s + row.stamp_s + row.shared_s + count_slack_s);
  const bool possible =
      std::isnan(believed_count_j_) || (row.lost && more_j >= 0) || (more_j >= 0 && more_j <= most_j);
  if (!possible && ++odd_counts_ < believed_after) return no_value;
  if (more_j != 0) since_count_s_ = 0;  // while it stands it may also not have been read
  believed_count_j_ = count_j;
  odd_counts_ = 0;
  return count_j;
}

bool FilmMeter::film_lost(const Row& row, bool rows_dropped) const {
  if (in_use_ == nullptr) return false;
  const double counted_j = row.counter_j - row.before().counter_j;
  if (lays_in(row)) return !(counted_j >= 0);
  return rows_dropped && !(counted_j >= 0 && counted_j < rated_w_ * (row.dt_s + row.period_s));
}

void FilmMeter::read(Row& row) {
  closed_.clear();
  choose_cathode(row);
  row.speed_rad_s = row.at(roles_.speed);
  row.angle_rad = row.at(roles_.angle);
  if (in_use_ == nullptr) return;
  row.power_w = possible_power(row.at(in_use_->power));
  row.voltage_v = row.at(in_use_->voltage);
  row.current_a = row.at(in_use_->current);
  row.counter_j = possible_count(row);
  row.smooth_v = no_value;
  if (row.power_w > lit_w_ || std::isnan(row.power_w)) {
    const double weight = lesser(1.0, row.dt_s / smooth_s);
    const bool fresh = std::isnan(row.before().smooth_v);
    row.smooth_v =
        fresh ? row.voltage_v : row.before().smooth_v + weight * (row.voltage_v - row.before().smooth_v);
  }
  row.va_w = possible_power(row.voltage_v * row.current_a);
  if (std::isnan(row.power_w)) row.power_w = row.va_w;
  row.open =
      shutter_logged() ? std::clamp(row.at(in_use_->open), 0.0, 1.0) : (sputters(row.step) ? 1.0 : 0.0);
  power_rhythm_.row(row.dt_s, !std::isnan(row.power_w));
  shutter_rhythm_.row(row.dt_s, !std::isnan(row.open));
  if (any_ && row.dt_s == 0) {  // what one row of a stamp does not say the other may
    if (std::isnan(row.power_w)) row.power_w = row.before().power_w;
    if (std::isnan(row.open)) row.open = row.before().open;
  }
}

// kappa at this row. Between discharges and behind the shutter the last one stands: no film grows there.
void FilmMeter::rate_model(Row& row) {
  const bool lit = row.power_w > lit_w_;
  const bool shut = !(row.open > 0) && !(row.before().open > 0);
  if ((!lit || shut) && !std::isnan(row.kappa_m_j)) return;
  const double voltage_v = lit ? row.voltage_v : in_use_->cathode->calibration.voltage.value.value();
  const double pressure_pa = std::isnan(row.pressure_pa) ? row.before().pressure_pa : row.pressure_pa;
  const Energy used = in_use_->cathode->energy_used.value +
                      Energy::from_value(used_[static_cast<std::size_t>(cathode_index())].value());
  rated_.voltage_v = voltage_v;
  rated_.pressure_pa = pressure_pa;
  rated_.used = used;
  rated_.film = rates_[static_cast<std::size_t>(cathode_index())].at(Voltage::from_value(voltage_v),
                                                                     Pressure::from_value(pressure_pa), used);
  row.kappa_m_j = rated_.film.value.value() * area_mean(cathode_index()).value.value();
}

void FilmMeter::keep_doubts() {
  Doubted& kept = doubted_[static_cast<std::size_t>(cathode_index())];
  kept.laid = true;
  const unsigned doubts = rated_.film.doubts;
  if (doubts == 0) return;
  if ((doubts & model::FilmRate::pressure_unknown) != 0) kept.pressure_unknown = true;
  if ((doubts & model::FilmRate::target_worn) != 0) {
    kept.worn = true;
    kept.used = rated_.used;
  }
  if ((doubts & model::FilmRate::pressure_far) == 0) return;
  const double usual_pa = in_use_->cathode->calibration.pressure.value.value();
  const auto distance = [&](double pa) { return pa > usual_pa ? pa / usual_pa : usual_pa / pa; };
  if (std::isnan(kept.furthest_pa) || distance(rated_.pressure_pa) > distance(kept.furthest_pa))
    kept.furthest_pa = rated_.pressure_pa;
}

std::vector<const CathodeRoles*> FilmMeter::roles_of_film() const {
  std::vector<const CathodeRoles*> out;
  for (std::size_t i = 0; i < doubted_.size(); ++i) {
    if (doubted_[i].laid) out.push_back(&roles_.cathodes[i]);
  }
  if (out.empty() && in_use_ != nullptr) out.push_back(in_use_);
  return out;
}

// What the model assumes and doubts, once a reason and cathode.
void FilmMeter::tell_rates() {
  for (std::size_t i = 0; i < doubted_.size(); ++i) {
    const Doubted& kept = doubted_[i];
    if (!kept.laid) continue;
    const plan::Cathode& cathode = *roles_.cathodes[i].cathode;
    const plan::Calibration& c = cathode.calibration;
    const auto tell = [&](double pressure_pa, Energy used) {
      const model::FilmPerEnergy words = model::film_per_energy(plan_.chamber, cathode, c.voltage.value,
                                                                Pressure::from_value(pressure_pa), used);
      keep_once(assumed_, words.assumed);
      keep_once(doubts_, words.doubts);
    };
    tell(std::isnan(kept.furthest_pa) ? c.pressure.value.value() : kept.furthest_pa,
         kept.worn ? kept.used : c.energy_used.value);
    if (kept.pressure_unknown) tell(no_value, c.energy_used.value);
  }
}

FilmSums& FilmMeter::owner(const Row& row) {
  if (sputters(row.step_before)) return steps_[static_cast<std::size_t>(row.step_before)];
  if (sputters(row.step)) return steps_[static_cast<std::size_t>(row.step)];
  return stray_;
}

// `lit`: a row with a discharge, if there is one. `fresh`: no other film was weighed by it.
void FilmMeter::weigh(const Moment& lit, bool fresh, FilmSums& sums, double energy_j, double film_m) {
  sums.energy.add(energy_j);
  sums.film.add(film_m);
  total_film_.add(film_m);
  if (std::isnan(lit.voltage_v)) {
    sums.without_voltage.add(energy_j);
  } else {
    sums.voltage_weighted.add(lit.voltage_v * energy_j);
    sums.voltage_energy.add(energy_j);
    const plan::Calibration& c = in_use_->cathode->calibration;
    if (std::abs(lit.smooth_v - c.voltage.value.value()) > c.voltage_band.value.value()) {
      sums.outside_band.add(energy_j);
      sums.outside_pressure.add(lit.pressure_pa * energy_j);
    } else if (fresh) {
      sums.settling.add(energy_j, lit.voltage_v, lit.pressure_pa);
    }
    if (energy_j > 0) {
      sums.lowest_v = lesser(sums.lowest_v, lit.smooth_v);
      sums.highest_v = greater(sums.highest_v, lit.smooth_v);
    }
  }
  if (!std::isnan(lit.pressure_pa)) {
    sums.pressure_weighted.add(lit.pressure_pa * energy_j);
    sums.pressure_energy.add(energy_j);
    const double u = lit.gauge < 0 ? 0.01 : lit.gauge_u;
    const Ratio slope =
        lit.pressure_pa == rated_.pressure_pa
            ? rated_.film.pressure_sensitivity
            : model::film_pressure_sensitivity(*in_use_->cathode, Pressure::from_value(lit.pressure_pa));
    sums.pressure_reading.add(film_m * std::abs(slope.value()) * u);
  }
  for (std::size_t i = 0; i < rated_.film.input_count; ++i) {
    const model::FilmRate::Input& input = rated_.film.inputs[i];
    const auto same = [&](const auto& one) { return one.first == input.name; };
    auto at = std::find_if(sums.inputs.begin(), sums.inputs.end(), same);
    if (at == sums.inputs.end()) at = sums.inputs.insert(at, {input.name, Sum{}});
    at->second.add(film_m * input.contribution);
  }
  keep_doubts();
}

// Turns are told only if the log shows them; that the recipe asked for them is not the same.
void FilmMeter::count_turning(FilmSums& sums, double turned_rad) const {
  if (roles_.speed < 0 && roles_.angle < 0) return;
  sums.angle.add(turned_rad);
  sums.way.add(turned_rad + sums.way_since_film_rad);
  sums.way_since_film_rad = 0;
}

// Where rows become rare, as after the last of a film, a straight line to the next would lay film that
// the supply's counter knows nothing of.
double FilmMeter::share_counted(const Row& row, double by_power_j) const {
  const double counted_j =
      (row.counter_j - base_count_j_) * greater(or_zero(row.open), or_zero(row.before().open));
  if (!(row.dt_s > counter_rules_s) || !(counted_j >= 0) ||
      !(by_power_j > clearly_more * counted_j + most_stood_j_))
    return 1;
  return counted_j / by_power_j;
}

void FilmMeter::lay(const Row& row) {
  FilmSums& sums = owner(row);
  const Moment& before = row.before();
  const double from_w = before.power_w * before.open;
  const double to_w = row.hold ? from_w : row.power_w * row.open;
  const double by_power_j = 0.5 * (from_w + to_w) * row.dt_s;
  const double there = share_counted(row, by_power_j);
  const double energy_j = by_power_j * there;
  const double turned_rad = std::abs(turning_.angle_rad() - from_rad());
  const double film_m =
      energy_j > 0 ? 0.5 * (from_w * before.kappa_m_j + to_w * row.kappa_m_j) * row.dt_s * there : 0;
  const bool lit = row.power_w > lit_w_;
  if (energy_j > 0) weigh(lit ? row : before, lit, sums, energy_j, film_m);
  // Glass that passed the cathode while it laid nothing is a part of the story too.
  if (energy_j > 0 || &sums != &stray_) {
    FilmPiece piece =
        piece_of(sums, film_m, std::isnan(row.pressure_pa) ? before.pressure_pa : row.pressure_pa);
    piece.start = before.time;
    piece.end = row.time;
    piece.from_rad = from_rad();
    piece.to_rad = turning_.angle_rad();
    place(piece, way());
  }
  if (!(energy_j > 0)) {
    if (sums.energy.value() > 0) sums.way_since_film_rad += turned_rad;
    return;
  }
  if (row.open > 0.99 && before.open > 0.99 && !std::isnan(row.counter_j - base_count_j_))
    ahead_j_ += row.counter_j - base_count_j_ - energy_j;
  // An edge somewhere between two samples: rectangular over the interval.
  const double edge_m = (to_w - from_w) * row.dt_s * row.kappa_m_j * there;
  sums.sampling_variance.add(edge_m * edge_m / 12);
  const double va_j =
      0.5 * (before.va_w * before.open + (row.hold ? before.va_w * before.open : row.va_w * row.open)) *
      row.dt_s;
  if (!std::isnan(va_j)) {
    sums.volt_ampere.add(va_j);
    sums.volt_ampere_beside.add(energy_j);
  }
  count_turning(sums, turned_rad);
  const bool quiet = std::abs(to_w - from_w) < 0.1 * from_w && row.open > 0.95;
  if (quiet) {
    quiet_film_.add(film_m);
    quiet_s_.add(row.dt_s);
  }
}

// The supply's own counter beside the integral of the power, over stretches with the shutter open. `beside`:
// both may be compared over the interval before the row.
void FilmMeter::count(const Moment& row, FilmSums& sums, double supplied_j, bool beside) {
  counter_.open = counter_.open && row.open > 0.99 && beside;
  counter_.power_j.add(supplied_j);
  if (std::isnan(row.counter_j)) return;
  if (counter_.known && counter_.open && row.counter_j >= counter_.counter_j) {
    sums.counter.add(row.counter_j - counter_.counter_j);
    sums.counter_beside.add(counter_.power_j.value());
  }
  counter_ = {true, row.counter_j, Sum{}, row.open > 0.99};
}

// A counter of few digits, or one that is read less often than the power, stands while energy goes by.
void FilmMeter::watch_counter(const Row& row, double supplied_j) {
  if (std::isnan(row.counter_j)) return;
  if (row.counter_j != base_count_j_) {
    stood_j_ = 0;
  } else {
    stood_j_ += supplied_j;
    most_stood_j_ = greater(most_stood_j_, stood_j_);
  }
}

void FilmMeter::watch_unseen(const Row& row, double by_power_j) {
  if (std::isnan(row.open)) {
    if (row.step < 0) since_seen_j_ += by_power_j;
    return;
  }
  if (seen_open_ > 0 || row.open > 0) unseen_j_.add(since_seen_j_);
  seen_open_ = row.open;
  since_seen_j_ = 0;
}

// The interval between the row before and this one.
void FilmMeter::lay_between(const Row& row) {
  if (row.dt_s == 0) {
    if (hole_.open()) into_hole(row, behind_film_);
    return;
  }
  const bool in_film = lays_in(row);
  if (hole_.open() && row.gap && (hole_misses_ || !in_film)) close_hole();
  if (hole_.open() && !in_film) {
    follow_hole(row);
    return;
  }
  // Outside the film a shutter that nobody saw open is shut.
  const bool may_lay = in_film || row.open > 0 || row.before().open > 0;
  if (hole_.open() || (may_lay && row.gap) || (in_film && power_unknown(row))) {
    into_hole(row, false);
    if (!in_film || !std::isnan(row.power_w * row.open)) close_hole();
    return;
  }
  if (!power_unknown(row)) {
    lay(row);
    anchored_ = false;
  } else if (std::isnan(row.power_w * row.open) && !std::isnan(row.before().power_w * row.before().open)) {
    anchor_ = in_hole(row.before());
    anchored_ = true;
  }
  const double by_power_j =
      0.5 * (row.before().power_w + (row.hold ? row.before().power_w : row.power_w)) * row.dt_s;
  if (!in_film) watch_unseen(row, or_zero(by_power_j));
  count(row, owner(row), or_zero(by_power_j), !std::isnan(by_power_j));
  watch_counter(row, or_zero(by_power_j));
  used_[static_cast<std::size_t>(cathode_index())].add(or_zero(by_power_j));
  base_count_j_ = std::isnan(row.counter_j) ? base_count_j_ + by_power_j : row.counter_j;
}

void FilmMeter::add(Row& row) {
  turning_.row(row, asked_rad_s(row));
  if (!any_ || row.before().dt_s > 0) base_rad_ = turning_.angle_before_rad();
  if (in_use_ != nullptr) {
    rate_model(row);
    if (any_) {
      lay_between(row);
    } else {
      base_count_j_ = row.counter_j;
      if (!std::isnan(row.counter_j)) counter_ = {true, row.counter_j, Sum{}, row.open > 0.99};
    }
  }
  if (row.step != row.step_before) ahead_j_ = 0;
  row.film_m = total_film_.value();
  if (quiet_s_.value() > 2) row.quiet_rate_m_s = quiet_film_.value() / quiet_s_.value();
  any_ = true;
}

void FilmMeter::doubt(int step, double half_width_m) {
  if (!sputters(step)) return;
  steps_[static_cast<std::size_t>(step)].gap_variance.add(half_width_m * half_width_m / 3);
}

}  // namespace vacuary::run
