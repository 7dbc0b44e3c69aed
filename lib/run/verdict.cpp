#include "run/verdict.hpp"

#include <fmt/format.h>

#include <cmath>

#include "run/estimates.hpp"

namespace vacuary::run {
namespace {

// Estimates that do not agree need a person, whatever their mean.
void judge_estimates(Account& account) {
  const std::optional<ThicknessEstimates>& estimates = account.film.estimates;
  if (!estimates || estimates->consistent) return;
  if (account.verdict == Verdict::within_limits) account.verdict = Verdict::review;
  account.reasons.push_back("The estimates of the film: " + estimates->said);
}

void judge_film(Account& account) {
  const Film& film = account.film;
  const Unit& nm = unit("nm", Kind::length);
  const std::optional<Estimate<Length>> mean = best_mean(film);
  if (!film.claimed) {
    account.verdict = Verdict::review;
    account.reasons.push_back(
        fmt::format("No thickness is claimed{}: {}.", mean ? " by energy" : "", film.why_not));
  }
  if (!mean) return;
  const bool several = film.estimates && film.estimates->measured && film.estimates->each.size() > 1;
  const Length expanded = film.coverage_factor * mean->standard_uncertainty;
  const double off_m = mean->value.value() - film.wanted.value();
  const double room_m = film.tolerance.value();
  const std::string said =
      fmt::format("The mean film is {}{}; {} +/- {} is wanted", with_uncertainty(mean->value, expanded, nm),
                  several ? fmt::format(" by {} estimates", film.estimates->each.size()) : "",
                  brief(film.wanted, nm), brief(film.tolerance, nm));
  if (std::abs(off_m) > room_m) {
    account.verdict = Verdict::out_of_limits;
    account.reasons.push_back(said + ": outside.");
  } else if (std::abs(off_m) + expanded.value() > room_m) {
    account.verdict = Verdict::review;
    account.reasons.push_back(fmt::format(
        "{}: the value lies inside, but its interval of {:.1f} to {:.1f} nm does not, so it is not proven.",
        said, (mean->value - expanded).value() * 1e9, (mean->value + expanded).value() * 1e9));
  } else {
    account.reasons.push_back(said + ": value and interval lie inside.");
  }
}

// The film may be right on the mean and wrong in a place.
void judge_uniformity(Account& account) {
  const std::optional<OnOptic>& film = account.film.on_optic;
  if (!film || !film->uniformity_wanted) return;
  const model::Spread<Ratio>& pv = film->map.peak_to_valley;
  const double wanted = film->uniformity_wanted->value();
  const std::string said =
      fmt::format("The film is uneven by {:.1f} % (95 %: {:.1f} to {:.1f} %); at most {:.3g} % is wanted",
                  100 * pv.value.value(), 100 * pv.low.value(), 100 * pv.high.value(), 100 * wanted);
  if (pv.low.value() > wanted) {
    account.verdict = Verdict::out_of_limits;
    account.reasons.push_back(said + ": outside.");
  } else if (pv.high.value() > wanted) {
    if (account.verdict == Verdict::within_limits) account.verdict = Verdict::review;
    account.reasons.push_back(said + ": not proven.");
  } else {
    account.reasons.push_back(said + ": inside.");
  }
}

void judge_measured(Account& account) {
  for (const ReflectanceMeasured& r : account.quality.measured) {
    if (!r.wanted) continue;
    if (r.met == Met::not_met) account.verdict = Verdict::out_of_limits;
    if (r.met == Met::not_decided && account.verdict == Verdict::within_limits)
      account.verdict = Verdict::review;
    const char* met = r.met == Met::met       ? "met"
                      : r.met == Met::not_met ? "not met"
                                              : "not decided, the bound lies inside the interval";
    account.reasons.push_back(fmt::format(
        "Reflectance at {:.0f} nm{}: {:.2f} % +/- {:.2f} % measured; at least {:.3g} % is wanted: {}.",
        r.wavelength.value() * 1e9, r.place.empty() ? "" : ", " + r.place, 100 * r.value.value.value(),
        200 * r.value.standard_uncertainty.value(), 100 * r.wanted->value(), met));
  }
  for (const TapeFound& tape : account.tape) {
    if (tape.passed) continue;
    account.verdict = Verdict::out_of_limits;
    account.reasons.push_back(
        fmt::format("Tape took the film off{}.", tape.place.empty() ? "" : ": " + tape.place));
  }
}

std::string first_sentence(const std::string& text) {
  const std::size_t end = text.find(". ");
  return end == std::string::npos ? text : text.substr(0, end + 1);
}

}  // namespace

void decide(Account& account, bool lays_film) {
  account.verdict = Verdict::within_limits;
  account.reasons.clear();
  if (lays_film) {
    judge_film(account);
    judge_estimates(account);
    judge_uniformity(account);
    judge_measured(account);
  }
  for (const Deviation& d : account.deviations) {
    if (d.severity == Severity::note) continue;
    if (d.severity == Severity::error) account.verdict = Verdict::out_of_limits;
    if (account.verdict == Verdict::within_limits) account.verdict = Verdict::review;
    std::string where = d.step.empty() ? d.channel : fmt::format("step '{}'", d.step);
    if (!d.channel.empty() && !d.step.empty()) where += ", " + d.channel;
    account.reasons.push_back(
        fmt::format("{}{}{}: {}", d.rule, where.empty() ? "" : " in ", where, first_sentence(d.effect)));
  }
  if (account.reasons.empty()) account.reasons.emplace_back("Nothing in the log asks for a look.");
}

}  // namespace vacuary::run
