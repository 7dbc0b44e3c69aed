#include "run/quality.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "model/model.hpp"
#include "physics/physics.hpp"
#include "run/estimates.hpp"

namespace vacuary::run {
namespace {

using plan::StepKind;

constexpr double lit_share = 0.9;     // of the setpoint: full power
constexpr double laying_share = 0.3;  // of the setpoint with the shutter open: a pass counts
constexpr double still_span_s = 120;  // of one span where the optic does not turn
constexpr std::size_t most_spans = 64;
constexpr double residue_settles_s = 300;     // after gas was shut off
constexpr double throttle_uncertainty = 0.1;  // of full over throttled speed for water

double seconds_of(Instant t) { return static_cast<double>(t.ns) * 1e-9; }

// The gas that most is let in of; empty: none.
std::string most_of(const plan::Chamber& chamber, const plan::Step& step) {
  if (step.gas.empty()) return {};
  const auto most = std::max_element(
      step.gas.begin(), step.gas.end(),
      [](const plan::GasFlow& a, const plan::GasFlow& b) { return a.flow.value < b.flow.value; });
  const plan::GasLine* line = plan::gas_line(chamber, most->line.value);
  return line == nullptr ? std::string{} : line->gas.value;
}

bool high_vacuum(const plan::Chamber& chamber, const plan::Step& step) {
  return std::any_of(step.pumps.begin(), step.pumps.end(), [&](const plan::GivenText& name) {
    const plan::Pump* pump = plan::pump(chamber, name.value);
    return pump != nullptr && pump->kind != plan::PumpKind::roughing;
  });
}

}  // namespace

const char* name(Met met) {
  switch (met) {
    case Met::met:
      return "met";
    case Met::not_met:
      return "not_met";
    case Met::not_decided:
      break;
  }
  return "not_decided";
}

Met at_least(const Estimate<Ratio>& measured, Ratio bound) {
  const double half = 2 * measured.standard_uncertainty.value();
  if (measured.value.value() - half >= bound.value()) return Met::met;
  return measured.value.value() + half < bound.value() ? Met::not_met : Met::not_decided;
}

QualityMeter::QualityMeter(const Scene& scene) : scene_(scene) {
  last_s_.fill(no_value);
  longest_s_.fill(0);
}

// ---------------------------------------------------------------- rows

void QualityMeter::take(const Stretch& rows) {
  use_target(rows);
  const plan::Step* step = scene_.step(rows.step());
  if (step == nullptr) return;
  residue_rows(rows, *step);
  if (step->kind == StepKind::sputter) film_rows(rows, *step);
  if (step->kind == StepKind::presputter) burn_rows(rows, *step);
  if (step->kind == StepKind::plasma_clean) glow_rows(rows, *step);
  last_film_m_ = rows.back().film_m;
}

void QualityMeter::use_target(const Stretch& rows) {
  const CathodeRoles* cathode = scene_.film.roles_in_use();
  if (cathode == nullptr) return;
  Used& used = used_[cathode];
  for (const Row& row : rows) {
    if (row.power_w > 0 && !row.gap) used.power_j += row.power_w * row.dt_s;
    if (std::isnan(row.counter_j)) continue;
    if (std::isnan(used.first_j)) used.first_j = row.counter_j;
    used.backward |= row.counter_j < used.last_j;
    used.last_j = row.counter_j;
  }
}

void QualityMeter::residue_rows(const Stretch& rows, const plan::Step& step) {
  const bool rests = step.gas.empty() && (step.kind == StepKind::pumpdown || step.kind == StepKind::hold) &&
                     high_vacuum(scene_.plan.chamber, step);
  for (const Row& row : rows) {
    no_gas_s_ = row.gas_mol_s > 0 ? 0 : no_gas_s_ + row.dt_s;
    if (!rests || std::isnan(row.pressure_pa) || !(row.gas_mol_s <= 0)) continue;
    if (!first_film_) {
      before_pa_ = row.pressure_pa;
      before_at_ = row.time;
    } else if (no_gas_s_ > residue_settles_s && std::isnan(after_pa_)) {
      after_pa_ = row.pressure_pa;
      after_at_ = row.time;
    }
  }
}

void QualityMeter::film_rows(const Stretch& rows, const plan::Step& step) {
  if (step.rotation && step.rotation->value.value() > 0)
    turn_s_ = full_turn_rad / step.rotation->value.value();
  laying_above_w_ = laying_share * (step.power ? step.power->value.value() : scene_.film.rated_w());
  for (const Row& row : rows) film_row(row);
}

void QualityMeter::film_row(const Row& row) {
  const double grown_m = row.film_m - last_film_m_;
  last_film_m_ = row.film_m;
  double moved = wrapped_rad(row.angle_rad - last_angle_rad_);
  angle_logged_ |= !std::isnan(row.angle_rad);
  last_angle_rad_ = row.angle_rad;
  if (std::isnan(moved)) moved = std::isnan(row.speed_rad_s) ? 0 : row.speed_rad_s * row.dt_s;
  angle_rad_ = std::isnan(row.angle_rad) ? angle_rad_ + moved : row.angle_rad;
  if (grown_m > 0) {
    if (!first_film_) first_film_ = row.time;
    last_film_ = row.time;
    if (row.step != laid_in_) laid_here_s_ = &laid_s_[row.step];
    laid_in_ = row.step;
    *laid_here_s_ += row.dt_s;
    span(row, std::abs(moved), grown_m);
  }
  laying_ = row.power_w * row.open > laying_above_w_;
  if (laying_ || row.gap) passes(row, moved);
}

// One span a turn. When there are too many, neighbours are put together.
void QualityMeter::span(const Row& row, double moved_rad, double grown_m) {
  const bool full =
      !spans_.empty() && (spans_.back().step != row.step || spans_.back().turned_rad >= full_turn_rad ||
                          (spans_.back().turned_rad < 0.1 && spans_.back().growing_s >= still_span_s));
  if (spans_.empty() || full) {
    if (spans_.size() == most_spans) {
      for (std::size_t i = 0; i < most_spans / 2; ++i) {
        Span a = spans_[2 * i];
        const Span& b = spans_[2 * i + 1];
        a.to = b.to;
        a.film_m += b.film_m;
        a.growing_s += b.growing_s;
        spans_[i] = a;
      }
      spans_.resize(most_spans / 2);
    }
    spans_.push_back({row.step, row.time, row.time, 0, 0, 0});
  }
  Span& here = spans_.back();
  here.to = row.time;
  here.film_m += grown_m;
  here.turned_rad += moved_rad;
  here.growing_s += row.dt_s;
}

// The places the beam has passed since the row before; a gap with film in it counts as a pass.
void QualityMeter::passes(const Row& row, double moved_rad) {
  const CathodeRoles* cathode = scene_.film.roles_in_use();
  if (cathode == nullptr || !scene_.plan.optic) return;
  if (cathode != beam_of_) {  // an integral: once for each cathode
    beam_of_ = cathode;
    beam_half_rad_ = model::beam_width(*cathode->cathode, *scene_.plan.optic).value() / 2;
  }
  const double now_s = seconds_of(row.time);
  const double reach = beam_half_rad_ + std::abs(moved_rad) / 2;
  const double middle = angle_rad_ - moved_rad / 2;
  constexpr double place_rad = full_turn_rad / static_cast<double>(places);
  const auto first = static_cast<long>(std::floor((middle - reach) / place_rad));
  const auto last = static_cast<long>(std::floor((middle + reach) / place_rad));
  const auto n = static_cast<long>(places);
  for (long p = first; p <= last && p < first + n; ++p) {
    const auto at = static_cast<std::size_t>(((p % n) + n) % n);
    if (!std::isnan(last_s_[at])) longest_s_[at] = greater(longest_s_[at], now_s - last_s_[at]);
    last_s_[at] = now_s;
  }
}

void QualityMeter::burn_rows(const Stretch& rows, const plan::Step& step) {
  const double full_w = lit_share * (step.power ? step.power->value.value() : no_value);
  for (const Row& row : rows) {
    if (!(row.power_w > full_w) || std::isnan(row.smooth_v)) continue;
    Burn& burn = burns_[row.step];
    if (!burn.any) burn.start = row.time;
    burn.any = true;
    burn.end = row.time;
    if (std::isnan(burn.first_v)) burn.first_v = row.smooth_v;
    burn.last_v = row.smooth_v;
    if (!std::isnan(row.pressure_pa)) burn.last_pa = row.pressure_pa;
    burn.burnt_s += row.dt_s;
    burn.recent.add(seconds(burn.start, row.time), row.voltage_v);
  }
}

void QualityMeter::glow_rows(const Stretch& rows, const plan::Step& step) {
  const SupplyRoles& supply = scene_.roles.glow;
  for (const Row& row : rows) {
    const double current_a = row.at(supply.current), voltage_v = row.at(supply.voltage);
    double power_w = row.at(supply.power);
    if (std::isnan(power_w)) power_w = current_a * voltage_v;
    if (!(current_a > 0) || row.gap) continue;
    Glow& glow = glows_[row.step];
    glow.charge_c += current_a * row.dt_s;
    if (power_w > 0) glow.energy_j += power_w * row.dt_s;
    glow.burnt_s += row.dt_s;
    if (voltage_v > 0) glow.voltage_v_s += voltage_v * row.dt_s;
    if (!std::isnan(row.pressure_pa)) {
      glow.pressure_pa_s += row.pressure_pa * row.dt_s;
      glow.pressure_s += row.dt_s;
    }
    glow.end = row.time;
    if (glow.gas.empty()) glow.gas = most_of(scene_.plan.chamber, step);
  }
}

// ---------------------------------------------------------------- what they say

std::optional<ResidualFound> QualityMeter::residual(const Film& film) const {
  const CathodeRoles* cathode = scene_.film.roles_in_use();
  if (cathode == nullptr || spans_.empty() || !film.claimed || !(before_pa_ > 0)) return std::nullopt;
  const plan::Chamber& chamber = scene_.plan.chamber;
  ResidualFound out;
  out.before = Pressure::from_value(before_pa_);
  if (after_pa_ > 0) out.after = Pressure::from_value(after_pa_);
  const double rt = constants::gas_j_per_mol_k * thermodynamic(chamber.gas_temperature.value).value();
  const double full = model::high_vacuum_speed(chamber, "H2O").value();
  const auto water_at = [&](Instant t, const plan::Step& step) {
    double p_pa = before_pa_;
    if (after_pa_ > 0) {
      const double share = std::clamp(seconds(before_at_, t) / seconds(before_at_, after_at_), 0.0, 1.0);
      p_pa += share * (after_pa_ - before_pa_);
    }
    return model::water_in_discharge(chamber, step, MolarFlow::from_value(p_pa * full / rt));
  };
  const auto gauge = model::gauge_uncertainty(chamber, out.before);
  const double u = std::sqrt(std::pow(gauge ? gauge->relative.value() : 0.1, 2) +
                             std::pow(model::gas_factor_uncertainty, 2) + std::pow(throttle_uncertainty, 2) +
                             std::pow(model::desorption_uncertainty, 2));
  double molecules = 0, film_m = 0, growing_s = 0;
  for (const Span& span : spans_) {
    const Pressure water = water_at(span.from, *scene_.step(span.step));
    const double lasted_s = greater(seconds(span.from, span.to), span.growing_s);
    const auto rate = DepositionRate::from_value(span.film_m / lasted_s);
    const auto gas = model::residual_gas(scene_.plan, *cathode->cathode, water, Ratio::of(u), rate);
    if (!gas) return std::nullopt;
    molecules += water.value() * lasted_s;
    film_m += span.film_m;
    growing_s += lasted_s;
    // A part of a turn says nothing of a turn.
    if (span.turned_rad > 0.9 * full_turn_rad || span.turned_rad < 0.1)
      out.spans.push_back({scene_.step_name(span.step), span.from, span.to, gas->per_turn.value});
  }
  auto whole =
      model::residual_gas(scene_.plan, *cathode->cathode, Pressure::from_value(molecules / growing_s),
                          Ratio::of(u), DepositionRate::from_value(film_m / growing_s));
  if (!whole) return std::nullopt;
  out.film = *whole;
  out.film.assumed.push_back(
      fmt::format("the pressure before the film{}, full over throttled speed by the recipe's throttle",
                  out.after ? " and after it" : ""));
  if (scene_.plan.recipe.water_per_metal_max) out.allowed = scene_.plan.recipe.water_per_metal_max->value;
  return out;
}

std::optional<Waiting> QualityMeter::waiting(const std::optional<ResidualFound>& gas) const {
  if (std::isnan(turn_s_) || !first_film_) return std::nullopt;
  const auto longest = std::max_element(longest_s_.begin(), longest_s_.end());
  if (!(*longest > 0)) return std::nullopt;
  Waiting w;
  w.usual = Duration::from_value(turn_s_);
  w.longest = Duration::from_value(*longest);
  w.angle_logged = angle_logged_;
  // The stretch of places around the worst that waited nearly as long.
  const auto at = static_cast<std::size_t>(longest - longest_s_.begin());
  std::size_t before = 0, behind = 0;
  const auto waited = [&](std::size_t p) { return longest_s_[p % places] > 0.9 * *longest; };
  while (before + 1 < places && waited(at + places - before - 1)) ++before;
  while (before + behind + 1 < places && waited(at + behind + 1)) ++behind;
  const std::size_t from = at + places - before, to = at + behind;
  constexpr double place_rad = full_turn_rad / static_cast<double>(places);
  w.from = Angle::from_value(static_cast<double>(from % places) * place_rad);
  w.to = Angle::from_value(static_cast<double>(to % places + 1) * place_rad);
  if (gas) {
    const double flux = constants::avogadro_per_mol *
                        physics::impingement(*physics::find_gas("H2O"),
                                             scene_.plan.chamber.gas_temperature.value, gas->film.water)
                            .value();
    w.usual_layers = flux * w.usual.value() / model::sites_per_m2;
    w.longest_layers = flux * w.longest.value() / model::sites_per_m2;
  }
  const double factor = *longest / turn_s_;
  const std::string where =
      w.angle_logged ? fmt::format(" between optic.angle {:.0f} and {:.0f} degrees",
                                   w.from.value() * 57.29577951308232, w.to.value() * 57.29577951308232)
                     : std::string{};
  if (factor < 1.25) {
    w.said = fmt::format("no place waited longer for its next metal ({}) than between passes anyway ({})",
                         duration_words(*longest), duration_words(turn_s_));
  } else if (factor < 2.5) {
    w.said = fmt::format(
        "places{} missed a pass: {} without metal instead of {}; they took up {:.1f} times what "
        "every place takes up between passes, no layer of another kind",
        where, duration_words(*longest), duration_words(turn_s_), factor);
  } else {
    w.said = fmt::format(
        "places{} waited {} for their next metal, {:.1f} times the usual {}: an oxide layer "
        "inside the film is likely there",
        where, duration_words(*longest), factor, duration_words(turn_s_));
  }
  return w;
}

std::vector<Conditioning> QualityMeter::conditioning() const {
  std::vector<Conditioning> out;
  for (const auto& [index, burn] : burns_) {
    const plan::Step& step = *scene_.step(index);
    const plan::Cathode* cathode =
        step.cathode ? plan::cathode(scene_.plan.chamber, step.cathode->value) : nullptr;
    if (cathode == nullptr) continue;
    const plan::Calibration& cal = cathode->calibration;
    Conditioning c;
    c.step = step.name.value;
    c.first = Voltage::from_value(burn.first_v);
    c.last = Voltage::from_value(burn.last_v);
    c.calibrated = cal.voltage.value;
    const double slope = burn.recent.slope_per_s();
    c.drift = VoltageRate::from_value(std::isnan(slope) ? 0 : slope);
    if (step.settled) c.settled = step.settled->value;
    c.burnt = Duration::from_value(burn.burnt_s);
    const double off_v = burn.last_v - cal.voltage.value.value();
    const bool still =
        step.settled ? std::abs(slope) <= 1.5 * step.settled->value.value() : std::abs(slope) < 2.0 / 60;
    const bool in_band = std::abs(off_v) <= cal.voltage_band.value.value();
    if (still && in_band) {
      c.said = "clean metal by its voltage: it stands, and where it was calibrated";
    } else if (!still && slope > 0) {
      c.said = "oxide was still coming off when it ended";
    } else if (std::abs(burn.last_pa / cal.pressure.value.value() - 1) > 0.25) {
      c.said = fmt::format("{:.0f} V from where it was calibrated, and so is the pressure ({} for {})", off_v,
                           brief(Pressure::from_value(burn.last_pa), unit("Pa", Kind::pressure), 2),
                           brief(cal.pressure.value, unit("Pa", Kind::pressure), 2));
    } else if (off_v < 0 && still) {
      c.said = fmt::format(
          "it stands {:.0f} V low and no longer rises: something oxidises the target as fast as "
          "it is sputtered, water from a weep or air from a leak",
          -off_v);
    } else {
      c.said = fmt::format("{:.0f} V from where it was calibrated", off_v);
    }
    out.push_back(std::move(c));
  }
  return out;
}

std::vector<CleanFound> QualityMeter::cleans() const {
  std::vector<CleanFound> out;
  const plan::Chamber& chamber = scene_.plan.chamber;
  for (const auto& [index, glow] : glows_) {
    const auto dose = model::clean_dose(chamber, Charge::from_value(glow.charge_c));
    if (!dose) continue;
    CleanFound c;
    c.step = scene_.step_name(index);
    c.burnt = Duration::from_value(glow.burnt_s);
    c.dose = *dose;
    c.layers = *dose / model::one_layer();
    if (glow.pressure_s > 0) {
      c.pressure = Pressure::from_value(glow.pressure_pa_s / glow.pressure_s);
      if (glow.voltage_v_s > 0)
        c.strike = model::strike(chamber, glow.gas, *c.pressure,
                                 Voltage::from_value(glow.voltage_v_s / glow.burnt_s));
    }
    if (first_film_ && *first_film_ > glow.end)
      c.to_film = Duration::from_value(seconds(glow.end, *first_film_));
    if (scene_.plan.recipe.clean_to_film_max) c.allowed = scene_.plan.recipe.clean_to_film_max->value;
    out.push_back(std::move(c));
  }
  // The film follows the last of them; the earlier ones have been followed by a clean.
  for (std::size_t i = 0; i + 1 < out.size(); ++i) out[i].to_film.reset();
  return out;
}

std::vector<Heated> QualityMeter::heated(const Film& film) const {
  std::vector<Heated> out;
  for (const auto& [index, glow] : glows_) {
    if (auto h = model::glow_heating(scene_.plan, Energy::from_value(glow.energy_j),
                                     Duration::from_value(glow.burnt_s)))
      out.push_back({scene_.step_name(index), *h});
  }
  for (const auto& [index, laid_s] : laid_s_) {
    const plan::Step& step = *scene_.step(index);
    const plan::Cathode* cathode =
        step.cathode ? plan::cathode(scene_.plan.chamber, step.cathode->value) : nullptr;
    const auto part = std::find_if(film.parts.begin(), film.parts.end(),
                                   [&](const FilmPart& p) { return p.step == step.name.value; });
    if (cathode == nullptr || part == film.parts.end()) continue;
    std::optional<Duration> turn;
    if (step.rotation) turn = Duration::from_value(full_turn_rad / step.rotation->value.value());
    if (auto h = model::film_heating(scene_.plan, *cathode, part->thickness.value,
                                     Duration::from_value(laid_s), turn))
      out.push_back({step.name.value, *h});
  }
  return out;
}

std::vector<TargetLife> QualityMeter::targets() const {
  std::vector<TargetLife> out;
  for (const auto& [roles, used] : used_) {
    if (!(used.power_j > 0)) continue;
    TargetLife life;
    life.cathode = roles->cathode->name.value;
    life.before = roles->cathode->energy_used.value;
    life.rated = roles->cathode->energy_rated.value;
    life.by_counter = !used.backward && used.last_j > used.first_j;
    life.used = Energy::from_value(life.by_counter ? used.last_j - used.first_j : used.power_j);
    out.push_back(std::move(life));
  }
  return out;
}

std::optional<model::FilmReflectance> film_reflectance(const plan::Optic& optic, const Film& film,
                                                       Length wavelength) {
  const std::optional<Estimate<Length>> mean = best_mean(film);
  if (!mean) return std::nullopt;
  const Length half = film.coverage_factor * mean->standard_uncertainty;
  auto r = model::film_reflectance(optic, mean->value, wavelength);
  if (!r) return r;
  for (const Length& edge : {Length(mean->value - half), Length(mean->value + half)}) {
    if (!(edge.value() > 0)) continue;
    const auto there = model::film_reflectance(optic, edge, wavelength);
    r->low = std::min(r->low, there->low);
    r->high = std::max(r->high, there->high);
  }
  return r;
}

std::vector<ReflectanceFound> QualityMeter::reflectance(const Film& film) const {
  std::vector<ReflectanceFound> out;
  if (!scene_.plan.optic || !film.claimed) return out;
  for (const plan::Film::Reflectance& wanted : scene_.plan.optic->film.reflectance) {
    auto r = film_reflectance(*scene_.plan.optic, film, wanted.wavelength.value);
    if (!r) continue;
    ReflectanceFound found{std::move(*r), wanted.at_least.value, Met::not_decided};
    if (found.predicted.spread_known) {
      if (found.predicted.low >= found.wanted) found.can = Met::met;
      if (found.predicted.high < found.wanted) found.can = Met::not_met;
    }
    out.push_back(std::move(found));
  }
  return out;
}

void QualityMeter::tell(const FilmQuality& q, Findings& findings) const {
  for (const CleanFound& c : q.cleans) {
    if (!c.to_film || !c.allowed || *c.to_film <= *c.allowed) continue;
    Deviation d;
    d.rule = "clean-to-film-too-long";
    d.step = c.step;
    d.start = Instant{first_film_->ns - static_cast<std::int64_t>(c.to_film->value() * 1e9)};
    d.end = *first_film_;
    d.unit = unit("h", Kind::duration);
    d.worst = in(*c.to_film, d.unit);
    d.limit = in(*c.allowed, d.unit);
    d.effect = fmt::format(
        "The film began {} after the glow went out; the recipe allows {}. The glass has taken "
        "up gas again, which costs adhesion, not thickness.",
        duration_words(c.to_film->value()), duration_words(c.allowed->value()));
    d.advice = "Test the adhesion on a witness; clean later in the pumpdown.";
    findings.add(std::move(d));
  }
  if (q.residual && q.residual->allowed) {
    const model::ResidualGas& gas = q.residual->film;
    const double surely = gas.per_turn.value.value() / gas.known_to();
    if (surely > q.residual->allowed->value()) {
      Deviation d;
      d.rule = "water-in-film";
      d.start = *first_film_;
      d.end = *last_film_;
      d.step = spans_.empty() ? std::string{} : scene_.step_name(spans_.front().step);
      d.unit = unit("ratio", Kind::ratio);
      d.worst = gas.per_turn.value.value();
      d.limit = q.residual->allowed->value();
      d.effect = fmt::format(
          "{:.2g} molecules of water per metal atom arrived, averaged over a turn (known to a "
          "factor of {:.2g}); the recipe allows {:.2g}. It costs reflectance, not thickness.",
          gas.per_turn.value.value(), gas.known_to(), q.residual->allowed->value());
      d.advice = "Measure the reflectance of the witness before accepting the film.";
      findings.add(std::move(d));
    }
  }
  for (const Heated& h : q.heated) {
    const model::Heating& heat = h.heating;
    const double allowed = scene_.plan.optic ? scene_.plan.optic->allowed_difference.value.value() : 1e9;
    if (!(heat.known_to > 0) || !(heat.difference().value() / heat.known_to > allowed)) continue;
    Deviation d;
    d.rule = "glass-heated";
    d.step = h.step;
    d.start = first_film_.value_or(Instant{});
    d.end = last_film_.value_or(d.start);
    d.unit = scene_.plan.optic->allowed_difference.unit;
    d.worst = in(heat.difference(), d.unit);
    d.limit = in(scene_.plan.optic->allowed_difference.value, d.unit);
    d.effect = fmt::format(
        "The face of the glass became {:.2g} K warmer than its back, known to a factor of {:.2g}.",
        heat.difference().value(), heat.known_to);
    d.advice =
        "Let the optic come to rest and look for damage before it is moved; spread the film over more time.";
    findings.add(std::move(d));
  }
  for (const TargetLife& t : q.targets) {
    if (!(t.before + t.used > t.rated)) continue;
    Deviation d;
    d.rule = "target-worn-out";
    d.channel = t.cathode;
    d.start = first_film_.value_or(Instant{});
    d.end = last_film_.value_or(d.start);
    d.unit = unit("kWh", Kind::energy);
    d.worst = in(Energy(t.before + t.used), d.unit);
    d.limit = in(t.rated, d.unit);
    d.effect =
        "The target has given more energy than it is good for: film per energy is no longer known, and the "
        "backing plate may be near.";
    d.advice = "Change the target before the next run.";
    findings.add(std::move(d));
  }
}

FilmQuality QualityMeter::finish(const Film& film, Findings& findings) const {
  FilmQuality q;
  q.conditioning = conditioning();
  q.cleans = cleans();
  q.residual = residual(film);
  q.waiting = waiting(q.residual);
  q.heated = heated(film);
  q.targets = targets();
  q.reflectance = reflectance(film);
  tell(q, findings);
  return q;
}

}  // namespace vacuary::run
