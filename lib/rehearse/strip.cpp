#include "rehearse/strip.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "rehearse/film.hpp"

namespace vacuary::rehearse {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double steps_per_turn = 2880;

// Keller and Simmons (1979): share that the gas lets pass.
double passed(double pressure_pa, double way_m, double p0d0_pa_m) {
  const double x = pressure_pa * way_m / p0d0_pa_m;
  return x < 1e-9 ? 1 : (1 - std::exp(-x)) / x;
}

double width_at(const Geometry& g, double x_m) {
  if (x_m <= g.shield.front().radius_m) return g.shield.front().width_m;
  for (std::size_t i = 1; i < g.shield.size(); ++i) {
    if (x_m > g.shield[i].radius_m) continue;
    const Opening& a = g.shield[i - 1];
    const Opening& b = g.shield[i];
    return a.width_m + (b.width_m - a.width_m) * (x_m - a.radius_m) / (b.radius_m - a.radius_m);
  }
  return g.shield.back().width_m;
}

// The racetrack in finer elements than a run's film needs, each end's share of the length kept.
void refine_source(Geometry& g, const plan::Cathode& cathode, double throw_m) {
  constexpr int turn = 48;
  const double half = cathode.racetrack_half_width.value.value();
  const double inner = cathode.racetrack_inner.value.value() + half;
  const double outer = cathode.racetrack_outer.value.value() - half;
  const bool follows = cathode.follows_surface;
  g.source.clear();
  const auto add = [&](double x, double y) {
    const double tilt = follows ? slope(g, x) : 0;
    const double length = std::sqrt(1 + tilt * tilt);
    g.source.push_back({x, y, (follows ? sag_m(g, x) : 0) + throw_m, tilt / length, -1 / length});
  };
  const int straight = std::max(1, static_cast<int>(std::lround((outer - inner) / (pi * half / turn))));
  for (int i = 0; i < straight; ++i) {
    const double x = inner + (outer - inner) * (i + 0.5) / straight;
    add(x, half);
    add(x, -half);
  }
  for (int i = 0; i < turn; ++i) {
    const double t = pi * ((i + 0.5) / turn - 0.5);
    add(outer + half * std::cos(t), half * std::sin(t));
    add(inner - half * std::cos(t), half * std::sin(t));
  }
}

// The opening as a source of its own: small equal areas, facing the glass.
struct Piece {
  double x = 0, y = 0, z = 0, nx = 0, nz = -1, area = 0;
};
std::vector<Piece> pieces_of(const Geometry& g, const plan::Cathode& cathode, double throw_m) {
  constexpr double along_m = 0.01, across_m = 0.01;
  const double inner = cathode.racetrack_inner.value.value();
  const double outer = cathode.racetrack_outer.value.value();
  const auto cells = static_cast<int>(std::lround((outer - inner) / along_m));
  std::vector<Piece> out;
  for (int i = 0; i < cells; ++i) {
    const double length = (outer - inner) / cells;
    const double x = inner + length * (i + 0.5);
    const double width =
        g.shield.empty() ? 2 * cathode.racetrack_half_width.value.value() + throw_m : width_at(g, x);
    const double height = g.shield.empty() ? throw_m / 2 : g.shield_height_m;
    const int strips = std::max(1, static_cast<int>(std::lround(width / across_m)));
    const double tilt = slope(g, x);
    const double unit = std::sqrt(1 + tilt * tilt);
    for (int k = 0; k < strips; ++k) {
      out.push_back({x, width * ((k + 0.5) / strips - 0.5), sag_m(g, x) + height, tilt / unit, -1 / unit,
                     length * width / strips});
    }
  }
  return out;
}

double from_pieces(const std::vector<Piece>& pieces, const Geometry& g, double r_m, double psi_rad) {
  const double x = r_m * std::cos(psi_rad), y = r_m * std::sin(psi_rad), z = sag_m(g, r_m);
  const double tilt = slope(g, r_m);
  const double unit = std::sqrt(1 + tilt * tilt);
  double sum = 0;
  for (const Piece& p : pieces) {
    const double dx = p.x - x, dy = p.y - y, dz = p.z - z;
    const double out = -(dx * p.nx + dz * p.nz);
    const double in = (-tilt * (dx * std::cos(psi_rad) + dy * std::sin(psi_rad)) + dz) / unit;
    if (out <= 0 || in <= 0) continue;
    const double d2 = dx * dx + dy * dy + dz * dz;
    sum += p.area * out * in / (d2 * d2);
  }
  return sum;
}

// One radius by the angle behind the cathode's line, straight and scattered apart.
struct Around {
  std::vector<double> straight, scattered;
};
Around around(const Geometry& g, const std::vector<Piece>& pieces, double r_m) {
  constexpr int n = 2880;
  Around out{std::vector<double>(n), std::vector<double>(n)};
  for (int i = 0; i <= n / 2; ++i) {
    const double psi = 2 * pi * i / n;
    const auto here = static_cast<std::size_t>(i), there = static_cast<std::size_t>((n - i) % n);
    out.straight[here] = out.straight[there] = raw_kernel(g, r_m, psi);
    if (i % 16 == 0) out.scattered[here] = out.scattered[there] = from_pieces(pieces, g, r_m, psi);
  }
  // Scattered film hardly changes from degree to degree: in between it is drawn straight.
  for (int i = 0; i < n; ++i) {
    const auto low = static_cast<std::size_t>(i / 16 * 16),
               high = static_cast<std::size_t>((i / 16 * 16 + 16) % n);
    const double share = (i % 16) / 16.0;
    out.scattered[static_cast<std::size_t>(i)] =
        (1 - share) * out.scattered[low] + share * out.scattered[high];
  }
  return out;
}

double mean(const std::vector<double>& all) {
  double sum = 0;
  for (const double x : all) sum += x;
  return sum / static_cast<double>(all.size());
}

double drawn(const std::vector<double>& row, double angle_rad) {
  const auto n = static_cast<double>(row.size());
  double at = angle_rad / (2 * pi) * n;
  at -= n * std::floor(at / n);
  const auto low = std::min(static_cast<std::size_t>(at), row.size() - 1);
  const double share = at - static_cast<double>(low);
  return row[low] + share * (row[(low + 1) % row.size()] - row[low]);
}

}  // namespace

