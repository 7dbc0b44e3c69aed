#include "run/on_optic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "physics/physics.hpp"
#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr double degree = 3.14159265358979323846 / 180;
// A disturbance goes on beyond the times a deviation is told for as long as the film is off by more
// than this share of the usual, at most so long.
constexpr double still_off = 0.03;
constexpr double longest_tail_s = 40;
// What is shallower than this is told in words by its mean, not as a place.
constexpr double shallowest_m = 0.1e-9;
constexpr double shape_uncertainty = 0.03;  // of the kernel at one place
constexpr std::size_t sector_radii = 32;
constexpr std::size_t most_sectors = 200;

std::string angles_from(const FilmMeter& meter) {
  const Turning& turning = meter.turning();
  if (turning.index_seen()) return "optic.angle, set right by the index pulse";
  if (turning.angle_known()) return "optic.angle alone: no index pulse";
  return "speed alone: the log does not say how the optic stood";
}

std::optional<MassBalance> mass_balance(const plan::Plan& plan, const FilmMeter& meter, const OnOptic& film,
                                        double scale, const std::vector<FilmPart>& parts) {
  if (meter.doses().size() != 1) return std::nullopt;  // one target, or the shares cannot be told apart
  const plan::Cathode& cathode = meter.doses().front().cathode();
  const physics::TargetElement* target = physics::find_target(cathode.material.value);
  if (target == nullptr) return std::nullopt;
  double lost_kg = 0, pressure = 0, energy = 0;
  for (const FilmPart& part : parts) {
    if (!part.mean_voltage) return std::nullopt;
    const MassPerEnergy rate =
        physics::sputtered_mass_per_energy(physics::argon_yield(*target, *part.mean_voltage),
                                           target->molar_mass_g_per_mol * 1e-3, *part.mean_voltage);
    lost_kg += rate.value() * part.energy.value.value();
    const double pa =
        part.mean_pressure ? part.mean_pressure->value() : cathode.calibration.pressure.value.value();
    pressure += pa * part.energy.value.value();
    energy += part.energy.value.value();
  }
  if (!(lost_kg > 0) || !(energy > 0)) return std::nullopt;
  MassBalance balance;
  balance.from_target = {Mass::from_value(lost_kg),
                         Mass::from_value(lost_kg * physics::yield_uncertainty().value())};
  balance.on_optic = {film.map.mass, film.map.mass * scale};
  balance.share = Ratio::of(film.map.mass.value() / lost_kg);
  const Ratio arriving = model::arriving_share(cathode, Pressure::from_value(pressure / energy));
  balance.expected = Ratio::of(model::collected_share(cathode, *plan.optic).value() * arriving.value());
  balance.density = plan.optic->film.density.value;
  return balance;
}

// ---------------------------------------------------------------- sectors

class Sectors {
 public:
  Sectors(const plan::Plan& plan, const FilmMeter& meter) : plan_(plan), meter_(meter) {}

  // What was laid between the two times, against the usual.
  [[nodiscard]] std::optional<model::FilmSector> of(Instant start, Instant end) {
    const auto& pieces = meter_.trace().pieces();
    const auto first_at =
        std::find_if(pieces.begin(), pieces.end(), [&](const FilmPiece& p) { return p.end > start; });
    auto last_at = first_at;
    while (last_at != pieces.end() && last_at->start < end) ++last_at;
    if (first_at == last_at) return std::nullopt;
    auto first = first_at;
    while (first != pieces.begin() && seconds(std::prev(first)->end, start) < longest_tail_s &&
           off(*std::prev(first)))
      --first;
    auto last = last_at;
    while (last != pieces.end() && seconds(end, last->start) < longest_tail_s && off(*last)) ++last;
    return left_by(first, last);
  }

  // Of a depth: the beam's shape, and two edges of the disturbance somewhere between two rows.
  [[nodiscard]] double uncertainty_m(const Deviation& d, const model::FilmSector& sector) {
    const auto& pieces = meter_.trace().pieces();
    const auto at =
        std::find_if(pieces.begin(), pieces.end(), [&](const FilmPiece& p) { return p.end > d.start; });
    const double depth_m = std::abs(sector.depth.value());
    if (at == pieces.end()) return shape_uncertainty * depth_m;
    const physics::FilmKernel& kernel = kernels(at->cathode).straight;
    double peak = 0;
    for (std::size_t i = 0; i < kernel.radii(); ++i) peak = std::max(peak, kernel.at(i, 0));
    const double apart_rad = std::abs(at->to_rad - at->from_rad);
    const double edge_m = usual(at->step) * apart_rad * peak / std::sqrt(12.0);
    return std::hypot(shape_uncertainty * depth_m, std::sqrt(2.0) * std::fmin(edge_m, depth_m));
  }

 private:
  using Piece = std::vector<FilmPiece>::const_iterator;

