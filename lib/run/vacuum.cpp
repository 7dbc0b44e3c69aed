#include "run/vacuum.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace vacuary::run {
namespace {

using plan::StepKind;

constexpr double hour_s = 3600;
constexpr double roughed_pa = 100;
constexpr double air_pa = 5e4;           // a log that starts above this starts with air in the vessel
constexpr double clock_window_s = 1800;  // a log that starts pumped: the clock is found in here
constexpr double vented_pa = 1e4;
constexpr double pumped_pa = 10;        // only a vessel that was below this can be let up
constexpr double water_low_pa = 400;    // 611 Pa, the triple point, by a gauge that reads low
constexpr double water_high_pa = 4500;  // 2810 Pa, boiling at 23 degC, by one that reads high
constexpr double least_plateau_s = 300;
constexpr double high_vacuum_pa = 0.05;  // outgassing and leaks alone make the pressure below this
constexpr double leak_margin = 1.5;      // times the leak limit
constexpr double base_margin = 1.02;
constexpr std::uint64_t least_samples = 20;

bool twins(const plan::Gauge& a, const plan::Gauge& b) {
  return a.kind == b.kind && a.low.value == b.low.value && a.high.value == b.high.value;
}

}  // namespace

// ---------------------------------------------------------------- power law

void PowerLawFit::add(double t_s, double pressure_pa) {
  if (!(pressure_pa > 0) || t_s < hour_s || t_s > 10 * hour_s) return;
  const double share = std::log10(t_s / hour_s);
  const auto bin = std::min(bins - 1, static_cast<std::size_t>(share * bins));
  sums_[bin].add(std::log(t_s), std::log(pressure_pa));
  first_s_ = lesser(first_s_, t_s);
  last_s_ = greater(last_s_, t_s);
}

std::optional<PowerLaw> PowerLawFit::result() const {
  constexpr std::size_t groups = 10;
  LineSums all;
  for (const LineSums& bin : sums_) all.add(bin);
  if (all.count() < least_samples || last_s_ < 2 * first_s_) return std::nullopt;
  PowerLaw law;
  law.from = Duration::from_value(first_s_);
  law.to = Duration::from_value(last_s_);
  law.samples = all.count();
  const double slope = all.slope();
  // Delete-one jackknife over groups of bins (Efron and Tibshirani, An Introduction to the
  // Bootstrap, 1993, chapter 11).
  std::vector<double> without;
  for (std::size_t group = 0; group < groups; ++group) {
    LineSums rest;
    std::uint64_t left_out = 0;
    for (std::size_t bin = 0; bin < bins; ++bin) {
      if (bin * groups / bins == group) {
        left_out += sums_[bin].count();
      } else {
        rest.add(sums_[bin]);
      }
    }
    if (left_out > 0 && rest.count() > 2) without.push_back(rest.slope());
  }
  double mean = 0;
  for (const double value : without) mean += value / static_cast<double>(without.size());
  double variance = 0;
  for (const double value : without) variance += (value - mean) * (value - mean);
  const auto n = static_cast<double>(without.size());
  law.exponent = {Ratio::of(slope), Ratio::of(n > 1 ? std::sqrt(variance * (n - 1) / n) : std::abs(slope))};
  return law;
}

// ---------------------------------------------------------------- rows

VacuumWatch::VacuumWatch(const Scene& scene)
    : scene_(scene), steps_(scene.plan.recipe.steps.size()), rises_(scene) {
  const auto& gauges = scene.roles.gauges;
  for (std::size_t g = 0; g < gauges.size(); ++g) {
    if (gauges[g].pressure < 0) continue;
    channels_.push_back({gauges[g].gauge->name.value + ".pressure", g, npos, {}, false});
    for (std::size_t twin = g + 1; twin < gauges.size(); ++twin) {
      if (gauges[twin].pressure < 0 || !twins(*gauges[g].gauge, *gauges[twin].gauge)) continue;
      channels_.push_back({fmt::format("{}.pressure less {}.pressure", gauges[g].gauge->name.value,
                                       gauges[twin].gauge->name.value),
                           g,
                           twin,
                           {},
                           false});
    }
  }
}

