#include "report/calibration.hpp"

#include <fmt/format.h>

#include <cmath>

namespace vacuary::report {
namespace {

using calibrate::Calibration;
using calibrate::Fitted;
using calibrate::Origin;
using calibrate::Parameter;
using calibrate::parameter_count;

struct Shown {
  const char* unit;
  double factor;  // from the Fitted's SI to it
};
Shown shown(std::size_t parameter) {
  switch (static_cast<Parameter>(parameter)) {
    case Parameter::film_per_energy:
      return {"nm/kWh", 3.6e15};
    case Parameter::opening:
      return {"mm", 1e3};
    case Parameter::emission_exponent:
    case Parameter::diffuse_share:
      break;
  }
  return {"", 1};
}

// Value +/- U (k = 2), rounded to U.
std::string estimate(std::size_t parameter, double value, double uncertainty) {
  const Shown in = shown(parameter);
  const double expanded = 2 * in.factor * uncertainty;
  const int decimals = expanded > 0 ? std::max(0, 1 - static_cast<int>(std::floor(std::log10(expanded)))) : 3;
  double rounded = in.factor * value;
  if (std::abs(rounded) < 0.5 * std::pow(10.0, -decimals)) rounded = 0;  // no "-0.00"
  return fmt::format("{:.{}f} +/- {:.{}f}{}{}", rounded, decimals, expanded, decimals,
                     in.unit[0] != '\0' ? " " : "", in.unit);
}

std::string expanded(std::size_t parameter, double uncertainty) {
  const Shown in = shown(parameter);
  return fmt::format("{:.2g}{}{}", 2 * in.factor * uncertainty, in.unit[0] != '\0' ? " " : "", in.unit);
}

const char* origin(Origin origin) {
  switch (origin) {
    case Origin::strip:
      return "the strip";
    case Origin::chamber_file:
      return "the chamber file";
    case Origin::bound:
      break;
  }
  return "its bound";
}

std::string name(std::size_t parameter) { return calibrate::name(static_cast<Parameter>(parameter)); }

std::string parameters(const Calibration& c) {
  std::string out = fmt::format("  {:<34} {:>24} {:>24} {:>18}\n", "", "now (k = 2)", "chamber file", "from");
  for (std::size_t j = 0; j < parameter_count; ++j) {
    const Fitted& p = c.parameters[j];
    out += fmt::format("  {:<34} {:>24} {:>24} {:>18}\n", name(j), estimate(j, p.value, p.uncertainty),
                       estimate(j, p.file_value, p.file_uncertainty), origin(p.origin));
  }
  return out;
}

std::string told(const Calibration& c) {
  std::string out = "\nHow well this strip tells each (all four free)\n";
  for (std::size_t j = 0; j < parameter_count; ++j)
    out += fmt::format("  {:<34} +/- {}\n", name(j), expanded(j, c.parameters[j].strip_uncertainty));
  for (const calibrate::PairTold& pair : c.not_told_apart) {
    out += fmt::format(
        "  {} and {} are hardly told apart (correlation {:+.2f}): only together are they known well\n",
        calibrate::name(pair.a), calibrate::name(pair.b), pair.correlation);
  }
  out += "\nHow well with one strip more (all four free, k = 2)\n";
  for (const calibrate::NextStrip& next : c.next) {
    out += fmt::format("  {}\n     ", next.what);
    for (std::size_t j = 0; j < parameter_count; ++j)
      out += fmt::format("{} {}{}", name(j), expanded(j, next.uncertainty[j]),
                         j + 1 < parameter_count ? "; " : "\n");
  }
  return out;
}

std::string budget(const Calibration& c) {
  std::string out = fmt::format("\nShares of the variance\n  {:<52} {:>9} {:>9} {:>9} {:>9}\n", "", "film",
                                "exponent", "share", "opening");
  for (const calibrate::Share& share : c.budget) {
    double most = 0;
    for (const double s : share.share) most = std::max(most, s);
    if (most < 0.005) continue;
    out += fmt::format("  {:<52}", printable(share.source));
    for (const double s : share.share) out += fmt::format(" {:>7.0f} %", 100 * s);
    out += "\n";
  }
  return out;
}

std::string points(const Calibration& c) {
  std::string out = "\nPoints\n  exposure   radius     measured      fitted   off by\n";
  for (const calibrate::PointFit& p : c.points) {
    out += fmt::format("  {:>8} {:>5.0f} mm {:>9.2f} nm {:>8.2f} nm {:>+6.1f} u\n", p.exposure + 1,
                       p.radius.value() * 1e3, p.measured.value() * 1e9, p.fitted.value() * 1e9, p.residual);
  }
  return out;
}

}  // namespace

std::string calibration_text(const Calibration& c) {
  std::string out =
      fmt::format("Calibration of '{}' by the strip '{}'\n\n", printable(c.cathode), printable(c.strip));
  out += parameters(c);
  out += fmt::format(
      "\n  chi squared {:.1f}, about {} expected; as much or more by chance in {:.2g} % of strips\n",
      c.chi_squared, c.degrees_of_freedom, 100 * c.probability);
  out += told(c) + budget(c) + points(c) + "\nAssumed\n";
  for (const std::string& each : c.assumed) out += "  - " + each + "\n";
  return out;
}

}  // namespace vacuary::report
