// A small account by hand, with one of everything that a report shows.
#pragma once

#include "run/run.hpp"

namespace vacuary::testing {

template <class Q>
Q q(double value, const char* symbol, Kind kind) {
  return of<Q>(value, unit(symbol, kind));
}

inline Instant at(const char* text) {
  Instant instant;
  if (!from_rfc3339(text, instant)) throw std::logic_error(text);
  return instant;
}

inline run::StepAccount sample_step() {
  run::StepAccount step;
  step.step = "coat";
  step.kind = plan::StepKind::sputter;
  step.found = true;
  step.start = at("2031-03-04T15:00:00Z");
  step.end = at("2031-03-04T15:12:04.250Z");
  step.planned = Estimate<Duration>{Duration::from_value(720), Duration::from_value(2)};
  step.actual = Duration::from_value(724.25);
  step.ended_by = "6 turns";
  run::Figure figure;
  figure.channel = {"cathode-supply", plan::What::power};
  figure.unit = unit("kW", Kind::power);
  figure.minimum_si = 0;
  figure.maximum_si = 15100;
  figure.mean_si = 14900;
  figure.last_si = 15000;
  figure.integral_si_s = 14900 * 724.25;
  figure.good = 724;
  figure.bad = 1;
  step.figures.push_back(figure);
  return step;
}

inline run::Deviation sample_deviation() {
  run::Deviation deviation;
  deviation.rule = "power-interruption";
  deviation.severity = Severity::error;
  deviation.step = "coat";
  deviation.channel = "cathode-supply.power";
  deviation.start = at("2031-03-04T15:04:00Z");
  deviation.end = at("2031-03-04T15:04:04Z");
  deviation.line = {912, 0};
  deviation.worst = 0.0;
  deviation.limit = 14.5;
  deviation.unit = unit("kW", Kind::power);
  deviation.integral = 58.0;
  deviation.effect = "mean 0.5 nm thinner";
  deviation.mean_change =
      Estimate<Length>{q<Length>(-0.5, "nm", Kind::length), q<Length>(0.05, "nm", Kind::length)};
  deviation.advice = "look at the <supply> & its \"log\"";
  return deviation;
}

inline run::Account sample_account() {
  run::Account account;
  account.recipe = "Practice <film> & more";
  account.revision = "7";
  account.author = "R. Calder";
  account.chamber = "Tarn Ridge coating vessel";
  account.optic = "Tarn Ridge 2.6 m primary";
  account.log_files = {"troubled.csv"};
  account.log.rows = 2000;
  account.log.start = at("2031-03-04T08:00:00Z");
  account.log.end = at("2031-03-04T17:00:00Z");
  account.log.period = Duration::from_value(1);
  account.log.count[static_cast<std::size_t>(log::Oddity::gap)] = 1;
  log::Event gap;
  gap.what = log::Oddity::gap;
  gap.line = gap.last_line = 700;
  gap.from = at("2031-03-04T12:00:00Z");
  gap.to = at("2031-03-04T12:00:40Z");
  gap.detail = "40 s without a row (logged every 1 s)";
  account.log.first.push_back(gap);
  account.steps_from = "step column";
  account.steps.push_back(sample_step());
  run::StepAccount lost;
  lost.step = "cool";
  lost.kind = plan::StepKind::hold;
  account.steps.push_back(lost);
  account.film.claimed = true;
  account.film.mean = {q<Length>(89.4321, "nm", Kind::length), q<Length>(2.41, "nm", Kind::length)};
  account.film.wanted = q<Length>(90, "nm", Kind::length);
  account.film.tolerance = q<Length>(10, "nm", Kind::length);
  account.film.budget.push_back(
      {"film per energy (calibration)", Ratio::percent(2.5), Ratio::percent(2.5), Ratio::percent(86)});
  run::FilmPart part;
  part.step = "coat";
  part.energy = {q<Energy>(2.98, "kWh", Kind::energy), q<Energy>(0.03, "kWh", Kind::energy)};
  part.thickness = account.film.mean;
  account.film.parts.push_back(part);
  account.film.assumed = {"the trim shield keeps the film as even as when it was calibrated"};
  account.deviations.push_back(sample_deviation());
  account.vacuum.base_pressure = Estimate<Pressure>{q<Pressure>(9.7e-7, "mbar", Kind::pressure),
                                                    q<Pressure>(1.0e-7, "mbar", Kind::pressure)};
  account.vacuum.time_to_base = Duration::from_value(16800);
  account.verdict = run::Verdict::review;
  account.reasons = {"power was interrupted for 4 s in step 'coat'"};
  account.safety = {"Argon displaces air."};
  return account;
}

}  // namespace vacuary::testing