double VacuumWatch::as_read(std::size_t gauge, const Row& row) const {
  const GaugeRoles& role = scene_.roles.gauges[gauge];
  const double reading = row.at(role.pressure);
  const double low = role.gauge->low.value.value();
  const double high = role.gauge->high.value.value();
  return reading > 1.01 * low && reading < 0.99 * high ? reading : no_value;
}

void VacuumWatch::find_zero(const Row& row) {
  double least = row.pressure_pa;
  for (const Channel& channel : channels_) {
    if (channel.less == npos) least = lesser(least, as_read(channel.gauge, row));
  }
  const bool saturated = std::isnan(row.pressure_pa);
  if (first_row_ || (blind_ && !saturated)) {
    first_row_ = false;
    start_ = row.time;
    // A log that starts beyond the range of its gauges starts with air in the vessel, unless the
    // first reading shows a vessel that is already pumped.
    from_air_ = saturated || row.pressure_pa > air_pa || (blind_ && row.pressure_pa > roughed_pa);
    if (!blind_ || !from_air_) zero_ = row.time;
    blind_ = saturated;
    greatest_pa_ = row.pressure_pa;
    lowest_pa_ = least;
    zero_is_ = from_air_ ? "pumping start: the pressure begins to fall"
                         : "lowest reading of any gauge in the first 30 min";
    return;
  }
  if (from_air_) {
    greatest_pa_ = greater(greatest_pa_, row.pressure_pa);
    if (saturated && !blind_) return;
    if (row.pressure_pa < 0.97 * greatest_pa_) {
      zero_known_ = true;
    } else {
      zero_ = row.time;
    }
    return;
  }
  if (seconds(start_, row.time) > clock_window_s) {
    zero_known_ = true;
  } else if (least < lowest_pa_ || std::isnan(lowest_pa_)) {
    lowest_pa_ = least;
    zero_ = row.time;
  }
}

void VacuumWatch::watch_vent(const Row& row) {
  if (std::isnan(row.pressure_pa)) {
    if (!lost_) lost_from_ = row.time;
    lost_ = true;
    lost_to_ = row.time;
    return;
  }
  lost_ = false;
  // The valley fills slowly, so that it is the pressure of the last hour and not of the first minute.
  if (row.dt_s != fill_dt_s_) {
    fill_dt_s_ = row.dt_s;
    fill_ = std::exp(row.dt_s / hour_s);
  }
  valley_pa_ *= fill_;
  if (row.pressure_pa < 1.5 * valley_pa_ || std::isnan(valley_pa_)) {
    valley_pa_ = lesser(valley_pa_, row.pressure_pa);
    rise_from_ = row.time;
  }
  if (valley_pa_ < pumped_pa && row.pressure_pa > vented_pa) {
    vent_ = Vent{rise_from_,
                 fmt::format("the pressure rose from {} to {}",
                             brief(Pressure::from_value(valley_pa_), unit("mbar", Kind::pressure), 2),
                             brief(Pressure::from_value(row.pressure_pa), unit("mbar", Kind::pressure), 2))};
  }
}

void VacuumWatch::saturated(Instant from, Instant to) {
  if (saturated_.size() >= 20) saturated_.erase(saturated_.begin());
  saturated_.emplace_back(from, to);
}

// At the end no gauge has a value, because all of them are beyond their range: the vessel is at
// atmosphere.
std::optional<Vent> VacuumWatch::vent_beyond_range() const {
  if (!lost_ || !(valley_pa_ < pumped_pa)) return std::nullopt;
  for (const auto& [from, to] : saturated_) {
    if (from > lost_to_ || to < lost_from_) continue;
    return Vent{rise_from_,
                fmt::format("the pressure rose from {} and went beyond the range of the gauges at {}",
                            brief(Pressure::from_value(valley_pa_), unit("mbar", Kind::pressure), 2),
                            to_rfc3339(lost_from_))};
  }
  return std::nullopt;
}

