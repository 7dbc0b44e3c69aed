// The film on the optic, in words and as a picture.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "report/report.hpp"
#include "report/words.hpp"

namespace vacuary::report {
namespace {

constexpr double pi = 3.14159265358979323846;

double nm(Length length) { return length.value() * 1e9; }
double degrees(Angle angle) { return angle.value() * 180 / pi; }

std::string place(const model::FilmExtreme& extreme) {
  return fmt::format("{:.1f} nm (95 %: {:.1f} to {:.1f}) at radius {:.2f} m, {:.0f} degrees",
                     nm(extreme.thickness.value), nm(extreme.thickness.low), nm(extreme.thickness.high),
                     extreme.radius.value(), degrees(extreme.angle));
}

std::string uniformity(const run::OnOptic& film) {
  const auto& pv = film.map.peak_to_valley;
  std::string text = fmt::format("{} (95 %: {} to {}) by (max - min)/(max + min); rms {}", percent(pv.value),
                                 percent(pv.low), percent(pv.high), percent(film.map.rms));
  if (film.uniformity_wanted) text += fmt::format("; at most {} is wanted", percent(*film.uniformity_wanted));
  return text;
}

std::string mass(const run::MassBalance& m) {
  const Unit& g = unit("g", Kind::mass);
  return fmt::format(
      "{} on the optic at {:.0f} kg/m3; the target lost about {} by its sputter yield, so {} arrived; "
      "geometry, "
      "shield and gas let {} through, and that comparison is good to about 35 %",
      brief(m.on_optic.value, g, 3), m.density.value(), brief(m.from_target.value, g, 2), percent(m.share, 2),
      percent(m.expected, 2));
}

// A sequential scale from dark to light that grows evenly in lightness, so that it also reads in grey.
struct Colour {
  double r, g, b;
};
std::string colour(double share) {
  static constexpr std::array<Colour, 5> scale = {
      {{32, 28, 74}, {42, 84, 128}, {52, 138, 138}, {133, 189, 116}, {244, 233, 134}}};
  const double at = std::clamp(share, 0.0, 1.0) * (scale.size() - 1);
  const auto low = std::min(static_cast<std::size_t>(at), scale.size() - 2);
  const double rest = at - static_cast<double>(low);
  const auto mix = [&](double Colour::*c) {
    return std::lround(scale[low].*c + rest * (scale[low + 1].*c - scale[low].*c));
  };
  return fmt::format("#{:02x}{:02x}{:02x}", mix(&Colour::r), mix(&Colour::g), mix(&Colour::b));
}

// Angle 0 at the top; counterclockwise to the left.
struct Polar {
  double centre, scale;
  bool clockwise;
  [[nodiscard]] std::string point(double radius_m, double angle_rad) const {
    const double side = clockwise ? 1 : -1;
    return fmt::format("{:.1f},{:.1f}", centre + side * scale * radius_m * std::sin(angle_rad),
                       centre - scale * radius_m * std::cos(angle_rad));
  }
};

std::string cell(const Polar& polar, double r0, double r1, double a0, double a1) {
  const double middle = (a0 + a1) / 2;
  return fmt::format("M{} L{} Q{} {} L{} Q{} {}Z", polar.point(r0, a0), polar.point(r1, a0),
                     polar.point(r1 / std::cos((a1 - a0) / 2), middle), polar.point(r1, a1),
                     polar.point(r0, a1), polar.point(r0 / std::cos((a1 - a0) / 2), middle),
                     polar.point(r0, a0));
}

double mean_over(const model::FilmMap& map, std::size_t i0, std::size_t i1, std::size_t j0, std::size_t j1) {
  double sum = 0;
  for (std::size_t i = i0; i < i1; ++i) {
    for (std::size_t j = j0; j < j1; ++j) sum += map.thickness_m[i * map.angles + j];
  }
  return sum / static_cast<double>((i1 - i0) * (j1 - j0));
}

std::string cells(const model::FilmMap& map, const Polar& polar, double low_m, double high_m) {
  const std::size_t rings = std::min<std::size_t>(14, map.radii),
                    sides = std::min<std::size_t>(90, map.angles);
  const double width = map.radii > 1 ? map.radius_m[1] - map.radius_m[0] : 0;
  std::string out;
  for (std::size_t i = 0; i < rings; ++i) {
    const std::size_t i0 = i * map.radii / rings, i1 = (i + 1) * map.radii / rings;
    const double r0 = map.radius_m[i0] - width / 2, r1 = map.radius_m[i1 - 1] + width / 2;
    for (std::size_t j = 0; j < sides; ++j) {
      const std::size_t j0 = j * map.angles / sides, j1 = (j + 1) * map.angles / sides;
      const double film = mean_over(map, i0, i1, j0, j1);
      const double a0 = 2 * pi * static_cast<double>(j) / static_cast<double>(sides);
      const double a1 = 2 * pi * static_cast<double>(j + 1) / static_cast<double>(sides);
      out += fmt::format(
          "<path d=\"{}\" fill=\"{}\"><title>{:.1f} nm at {:.2f} m, {:.0f} degrees</title></path>\n",
          cell(polar, r0, r1, a0, a1), colour((film - low_m) / (high_m - low_m)), film * 1e9, (r0 + r1) / 2,
          (a0 + a1) / 2 * 180 / pi);
    }
  }
  return out;
}

std::string legend(double low_m, double high_m) {
  std::string out;
  constexpr int steps = 24;
  for (int i = 0; i < steps; ++i) {
    out += fmt::format("<rect x=\"478\" y=\"{:.1f}\" width=\"18\" height=\"11\" fill=\"{}\"/>\n",
                       100 + 10.0 * (steps - 1 - i), colour((i + 0.5) / steps));
  }
  for (int i = 0; i <= 4; ++i) {
    out += fmt::format("<text x=\"504\" y=\"{:.1f}\">{:.1f} nm</text>\n", 105 + 60.0 * (4 - i),
                       1e9 * (low_m + (high_m - low_m) * i / 4));
  }
  return out;
}

}  // namespace

std::vector<Said> film_map_words(const run::OnOptic& film, Length wanted, Length tolerance) {
  std::vector<Said> said = {
      {"thinnest", place(film.map.thinnest)},
      {"thickest", place(film.map.thickest)},
      {"uniformity", uniformity(film)},
      {"in tolerance", fmt::format("{} of the clear area lies within {:.4g} +/- {:.4g} nm",
                                   percent(film.map.area_in_tolerance, 3), nm(wanted), nm(tolerance))}};
  if (film.mass) said.push_back({"mass", mass(*film.mass)});
  std::string angles =
      fmt::format("{} from the {}, seen from the coated side, known to {:.0f} degrees (k = 2), from {}",
                  film.sense, film.fiducial, std::max(degrees(expanded(film.mark)), 1.0), film.angles_from);
  said.push_back({"angles", std::move(angles)});
  return said;
}

Table sector_table(const run::OnOptic& film) {
  Table table({"sector", "from", "to", "at its worst", "at radius"}, {false, true, true, true, true});
  for (const model::FilmSector& s : film.map.sectors) {
    table.add({s.depth.value() < 0 ? "thin" : "thick", fmt::format("{:.0f} deg", degrees(s.from)),
               fmt::format("{:.0f} deg", std::fmod(degrees(s.to), 360.0)),
               fmt::format("{:+.1f} nm", nm(s.depth)), fmt::format("{:.2f} m", s.radius.value())});
  }
  return table;
}

std::string film_map_picture(const run::OnOptic& film) {
  const model::FilmMap& map = film.map;
  if (map.radii == 0 || map.angles == 0) return {};
  const double rim_m = map.radius_m.back();
  const Polar polar{230, 190 / rim_m, film.sense == "clockwise"};
  double low_m = map.thinnest.thickness.value.value(), high_m = map.thickest.thickness.value.value();
  const double least_span_m = 0.02 * map.mean.value();  // an even film is not to look uneven
  if (high_m - low_m < least_span_m) {
    const double middle = (low_m + high_m) / 2;
    low_m = middle - least_span_m / 2;
    high_m = middle + least_span_m / 2;
  }
  const std::string said =
      fmt::format("film on the optic from {:.1f} nm to {:.1f} nm, seen from the coated side",
                  map.thinnest.thickness.value.value() * 1e9, map.thickest.thickness.value.value() * 1e9);
  std::string out =
      fmt::format("<svg viewBox=\"0 0 620 460\" role=\"img\" aria-label=\"{0}\"><title>{0}</title>\n", said);
  // Below the cells, so that no page shows through between them.
  const double inner = map.radius_m.front() * polar.scale, outer = map.radius_m.back() * polar.scale;
  out += fmt::format(
      "<circle cx=\"230\" cy=\"230\" r=\"{:.1f}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:.1f}\"/>\n",
      (inner + outer) / 2, colour((map.mean.value() - low_m) / (high_m - low_m)), outer - inner);
  out += cells(map, polar, low_m, high_m);
  out += "<path d=\"M230 34 l-7 -16 h14 z\" fill=\"var(--mark)\"/>\n";
  for (const double angle : {0.0, 90.0, 180.0, 270.0}) {
    const double side = polar.clockwise ? 1 : -1;
    const double rad = angle * pi / 180;
    out += fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" text-anchor=\"middle\">{:.0f}</text>\n",
                       230 + side * 213 * std::sin(rad), 235 - 213 * std::cos(rad) - (angle == 0 ? 10 : 0),
                       angle);
  }
  for (const auto& [extreme, word] :
       {std::pair{&map.thinnest, "thinnest"}, std::pair{&map.thickest, "thickest"}}) {
    const std::string at = polar.point(extreme->radius.value(), extreme->angle.value());
    const std::size_t comma = at.find(',');
    out += fmt::format(
        "<circle cx=\"{}\" cy=\"{}\" r=\"6\" fill=\"none\" stroke=\"#fff\" stroke-width=\"4\"/>"
        "<circle cx=\"{}\" cy=\"{}\" r=\"6\" fill=\"none\" stroke=\"#000\" "
        "stroke-width=\"2\"><title>{}</title></circle>\n",
        at.substr(0, comma), at.substr(comma + 1), at.substr(0, comma), at.substr(comma + 1), word);
  }
  return out + legend(low_m, high_m) + "</svg>\n";
}

}  // namespace vacuary::report