std::vector<double> strip_film_m(const plan::Cathode& cathode, const plan::Optic& optic,
                                 const StripTruth& truth, const StripShot& shot) {
  const auto built = [&](bool shielded) {
    Geometry g = geometry_of(cathode, optic, {truth.throw_m, truth.exponent, 0, 0, 0, 0});
    refine_source(g, cathode, truth.throw_m);
    for (Opening& opening : g.shield) opening.width_m = std::max(0.0, opening.width_m + truth.opening_m);
    if (!shielded) g.shield.clear();
    return g;
  };
  const Geometry reference = built(truth.stated_shielded);
  const Around at_reference = around(reference, pieces_of(reference, cathode, truth.throw_m),
                                     cathode.calibration.radius.value.value());
  const double straight = mean(at_reference.straight), scattered = mean(at_reference.scattered);
  const double stated = passed(truth.stated_pressure_pa, truth.throw_m, truth.p0d0_pa_m);
  const double now = passed(shot.pressure_pa, truth.throw_m, truth.p0d0_pa_m);
  const double whole = stated + (1 - stated) * truth.diffuse_share;
  const Geometry g = built(shot.shielded);
  const std::vector<Piece> pieces = pieces_of(g, cathode, truth.throw_m);
  const auto steps = static_cast<std::size_t>(std::lround(shot.turns * steps_per_turn));
  const double dose_m = truth.film_per_energy_m_per_j * shot.energy_j / static_cast<double>(steps);
  std::vector<double> film;
  for (const double r : shot.radii_m) {
    const Around row = around(g, pieces, r);
    double sum = 0;
    for (std::size_t i = 0; i < steps; ++i) {
      const double theta = shot.start_angle_rad + 2 * pi * (static_cast<double>(i) + 0.5) / steps_per_turn;
      sum += dose_m *
             (now * drawn(row.straight, -theta) / straight +
              (1 - now) * truth.diffuse_share * drawn(row.scattered, -theta) / scattered) /
             whole;
    }
    film.push_back(sum);
  }
  return film;
}

}  // namespace vacuary::rehearse
