// What was measured on the film, held against the account.
#include <cmath>

#include "run/estimates.hpp"
#include "run/quality.hpp"
#include "run/roles.hpp"
#include "run/verdict.hpp"

namespace vacuary::run {
namespace {

constexpr double same_wavelength_m = 0.5e-9;

ReflectanceMeasured held(const plan::Plan& plan, const plan::MeasuredReflectance& measured,
                         const std::string& date, const Film& film) {
  ReflectanceMeasured out;
  out.wavelength = measured.wavelength.value;
  out.value = {measured.value.value, measured.uncertainty.value};
  if (measured.place) out.place = measured.place->value;
  out.date = date;
  if (!plan.optic) return out;
  for (const plan::Film::Reflectance& wanted : plan.optic->film.reflectance) {
    if (std::abs((wanted.wavelength.value - out.wavelength).value()) > same_wavelength_m) continue;
    out.wanted = wanted.at_least.value;
    out.met = at_least(out.value, wanted.at_least.value);
  }
  out.predicted = film_reflectance(*plan.optic, film, out.wavelength);
  if (out.predicted && out.predicted->spread_known) out.as_clean = at_least(out.value, out.predicted->low);
  return out;
}

}  // namespace

void hold_against(const plan::Plan& plan, const std::vector<plan::Measured>& measured, Account& account) {
  bring_together(plan, account.quality.targets, measured, account.film);
  account.measured_by.clear();
  account.quality.measured.clear();
  account.tape.clear();
  for (const plan::Measured& sheet : measured) {
    account.measured_by.push_back({sheet.date.value, sheet.by.value, sheet.instrument.value});
    for (const plan::MeasuredReflectance& one : sheet.reflectance)
      account.quality.measured.push_back(held(plan, one, sheet.date.value, account.film));
    for (const plan::MeasuredTape& one : sheet.tape)
      account.tape.push_back(
          {one.result == plan::TapeResult::passed, one.place ? one.place->value : std::string{}});
  }
  decide(account, lays_film(plan));
}

}  // namespace vacuary::run