void VacuumWatch::take(const Stretch& rows) {
  const plan::Step* step = scene_.step(rows.step());
  const bool pumping = step != nullptr && step->kind == StepKind::pumpdown;
  for (const Row& row : rows) {
    if (!zero_known_) find_zero(row);
    if (!vent_) watch_vent(row);
    if (pumping && !vent_) pumping_row(row);
  }
  if (step == nullptr) return;
  if (step->kind == StepKind::sputter && !film_start_) film_start_ = rows.front().time;
  keep_extremes(rows);
  rises_.take(rows);
}

void VacuumWatch::keep_extremes(const Stretch& rows) {
  StepPressure& here = steps_[static_cast<std::size_t>(rows.step())];
  if (!here.seen) here.first = rows.front();
  here.seen = true;
  here.last = rows.back();
  const Row* lowest = nullptr;
  double before_pa = no_value;  // of the last but one
  for (const Row& row : rows) {
    const bool copy = row.dt_s == 0 && row.pressure_pa == here.last_pa;  // a row that was written twice
    if (std::isnan(row.pressure_pa) || copy) continue;
    before_pa = here.last_pa;
    here.last_pa = row.pressure_pa;
    here.highest_pa = greater(here.highest_pa, row.pressure_pa);
    if (row.pressure_pa >= here.lowest_pa) continue;
    here.lowest_pa = row.pressure_pa;
    lowest = &row;
  }
  if (lowest != nullptr) here.lowest_at = *lowest;
  if (!std::isnan(before_pa)) here.next_pa = here.last_pa * lesser(1.0, here.last_pa / before_pa);
}

void VacuumWatch::pumping_row(const Row& row) {
  watch_plateau(row);
  if (!zero_known_) return;
  const double t_s = seconds(zero_, row.time);
  for (Channel& channel : channels_) {
    double pressure_pa = as_read(channel.gauge, row);
    if (channel.less != npos) {
      pressure_pa -= as_read(channel.less, row);
      channel.negative |= pressure_pa <= 0 && t_s >= hour_s && t_s <= 10 * hour_s;
    }
    channel.fit.add(t_s, pressure_pa);
  }
  watch_normal(row, t_s);
  // A manometer sees nothing here but its own zero; right after crossover the fall is the pumps'.
  const bool manometer =
      row.gauge >= 0 &&
      scene_.roles.gauges[static_cast<std::size_t>(row.gauge)].gauge->kind == plan::GaugeKind::capacitance;
  if (!manometer && row.pressure_pa < high_vacuum_pa && row.step_age_s > 180) fall_.add(t_s, row.pressure_pa);
}

double VacuumWatch::lowest_pa(int step) const {
  return step < 0 ? no_value : steps_[static_cast<std::size_t>(step)].lowest_pa;
}
double VacuumWatch::reached_pa(int step) const {
  if (step < 0) return no_value;
  const StepPressure& at = steps_[static_cast<std::size_t>(step)];
  return lesser(at.lowest_pa, at.next_pa);
}
double VacuumWatch::highest_pa(int step) const {
  return step < 0 ? no_value : steps_[static_cast<std::size_t>(step)].highest_pa;
}

// ---------------------------------------------------------------- health

// The last pumpdown before the first film, or the last of all.
int VacuumWatch::base_step() const {
  int base = -1;
  for (std::size_t s = 0; s < steps_.size(); ++s) {
    const StepKind kind = scene_.plan.recipe.steps[s].kind;
    if (kind == StepKind::sputter) break;
    if (kind == StepKind::pumpdown && steps_[s].seen) base = static_cast<int>(s);
  }
  return base;
}

