// Vacuum and quality of a film in words, the same in text and HTML.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/words.hpp"

namespace vacuary::report {
namespace {

std::string range_words(const run::PowerLaw& law) {
  return fmt::format("between {} and {} after {}", words(law.from), words(law.to), law.zero_is);
}

std::string flow_text(MolarFlow flow) {
  const Unit& shown = unit("mbar L/s", Kind::flow);
  // Throughput at 20 degC, the unit leaks are spoken of in.
  const Throughput pv = throughput(flow, Temperature::from_value(293.15));
  return fmt::format("{:.2g} {}", 10 * pv.pa_m3_per_s(), shown.symbol);
}

std::string kelvin(TemperatureDifference t) { return fmt::format("{:.2g} K", t.value()); }

std::string rise_words(const run::RateOfRise& rise) {
  const Unit& rate = unit("Pa/s", Kind::pressure_rate);
  std::string out = fmt::format("{}: {}; {}", rise.step,
                                with_uncertainty(rise.rate.value, expanded(rise.rate), rate), rise.reading);
  if (rise.shape != "accelerates") out += fmt::format(" (leak at most {}, 95 %)", flow_text(rise.leak_bound));
  return out;
}

void add_residual(const run::FilmQuality& quality, std::vector<std::string>& out) {
  if (!quality.residual) return;
  const run::ResidualFound& r = *quality.residual;
  std::string line = fmt::format(
      "water against metal: {:.2g} molecules per atom over a turn, {:.2g} in the beam, known to a factor of "
      "{:.2g}",
      r.film.per_turn.value.value(), r.film.in_beam.value.value(), r.film.known_to());
  if (!r.spans.empty()) {
    const auto [least, most] = std::minmax_element(
        r.spans.begin(), r.spans.end(), [](const auto& a, const auto& b) { return a.per_turn < b.per_turn; });
    line +=
        fmt::format("; turn by turn from {:.2g} to {:.2g}", least->per_turn.value(), most->per_turn.value());
  }
  if (r.allowed) line += fmt::format("; the recipe allows {:.2g}", r.allowed->value());
  out.push_back(std::move(line));
}

void add_clean(const run::CleanFound& c, std::vector<std::string>& out) {
  std::string line =
      fmt::format("clean '{}': {} of glow, at most {:.2g} C/m2 ({:.2g} charges per molecule of one layer)",
                  c.step, words(c.burnt), c.dose.value(), c.layers);
  const Unit& pa = unit("Pa", Kind::pressure);
  if (c.pressure) line += fmt::format(" at {}", brief(*c.pressure, pa, 2));
  if (c.strike && c.strike->lowest && c.strike->highest) {
    line += fmt::format("; its voltage strikes a clean electrode from {} to {} of {}",
                        brief(*c.strike->lowest, pa, 2), brief(*c.strike->highest, pa, 2), c.strike->gas);
  }
  out.push_back(std::move(line));
  if (!c.to_film) return;
  out.push_back(fmt::format("from clean to film {}{}", words(*c.to_film),
                            c.allowed ? fmt::format(", {} allowed", words(*c.allowed)) : ""));
}

void add_conditioning(const run::Conditioning& c, std::vector<std::string>& out) {
  const Unit& volt = unit("V", Kind::voltage);
  out.push_back(fmt::format("target in '{}': {} to {} in {}, moving {:.2g} V/min at the end; {}", c.step,
                            brief(c.first, volt, 4), brief(c.last, volt, 4), words(c.burnt),
                            60 * c.drift.value(), c.said));
}

}  // namespace

std::string heating_words(const model::Heating& h) {
  std::string out = fmt::format("front {}, back {} warmer{}", kelvin(h.front), kelvin(h.back),
                                h.known_to > 0 ? fmt::format(" (known to a factor of {:.2g})", h.known_to)
                                               : std::string(" (upper bounds)"));
  if (h.pass.value() > 0) out += fmt::format(", the surface {} more at the end of each pass", kelvin(h.pass));
  return out + fmt::format("; {:.2g} kJ/m2, gone {} deep", h.heat.value() / 1e3,
                           brief(h.depth, unit("mm", Kind::length), 2));
}

std::string reflectance_words(const model::FilmReflectance& r) {
  const Unit& nm = unit("nm", Kind::length);
  std::string out = fmt::format("{:.1f} to {:.1f} % at {} by {} published source{}", 100 * r.low.value(),
                                100 * r.high.value(), brief(r.wavelength, nm), r.sources.size(),
                                r.sources.size() == 1 ? "" : "s");
  if (r.opaque_from) out += fmt::format(" (opaque from {} on)", brief(*r.opaque_from, nm));
  if (r.scattered.value() > 0) out += fmt::format(", {} scattered", percent(r.scattered));
  return out;
}

std::vector<std::string> vacuum_sentences(const run::VacuumHealth& vacuum) {
  const Unit& mbar = unit("mbar", Kind::pressure);
  std::vector<std::string> out;
  if (vacuum.base_pressure) {
    std::string line =
        fmt::format("base pressure before the film {}",
                    with_uncertainty(vacuum.base_pressure->value, expanded(*vacuum.base_pressure), mbar));
    if (vacuum.time_to_base) line += fmt::format(", reached after {}", words(*vacuum.time_to_base));
    out.push_back(line);
  }
  if (vacuum.walls) {
    const run::WallLoad& w = *vacuum.walls;
    std::string line = fmt::format(
        "walls give off {} at 1 h, {:.2g} +/- {:.2g} times what the chamber file says, falling as t^-{:.2f}",
        flow_text(w.at_1h.value), w.over_plan.value.value(), 2 * w.over_plan.standard_uncertainty.value(),
        w.exponent.value());
    if (w.floor.value() > 0) {
      line += fmt::format("; what does not fall is {}, of which outgassing leaves {} unexplained",
                          brief(w.floor, mbar, 2), brief(w.floor_at_least, mbar, 2));
    }
    out.push_back(std::move(line));
  }
  for (const run::PowerLaw& law : vacuum.pumpdowns) {
    out.push_back(fmt::format("{} falls as t^{:.3f} (+/- {:.3f}, k = 2) {}, zero at {}, {} samples",
                              law.channel, law.exponent.value.value(),
                              2 * law.exponent.standard_uncertainty.value(), range_words(law),
                              words(law.zero), law.samples));
  }
  for (const run::RateOfRise& rise : vacuum.rises) out.push_back(rise_words(rise));
  if (vacuum.rises_together) {
    const run::RisesTogether& both = *vacuum.rises_together;
    out.push_back(
        fmt::format("'{}' and '{}' together: {}; a leak is at most {} (95 %)", both.first, both.second,
                    both.origin == "cannot tell" ? "they cannot tell a leak from walls"
                                                 : "most of the second rise is from the " + both.origin,
                    flow_text(both.leak_at_most)));
  }
  return out;
}

Table normal_table(const run::VacuumHealth& vacuum) {
  Table table({"what", "found", "normal", "found over normal", "normal is from"},
              {false, true, true, true, false});
  for (const run::Comparison& c : vacuum.against_normal) {
    table.add({c.what, c.found, c.normal,
               fmt::format("{:.2f} +/- {:.2f}{}", c.ratio.value.value(),
                           2 * c.ratio.standard_uncertainty.value(), c.unusual ? ", unusual" : ""),
               c.from_history ? "chamber's history" : "chamber file's prediction"});
  }
  return table;
}

VerdictWords words(const run::HealthVerdict& verdict) {
  return {fmt::format("{}: {}", words(verdict.what), verdict.said), verdict.evidence, verdict.advice};
}

std::vector<std::string> quality_sentences(const run::FilmQuality& q) {
  std::vector<std::string> out;
  for (const run::Conditioning& c : q.conditioning) add_conditioning(c, out);
  for (const run::CleanFound& c : q.cleans) add_clean(c, out);
  add_residual(q, out);
  if (q.waiting) {
    std::string line = q.waiting->said;
    if (q.waiting->longest_layers > 0)
      line += fmt::format(" (water for {:.0f} layers in {} and {:.0f} in {}, if all of it stuck)",
                          q.waiting->usual_layers, words(q.waiting->usual), q.waiting->longest_layers,
                          words(q.waiting->longest));
    out.push_back(std::move(line));
  }
  for (const run::Heated& h : q.heated)
    out.push_back(fmt::format("glass in '{}': {}", h.step, heating_words(h.heating)));
  const Unit& kwh = unit("kWh", Kind::energy);
  for (const run::TargetLife& t : q.targets) {
    out.push_back(fmt::format("target of '{}': {} used in this run ({}), {} in all, {:.0f} % of the rated {}",
                              t.cathode, brief(t.used, kwh, 3),
                              t.by_counter ? "supply's counter" : "integral of the power",
                              brief(Energy(t.before + t.used), kwh, 4),
                              100 * (t.before + t.used).value() / t.rated.value(), brief(t.rated, kwh, 4)));
  }
  for (const run::ReflectanceFound& r : q.reflectance) {
    const char* can = r.can == run::Met::met       ? "every such film has it, if it is clean"
                      : r.can == run::Met::not_met ? "no such film has it"
                                                   : "not decided by constants";
    out.push_back(
        fmt::format("reflectance such a film can have: {}; at least {} is wanted: {}; only a measurement "
                    "proves it",
                    reflectance_words(r.predicted), percent(r.wanted, 3), can));
  }
  return out;
}

std::vector<std::string> quality_assumptions(const run::FilmQuality& q) {
  std::vector<std::string> out;
  const auto add = [&](const std::string& clause) {
    if (std::find(out.begin(), out.end(), clause) == out.end()) out.push_back(clause);
  };
  if (q.residual) {
    for (const std::string& clause : q.residual->film.assumed) add(clause);
  }
  if (!q.cleans.empty())
    add("clean: all of the current spread evenly over all surfaces, so its dose is an upper bound; no etched "
        "depth follows from it");
  for (const run::Heated& h : q.heated) add("heat: " + h.heating.from + ", none lost by radiation");
  for (const run::ReflectanceFound& r : q.reflectance) {
    for (const std::string& clause : r.predicted.assumed) add("reflectance: " + clause);
  }
  return out;
}

}  // namespace vacuary::report