  [[nodiscard]] double usual(int step) {
    const auto known = usual_.find(step);
    if (known != usual_.end()) return known->second;
    return usual_[step] = meter_.trace().usual_m_rad(step);
  }
  [[nodiscard]] double difference_m(const FilmPiece& piece) {
    return piece.film_m - usual(piece.step) * std::abs(piece.to_rad - piece.from_rad);
  }
  [[nodiscard]] bool off(const FilmPiece& piece) {
    const double there = usual(piece.step) * std::abs(piece.to_rad - piece.from_rad);
    return std::abs(piece.film_m - there) > still_off * std::max(there, piece.film_m);
  }
  const model::CathodeKernels& kernels(int cathode) {
    const auto known = kernels_.find(cathode);
    if (known != kernels_.end()) return known->second;
    const model::MapGrid grid{std::min(sector_radii, meter_.grid().radii), meter_.grid().angles,
                              meter_.grid().threads};
    return kernels_
        .emplace(cathode, model::CathodeKernels(meter_.doses()[static_cast<std::size_t>(cathode)].cathode(),
                                                *plan_.optic, grid))
        .first->second;
  }

  [[nodiscard]] std::optional<model::FilmSector> left_by(Piece first, Piece last) {
    const int cathode = first->cathode;
    model::FilmDose dose(plan_.recipe, meter_.doses()[static_cast<std::size_t>(cathode)].cathode(),
                         meter_.grid().angles);
    for (Piece piece = first; piece != last; ++piece) {
      const double film_m = difference_m(*piece) / meter_.area_mean(cathode).value.value();
      if (piece->cathode != cathode || std::isnan(film_m)) continue;
      dose.add(Angle::from_value(piece->from_rad), Angle::from_value(piece->to_rad),
               Length::from_value(film_m), Pressure::from_value(piece->pressure_pa));
    }
    return model::sector_of(kernels(cathode), dose);
  }

  const plan::Plan& plan_;
  const FilmMeter& meter_;
  std::map<int, double> usual_;
  std::map<int, model::CathodeKernels> kernels_;
};

const char* sense_of(const plan::Optic& optic) {
  return optic.sense == plan::Rotation::clockwise ? "clockwise" : "counterclockwise";
}

// "It left a thin sector, 13.9 nm thinner ..."
std::string left_words(const plan::Optic& optic, const model::FilmSector& sector, bool angle_known) {
  const bool thin = sector.depth.value() < 0;
  std::string words =
      fmt::format("It left a {} sector, {} {} than the rest at radius {:.2f} m", thin ? "thin" : "thick",
                  nm(sector.depth.value()), thin ? "thinner" : "thicker", sector.radius.value());
  if (angle_known)
    return words + fmt::format(", and more than half of that from {}.", sector_words(optic, sector));
  return words + fmt::format(" and {:.0f} degrees wide; the log does not say where on the circle.",
                             (sector.to - sector.from).value() / degree);
}

bool may_leave_a_sector(const plan::Plan& plan, const Deviation& d) {
  if (d.origin != Origin::process) return false;
  return std::any_of(plan.recipe.steps.begin(), plan.recipe.steps.end(), [&](const plan::Step& step) {
    return step.name.value == d.step && step.kind == plan::StepKind::sputter;
  });
}

}  // namespace

std::string sector_words(const plan::Optic& optic, const model::FilmSector& sector) {
  const double from = sector.from.value() / degree, to = std::fmod(sector.to.value() / degree, 360.0);
  return fmt::format("{:.0f} to {:.0f} degrees {} from the {}", from, to, sense_of(optic),
                     optic.fiducial.value);
}

OnOptic on_optic(const plan::Plan& plan, const FilmMeter& meter, Ratio scale,
                 const std::vector<FilmPart>& parts) {
  OnOptic film;
  film.map = model::film_map(*plan.optic, meter.doses(), scale, meter.kernels());
  const double mark = plan.recipe.angle_at_mark_uncertainty.value.value();
  film.mark = {Angle{}, Angle::from_value(std::hypot(mark, meter.angle_uncertainty_rad()))};
  film.angles_from = angles_from(meter);
  film.fiducial = plan.optic->fiducial.value;
  film.sense = sense_of(*plan.optic);
  if (plan.optic->film.uniformity) film.uniformity_wanted = plan.optic->film.uniformity->value;
  film.mass = mass_balance(plan, meter, film, scale.value(), parts);
  return film;
}

void place_on_optic(const plan::Plan& plan, const FilmMeter& meter, Account& account) {
  if (meter.doses().empty()) return;
  Sectors sectors(plan, meter);
  std::size_t placed = 0;
  for (Deviation& d : account.deviations) {
    if (!may_leave_a_sector(plan, d) || placed >= most_sectors) continue;
    const auto sector = sectors.of(d.start, d.end);
    if (!sector || std::abs(sector->depth.value()) < shallowest_m) continue;
    ++placed;
    d.sector = sector;
    d.local_change = length_estimate(sector->depth.value(), sectors.uncertainty_m(d, *sector));
    if (!d.effect.empty()) d.effect += d.effect.back() == '.' ? " " : ". ";
    d.effect += left_words(*plan.optic, *sector, meter.turning().angle_known());
    const bool heap = d.rule == "rotation-stall" && sector->depth > plan.optic->film.tolerance.value;
    if (heap) d.severity = Severity::error;
  }
}

}  // namespace vacuary::run