// Of the reading; and where the gauge reads nitrogen equivalent, of its factor for the gas that is there,
// which nobody has measured.
double VacuumWatch::base_uncertainty(const StepPressure& at) const {
  if (at.lowest_at.gauge < 0) return 0;
  const auto gauge = static_cast<std::size_t>(at.lowest_at.gauge);
  const bool equivalent = scene_.roles.gauges[gauge].gauge->reads == plan::GaugeReads::nitrogen_equivalent;
  return std::hypot(scene_.pressure.relative_uncertainty(gauge, at.lowest_pa),
                    equivalent ? model::gas_factor_uncertainty : 0);
}

void VacuumWatch::watch_normal(const Row& row, double t_s) {
  const double p_pa = row.pressure_pa;
  if (std::isnan(p_pa) || row.gas_mol_s > 0) return;
  if (t_s <= hour_s) {
    before_1h_s_ = t_s;
    before_1h_pa_ = p_pa;
  } else if (std::isnan(at_1h_pa_) && !std::isnan(before_1h_pa_) && t_s - before_1h_s_ < 600) {
    const double share = (hour_s - before_1h_s_) / (t_s - before_1h_s_);
    at_1h_pa_ = before_1h_pa_ + share * (p_pa - before_1h_pa_);
  }
  const auto& history = scene_.plan.chamber.history;
  if (history && history->base_pressure && std::isnan(base_s_) &&
      p_pa <= history->base_pressure->value.value())
    base_s_ = t_s;
}

VacuumWatch::Seen VacuumWatch::seen() const {
  Seen seen;
  if (zero_known_) seen.zero = zero_;
  seen.from_air = from_air_;
  const double plateau_s = seconds(plateau_from_.time, plateau_to_.time);
  seen.plateau_s = plateau_s > least_plateau_s ? plateau_s : 0;
  seen.pressure_1h_pa = at_1h_pa_;
  seen.base_s = base_s_;
  seen.base_step = base_step();
  if (from_air_ && !scene_.plan.chamber.surfaces.empty()) {
    seen.fall = fall_.inflow([&](double t_s) {
      return model::outgassing(scene_.plan.chamber, Duration::from_value(t_s)).value();
    });
  }
  return seen;
}

VacuumHealth VacuumWatch::health() const {
  VacuumHealth health;
  const int base = base_step();
  if (base >= 0 && !std::isnan(lowest_pa(base))) {
    const StepPressure& at = steps_[static_cast<std::size_t>(base)];
    const double u = base_uncertainty(at);
    health.base_pressure =
        Estimate<Pressure>{Pressure::from_value(at.lowest_pa), Pressure::from_value(u * at.lowest_pa)};
    if (zero_known_) health.time_to_base = Duration::from_value(seconds(zero_, at.lowest_at.time));
  }
  for (const Channel& channel : channels_) {
    auto law = channel.fit.result();
    if (!law || channel.negative) continue;
    law->channel = channel.name;
    law->zero = zero_;
    law->zero_is = zero_is_;
    health.pumpdowns.push_back(*law);
  }
  rises_.tell(zero_known_ ? std::optional<Instant>(zero_) : std::nullopt, health);
  health.vent = vent_ ? vent_ : vent_beyond_range();
  return health;
}

// ---------------------------------------------------------------- deviations

