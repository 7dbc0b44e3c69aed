#include "run/verdict.hpp"

#include <fmt/format.h>

#include <cmath>

namespace vacuary::run {
namespace {

void judge_film(Account& account) {
  const Film& film = account.film;
  const Unit& nm = unit("nm", Kind::length);
  if (!film.claimed) {
    account.verdict = Verdict::review;
    account.reasons.push_back("No thickness is claimed: " + film.why_not + ".");
    return;
  }
  const Length expanded = film.coverage_factor * film.mean.standard_uncertainty;
  const double off_m = film.mean.value.value() - film.wanted.value();
  const double room_m = film.tolerance.value();
  const std::string said =
      fmt::format("The mean film is {}; {} +/- {} is wanted", with_uncertainty(film.mean.value, expanded, nm),
                  brief(film.wanted, nm), brief(film.tolerance, nm));
  if (std::abs(off_m) > room_m) {
    account.verdict = Verdict::out_of_limits;
    account.reasons.push_back(said + ": outside.");
  } else if (std::abs(off_m) + expanded.value() > room_m) {
    account.verdict = Verdict::review;
    account.reasons.push_back(fmt::format(
        "{}: the value lies inside, but its interval of {:.1f} to {:.1f} nm does not, so it is not proven.",
        said, (film.mean.value - expanded).value() * 1e9, (film.mean.value + expanded).value() * 1e9));
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
    judge_uniformity(account);
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
