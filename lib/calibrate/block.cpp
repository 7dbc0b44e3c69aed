// The chamber file's parts that a calibration changes, as TOML.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calibrate/fit.hpp"

namespace vacuary::calibrate {
namespace {

// User text as a TOML basic string.
std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 || byte == 0x7F) {
      out += fmt::format("\\u{:04X}", byte);
    } else {
      out += c;
    }
  }
  return out + "\"";
}

// Digits down to a tenth of the uncertainty's first one.
std::string rounded(double value, double uncertainty) {
  const int decimals =
      uncertainty > 0 ? std::clamp(1 - static_cast<int>(std::floor(std::log10(uncertainty))), 0, 6) : 3;
  return fmt::format("{:.{}f}", value, decimals);
}

template <class Q>
std::string line(const char* key, const plan::Given<Q>& given) {
  return fmt::format("{} = \"{}\"\n", key, exact(given.value, given.unit));
}

std::string ratio_line(const char* key, const Estimate<Ratio>& estimate) {
  const double u = estimate.standard_uncertainty.value();
  return fmt::format("{0} = \"{1} ratio\"\n{0}_uncertainty = \"{2:.2g} ratio\"\n", key,
                     rounded(estimate.value.value(), u), u);
}

std::string shield_text(const plan::Cathode& cathode, const Calibration& calibration) {
  const Estimate<Length> opening = calibration.opening();
  std::string out = fmt::format(
      "\n# As the strip sees it: {:.1f} mm {} than the file had, everywhere.\n[cathode.shield]\nname = {}\n",
      std::abs(opening.value.value()) * 1e3, opening.value.value() < 0 ? "narrower" : "wider",
      quoted(cathode.shield.value));
  out += line("height", *cathode.shield_height);
  out += line("height_uncertainty", cathode.shield_height_uncertainty);
  out += fmt::format("opening_uncertainty = \"{:.2g} mm\"\nopening = [\n",
                     opening.standard_uncertainty.value() * 1e3);
  for (const plan::ShieldPoint& point : cathode.shield_opening) {
    const double width_mm = std::max(0.0, (point.opening.value + opening.value).value() * 1e3);
    out += fmt::format("  {{ radius = \"{}\", opening = \"{:.1f} mm\" }},\n",
                       exact(point.radius.value, point.radius.unit), width_mm);
  }
  return out + "]\n";
}

std::string calibration_text(const plan::Calibration& state, const Calibration& calibration) {
  const Estimate<ThicknessPerEnergy> kappa = calibration.film_per_energy();
  const Unit& unit = vacuary::unit("nm/kWh", Kind::thickness_per_energy);
  const double value = in(kappa.value, unit);
  const double u = in(kappa.standard_uncertainty, unit);
  std::string out = "\n[cathode.calibration]\n";
  out += fmt::format("film_per_energy = \"{} nm/kWh\"\n", rounded(value, u));
  out += fmt::format("uncertainty = \"{:.2g} %\"  # standard\n", 100 * u / value);
  out += line("radius", state.radius) + line("pressure", state.pressure) + line("voltage", state.voltage);
  out += line("voltage_band", state.voltage_band) + fmt::format("gas = {}\n", quoted(state.gas.value));
  out += fmt::format("energy_used = \"{}\"\n", brief(state.energy_used.value, state.energy_used.unit, 5));
  if (!state.shield.value.empty()) out += fmt::format("shield = {}\n", quoted(state.shield.value));
  out += fmt::format("target_serial = {}\ndate = {}\n", quoted(state.target_serial.value),
                     quoted(state.date.value));
  return out + ratio_line("diffuse_share", calibration.diffuse_share());
}

}  // namespace

std::string block_text(const plan::Plan& plan, const plan::Strip& strip, const Calibration& calibration) {
  const plan::Cathode& cathode = *plan::cathode(plan.chamber, strip.cathode.value);
  std::string out = fmt::format(
      "# Fitted to the strip {} ({}).\n# These keys go where they stand in [[cathode]] {}:\n",
      quoted(strip.name.value), quoted(strip.file.path.filename().string()), quoted(cathode.name.value));
  out += ratio_line("emission_exponent", calibration.emission_exponent());
  if (calibration.of(Parameter::opening).origin == Origin::strip && cathode.shield_height)
    out += shield_text(cathode, calibration);
  return out + calibration_text(calibration.state, calibration);
}

}  // namespace vacuary::calibrate