void VacuumWatch::tell_base(const model::Prediction& prediction, Findings& findings) const {
  const int base = base_step();
  if (base < 0) return;
  const StepPressure& at = steps_[static_cast<std::size_t>(base)];
  const plan::Step& step = *scene_.step(base);
  if (!step.end.pressure || std::isnan(at.lowest_pa)) return;
  const Unit& shown = step.end.pressure->unit;
  const double wanted_pa = step.end.pressure->value.value();
  const double u = base_uncertainty(at);
  Deviation d;
  d.step = step.name.value;
  d.channel = "chamber.pressure";
  d.start = at.first.time;
  d.end = at.last.time;
  d.line = at.first.line;
  d.unit = shown;
  d.worst = in(Pressure::from_value(at.lowest_pa), shown);
  d.limit = in(Pressure::from_value(wanted_pa), shown);
  if (film_start_ && at.lowest_pa > base_margin * wanted_pa * (1 + 2 * u)) {
    d.rule = "base-pressure-not-reached";
    d.severity = Severity::error;
    d.effect = fmt::format(
        "The film began from {} instead of {}: more water and oxygen in it than planned, which costs "
        "reflectance, not thickness.",
        brief(Pressure::from_value(at.lowest_pa), shown, 2), brief(step.end.pressure->value, shown, 2));
    d.advice = "Find out why the pumpdown was cut short; measure the reflectance of the witness.";
    findings.add(d);
    return;
  }
  if (static_cast<std::size_t>(base) >= prediction.steps.size()) return;
  const auto& planned = prediction.steps[static_cast<std::size_t>(base)].duration;
  const double took_s = seconds(at.first.time, at.lowest_at.time);
  if (!planned || !(took_s > planned->value.value() + 2 * planned->standard_uncertainty.value())) return;
  d.rule = "base-pressure-late";
  d.unit = unit("h", Kind::duration);
  d.worst = took_s / hour_s;
  d.limit = (planned->value.value() + 2 * planned->standard_uncertainty.value()) / hour_s;
  d.effect = fmt::format(
      "{} was reached after {}, where the chamber file lets {} expect: a leak, a wet load or a weak pump. No "
      "effect on the film by itself.",
      brief(Pressure::from_value(at.lowest_pa), shown, 2), duration_words(took_s),
      with_uncertainty(planned->value, 2.0 * planned->standard_uncertainty, d.unit));
  d.advice = "Take a rate of rise before the next run; two of them hours apart tell a leak from water.";
  findings.add(d);
}

