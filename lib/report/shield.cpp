#include "report/shield.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace vacuary::report {
namespace {

double mm(Length length) { return length.value() * 1e3; }
double kwh(Energy energy) { return energy.value() / 3.6e6; }
std::string percent(Ratio ratio) { return fmt::format("{:.2g} %", 100 * ratio.value()); }

std::string outcome_row(const std::string& what, const trim::Outcome& outcome) {
  return fmt::format("  {:<28} {:>10} {:>8} {:>8.0f} mm {:>8.0f} mm {:>9.0f} %\n", what,
                     percent(outcome.uniformity), percent(outcome.rms), mm(outcome.thinnest_at),
                     mm(outcome.thickest_at), 100 * outcome.rate.value());
}

std::string verdict(const trim::Proposal& p) {
  if (p.reached)
    return fmt::format("The film comes out even to {}, {} is wanted.\n", percent(p.proposed.uniformity),
                       percent(p.wanted));
  std::string out = fmt::format("{} is wanted and cannot be reached; the best is {}:\n", percent(p.wanted),
                                percent(p.proposed.uniformity));
  for (const std::string& why : p.why_not) out += "  - " + why + "\n";
  return out;
}

std::string cost(const trim::Proposal& p) {
  std::string out = fmt::format(
      "\nWhat it costs\n  - film per energy {:.1f} nm/kWh at the calibration's radius, predicted; a turn "
      "lays "
      "{:.0f} % of what the present shield lets through and {:.0f} % of what would land without one\n",
      p.film_per_energy.value() * 3.6e6 * 1e9, 100 * p.proposed.rate.value(),
      100 * p.proposed.rate.value() / p.bare.rate.value());
  if (p.energy_now.value() > 0) {
    out += fmt::format(
        "  - the recipe's film takes {:.2f} kWh (now {:.2f} kWh): {:.1f} turns at the same power and speed "
        "(now "
        "{:.1f}), or as many turns at {:.2f} kW (now {:.2f} kW, the supply gives {:.0f} kW)\n",
        kwh(p.energy_needed), kwh(p.energy_now), p.turns_needed.value(), p.turns_now.value(),
        p.power_needed.value() / 1e3, p.power_now.value() / 1e3, p.power_max.value() / 1e3);
  }
  return out;
}

std::string new_name(const trim::Proposal& p) { return p.present.empty() ? "trim-new" : p.present + "-new"; }

std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\') out += '\\';
    out += byte < 0x20 || byte == 0x7F ? fmt::format("\\u{:04X}", byte) : std::string(1, c);
  }
  return out + "\"";
}

}  // namespace

const std::vector<std::string>& shield_cautions() {
  static const std::vector<std::string> all{
      "Cut sheet has sharp edges: wear gloves, deburr every edge.",
      "Degrease, rinse and bake it before it enters the clean room; no brass, zinc, cadmium or cutting oil "
      "left.",
      "Never carry it over the optic by one person; tether it and its tools.",
      "Argon collects in an open vessel: check the oxygen monitor before leaning in.",
      "Lock out and earth the cathode's supply before reaching between target and glass."};
  return all;
}

std::string shield_text(const trim::Proposal& p) {
  std::string out = fmt::format("Trim shield for '{}' over {}, {:.0f} mm above the glass\n\n",
                                printable(p.cathode), printable(p.optic), mm(p.height));
  out += fmt::format("  {:<28} {:>10} {:>8} {:>11} {:>11} {:>11}\n", "", "uniformity", "rms", "thinnest",
                     "thickest", "film a turn");
  out += outcome_row("proposed", p.proposed);
  if (!p.present.empty()) out += outcome_row("present, '" + printable(p.present) + "'", p.now);
  out += outcome_row("without a shield", p.bare);
  out += "\n" + verdict(p) + cost(p);
  out += "\nThe opening, mm\n   radius  along plate  open width  edges from the centre line\n";
  for (const trim::Edge& e : p.table) {
    out += fmt::format("  {:>7.1f} {:>12.1f} {:>11.1f}  {:>+13.2f} {:>+12.2f}\n", mm(e.radius), mm(e.along),
                       mm(e.opening), mm(e.opening) / 2, -mm(e.opening) / 2);
  }
  out += fmt::format("  straight between rows; as wide as at the ends on to {:.0f} mm and {:.0f} mm\n",
                     mm(p.inner_end), mm(p.outer_end));
  out += "\nWhat a deviation does to the uniformity\n";
  for (const trim::Tolerance& t : p.tolerances)
    out += fmt::format("  {:<40} {:>8}\n", t.what, percent(t.uniformity));
  out += "\nAssumed\n";
  for (const std::string& each : p.assumed) out += "  - " + each + "\n";
  out += "\nMind\n";
  for (const std::string& each : shield_cautions()) out += "  - " + each + "\n";
  return out +
         "  - Measure a strip through it before the optic; the calibration holds for the old shield only.\n";
}

std::string shield_csv(const trim::Proposal& p) {
  std::string out = "radius [mm],along_plate [mm],open_width [mm],edge_left [mm],edge_right [mm]\n";
  for (const trim::Edge& e : p.table) {
    out += fmt::format("{:.1f},{:.1f},{:.2f},{:.2f},{:.2f}\n", mm(e.radius), mm(e.along), mm(e.opening),
                       mm(e.opening) / 2, -mm(e.opening) / 2);
  }
  return out;
}

std::string shield_block(const trim::Proposal& p) {
  std::string out = fmt::format(
      "# Proposed for the recipe {}, revision {}. The calibration names the old shield until a strip is "
      "measured.\n"
      "[cathode.shield]\nname = {}\nheight = \"{:.1f} mm\"\nopening = [\n",
      quoted(p.recipe), quoted(p.revision), quoted(new_name(p)), mm(p.height));
  for (const trim::Edge& e : p.table)
    out += fmt::format("  {{ radius = \"{:.1f} mm\", opening = \"{:.2f} mm\" }},\n", mm(e.radius),
                       mm(e.opening));
  return out + "]\n";
}

}  // namespace vacuary::report
