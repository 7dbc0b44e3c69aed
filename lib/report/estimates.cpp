// Several estimates of one film, and what was measured of it, in words.
#include <fmt/format.h>

#include "report/words.hpp"

namespace vacuary::report {
namespace {

std::string met_words(run::Met met) {
  switch (met) {
    case run::Met::met:
      return "met";
    case run::Met::not_met:
      return "not met";
    case run::Met::not_decided:
      break;
  }
  return "not decided (the bound lies inside the interval)";
}

std::string reflectance_line(const run::ReflectanceMeasured& r) {
  const Unit& percent_unit = unit("%", Kind::ratio);
  std::string line = fmt::format(
      "reflectance {} at {}{}, {}", with_uncertainty(r.value.value, expanded(r.value), percent_unit),
      brief(r.wavelength, unit("nm", Kind::length)), r.place.empty() ? "" : ", " + r.place, r.date);
  if (r.wanted) line += fmt::format("; at least {} is wanted: {}", percent(*r.wanted, 3), met_words(r.met));
  if (!r.predicted) return line;
  const char* clean = r.as_clean == run::Met::met ? "it has that"
                      : r.as_clean == run::Met::not_met
                          ? "it has less: look for oxide, gas in the film, roughness, or a film not opaque"
                          : "whether it has that the measurement does not decide";
  line += "; a clean film this thick has " + reflectance_words(*r.predicted) + ": " + clean;
  return line;
}

}  // namespace

Table estimate_table(const run::ThicknessEstimates& estimates) {
  const Unit& nm = unit("nm", Kind::length);
  Table table({"estimate", "mean over the clear area", "weight", "off the mean of all"},
              {false, true, true, true});
  for (const run::ThicknessEstimate& one : estimates.each) {
    const double off = in(one.held.difference, nm), u = 2 * in(one.held.difference_uncertainty, nm);
    table.add({one.held.name, with_uncertainty(one.mean.value, expanded(one.mean), nm),
               percent(one.held.weight),
               fmt::format("{:+.1f} nm +/- {:.1f}{}", off, u, one.held.agrees ? "" : ", too far")});
  }
  return table;
}

std::vector<std::string> estimate_sentences(const run::Film& film) {
  std::vector<std::string> out;
  const Unit& nm = unit("nm", Kind::length);
  if (film.estimates) {
    out.push_back(fmt::format(
        "all together {} (k = 2). {}{}",
        with_uncertainty(film.estimates->mean.value, expanded(film.estimates->mean), nm),
        film.estimates->said,
        film.estimates->measured ? " The verdict goes by that mean; the map is drawn by energy."
                                 : " Nothing was measured, so the verdict goes by the energy alone."));
  }
  if (film.estimates) {
    for (const run::ThicknessEstimate& one : film.estimates->each)
      out.push_back(fmt::format("{}: {}", one.held.name, one.how));
  }
  for (const run::CrystalFilm& crystal : film.crystals) {
    if (!crystal.why_not.empty())
      out.push_back(fmt::format("crystal '{}' says nothing: {}", crystal.crystal, crystal.why_not));
  }
  return out;
}

std::vector<std::string> measured_sentences(const run::Account& account) {
  std::vector<std::string> out;
  for (const run::MeasuredBy& m : account.measured_by)
    out.push_back(fmt::format("by {} on {} with {}", m.by, m.date, m.instrument));
  for (const run::ReflectanceMeasured& r : account.quality.measured) out.push_back(reflectance_line(r));
  for (const run::TapeFound& t : account.tape)
    out.push_back(fmt::format("tape {}{}", t.passed ? "left the film on" : "took film off",
                              t.place.empty() ? "" : ", " + t.place));
  return out;
}

}  // namespace vacuary::report