void VacuumWatch::tell_leak(Findings& findings) const {
  const plan::Chamber& chamber = scene_.plan.chamber;
  const int base = base_step();
  if (!chamber.leak_limit || base < 0 || !from_air_) return;  // outgassing needs a clock from pumping start
  const auto outgassing = [&](double t_s) {
    return model::outgassing(chamber, Duration::from_value(t_s)).value();
  };
  const auto inflow = fall_.inflow(outgassing);
  if (!inflow) return;
  const double rt = constants::gas_j_per_mol_k * thermodynamic(chamber.gas_temperature.value).value();
  const double per_pa = model::high_vacuum_speed(chamber, "N2").value() / rt;
  const double limit_mol_s = chamber.leak_limit->value.value();
  if (!(inflow->least_pa * per_pa > leak_margin * limit_mol_s)) return;
  const StepPressure& at = steps_[static_cast<std::size_t>(base)];
  const Unit& shown = chamber.leak_limit->unit;
  Finding finding;
  Deviation& d = finding.deviation;
  d.rule = "slow-leak";
  d.step = scene_.step_name(base);
  d.channel = "chamber.pressure";
  d.start = at.first.time;
  if (inflow->opened_s) {
    const auto minutes = static_cast<std::int64_t>(*inflow->opened_s / 60);  // not known any better
    d.start = std::max(d.start, Instant{zero_.ns + minutes * 60'000'000'000});
  }
  d.end = at.last.time;
  d.line = inflow->opened_s ? LogLine{} : at.first.line;
  d.unit = shown;
  d.worst = flow_in(scene_, inflow->best_pa * per_pa, shown);
  d.limit = flow_in(scene_, limit_mol_s, shown);
  const std::string when =
      inflow->opened_s ? fmt::format(" from about {} after pumping start", duration_words(*inflow->opened_s))
                       : std::string{};
  d.effect = fmt::format(
      "The fall of the pressure flattens towards {}{}, which no outgassing of this vessel explains: a steady "
      "inflow of "
      "about {}, at least {}. Air in the film costs reflectance, not thickness.",
      brief(Pressure::from_value(inflow->best_pa), unit("mbar", Kind::pressure), 2), when,
      flow_words(scene_, inflow->best_pa * per_pa, shown),
      flow_words(scene_, inflow->least_pa * per_pa, shown));
  d.advice =
      "Search for the leak, shaft seal and last opened flange first, before the next run; measure the "
      "reflectance of the witness.";
  finding.covers = {"rule:base-pressure-late", "rule:base-pressure-not-reached", "rule:step-too-long"};
  finding.covers_from = at.first.time;
  finding.covers_to = d.end;
  findings.add(std::move(finding));
}

// Liquid water holds the pressure where it boils, near 20 mbar, 6 when it freezes. A dry vessel
// passes through this in a minute or two.
void VacuumWatch::watch_plateau(const Row& row) {
  const bool there = row.pressure_pa > water_low_pa && row.pressure_pa < water_high_pa;
  if (there && !on_plateau_) plateau_from_ = row;
  if (there || (on_plateau_ && row.hold)) plateau_to_ = row;  // on change, a value holds until the next
  on_plateau_ = there || (on_plateau_ && std::isnan(row.pressure_pa));
}

void VacuumWatch::tell_wet_load(Findings& findings) const {
  const double lasted_s = seconds(plateau_from_.time, plateau_to_.time);
  if (!(lasted_s > least_plateau_s)) return;
  Finding finding;
  Deviation& d = finding.deviation;
  d.rule = "wet-load";
  d.step = scene_.step_name(plateau_from_.step);
  d.channel = "chamber.pressure";
  d.start = plateau_from_.time;
  d.end = plateau_to_.time;
  d.line = plateau_from_.line;
  d.unit = unit("min", Kind::duration);
  d.worst = lasted_s / 60;
  d.limit = least_plateau_s / 60;
  d.effect = fmt::format(
      "The pressure stood between {} and {} for {}: water boiling off something wet. Expect a slow pumpdown "
      "and more water in the film, which costs reflectance.",
      brief(Pressure::from_value(water_low_pa), unit("mbar", Kind::pressure), 2),
      brief(Pressure::from_value(water_high_pa), unit("mbar", Kind::pressure), 2), duration_words(lasted_s));
  d.advice =
      "Dry the optic and its cell longer before closing; look for water left in grooves and under clips.";
  finding.covers = {"rule:step-too-long", "rule:step-ended-early", "rule:base-pressure-late",
                    "rule:slow-leak"};
  finding.covers_from = plateau_from_.time;
  const int base = base_step();
  finding.covers_to = base >= 0 ? steps_[static_cast<std::size_t>(base)].last.time : plateau_to_.time;
  findings.add(std::move(finding));
}

// A manometer's zero far from what its drift allows: taken off, so it costs nothing, but told.
void VacuumWatch::tell_zeros(Findings& findings) const {
  for (std::size_t g = 0; g < scene_.roles.gauges.size(); ++g) {
    const plan::Gauge& gauge = *scene_.roles.gauges[g].gauge;
    const VesselPressure::Zero& zero = scene_.pressure.zero(g);
    if (!gauge.zero_drift || zero.samples < 5) continue;
    const double drift_pa = gauge.zero_drift->value.value();
    if (!(std::abs(zero.mean_pa) > 2 * drift_pa)) continue;
    const Unit& pa = unit("Pa", Kind::pressure);
    Deviation d;
    d.rule = "gauge-zero";
    d.severity = Severity::note;
    d.origin = Origin::instrument;
    d.channel = gauge.name.value + ".pressure";
    d.start = d.end = start_;
    d.unit = pa;
    d.worst = zero.mean_pa;
    d.limit = 2 * drift_pa;
    d.effect = fmt::format(
        "{} shows {} where there is nothing to see. It is taken off, so the account is not touched; the "
        "plant that regulates by it is.",
        gauge.name.value, brief(Pressure::from_value(zero.mean_pa), pa, 2));
    d.advice = fmt::format("Set the zero of {} at high vacuum.", gauge.name.value);
    findings.add(std::move(d));
  }
}

void VacuumWatch::finish(const model::Prediction& prediction, Findings& findings) const {
  tell_base(prediction, findings);
  tell_leak(findings);
  tell_wet_load(findings);
  tell_zeros(findings);
}

}  // namespace vacuary::run
