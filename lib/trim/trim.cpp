#include "trim/trim.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "physics/physics.hpp"

namespace vacuary::trim {
namespace {

constexpr std::size_t solving_angles = 360, judging_radii = 256, judging_angles = 1440;
constexpr std::size_t comparing_radii = 64, comparing_angles = 480;
constexpr double even_enough = 3e-4;  // of the film at the table's radii, while iterating
constexpr int most_rounds = 40;
constexpr double eagerness = 0.8;  // a of equation (1): a whole step overshoots at the ends

Length metres(double m) { return Length::from_value(m); }

// A cathode over an optic with a shield to be tried, and how its film is counted: 1 is the film that
// the calibration speaks of, at its radius through the present shield.
class Bench {
 public:
  Bench(const plan::Cathode& cathode, const plan::Optic& optic)
      : surface_(model::coated_surface(optic)),
        track_(model::racetrack(cathode)),
        exponent_(cathode.emission_exponent.value),
        present_(model::trim_shield(cathode)),
        straight_share_(model::straight_share(cathode, cathode.calibration.pressure.value).value()) {
    const std::vector<Length> reference{cathode.calibration.radius.value};
    straight_unit_ = straight(present_, reference, judging_angles).front();
    scattered_unit_ = scattered(present_, reference, comparing_angles).front();
  }

  [[nodiscard]] const physics::TrimShield& present() const { return present_; }
  [[nodiscard]] const physics::CoatedSurface& surface() const { return surface_; }
  [[nodiscard]] const physics::Racetrack& track() const { return track_; }

  [[nodiscard]] std::vector<double> film(const physics::TrimShield& shield, const std::vector<Length>& radii,
                                         std::size_t angles) const {
    std::vector<double> out = straight(shield, radii, angles);
    for (double& t : out) t *= straight_share_ / straight_unit_;
    if (straight_share_ >= 1) return out;
    const std::vector<double> strayed = scattered(shield, radii, angles / 4);
    for (std::size_t i = 0; i < out.size(); ++i)
      out[i] += (1 - straight_share_) * strayed[i] / scattered_unit_;
    return out;
  }
  [[nodiscard]] Bench with(Length throw_by, double exponent_by) const {
    Bench other = *this;
    other.track_.throw_distance += throw_by;
    other.exponent_ = Ratio::of(exponent_.value() + exponent_by);
    return other;
  }

 private:
  [[nodiscard]] std::vector<double> straight(const physics::TrimShield& shield,
                                             const std::vector<Length>& radii, std::size_t angles) const {
    return turn_means_per_m2(elements(track_, surface_), exponent_, surface_, shield, radii, angles);
  }
  [[nodiscard]] std::vector<double> scattered(const physics::TrimShield& shield,
                                              const std::vector<Length>& radii, std::size_t angles) const {
    return turn_means_per_m2(scattered_elements(track_, shield, surface_), Ratio::of(1), surface_, {}, radii,
                             angles);
  }

  physics::CoatedSurface surface_;
  physics::Racetrack track_;
  Ratio exponent_;
  physics::TrimShield present_;
  double straight_share_ = 1, straight_unit_ = 1, scattered_unit_ = 1;
};

// ---------------------------------------------------------------- judging

struct Rings {
  std::vector<Length> radius;
  std::vector<double> area_m2;
};

// Middles of equal rings, edges included by half a ring only: as the film map has them.
Rings rings(const physics::CoatedSurface& surface, std::size_t n) {
  Rings out;
  const double width = (surface.outer_radius - surface.inner_radius).value() / static_cast<double>(n);
  for (std::size_t i = 0; i < n; ++i) {
    const Length r = surface.inner_radius + metres(width * (static_cast<double>(i) + 0.5));
    out.radius.push_back(r);
    out.area_m2.push_back(r.value() * std::sqrt(1 + surface.slope(r) * surface.slope(r)));
  }
  return out;
}

struct Judged {
  Outcome outcome;  // rate: mean film over the clear area, in the bench's count
  std::vector<double> relative;
};

Judged judge(const Rings& at, const std::vector<double>& film) {
  Judged out;
  const auto [least, most] = std::minmax_element(film.begin(), film.end());
  const double area = std::accumulate(at.area_m2.begin(), at.area_m2.end(), 0.0);
  double mean = 0;
  for (std::size_t i = 0; i < film.size(); ++i) mean += at.area_m2[i] / area * film[i];
  double square = 0;
  for (std::size_t i = 0; i < film.size(); ++i) {
    square += at.area_m2[i] / area * (film[i] / mean - 1) * (film[i] / mean - 1);
    out.relative.push_back(film[i] / mean);
  }
  out.outcome.uniformity = Ratio::of((*most - *least) / (*most + *least));
  out.outcome.rms = Ratio::of(std::sqrt(square));
  out.outcome.thinnest_at = at.radius[static_cast<std::size_t>(least - film.begin())];
  out.outcome.thickest_at = at.radius[static_cast<std::size_t>(most - film.begin())];
  out.outcome.rate = Ratio::of(mean);
  return out;
}

Judged judge(const Bench& bench, const physics::TrimShield& shield, std::size_t radii, std::size_t angles) {
  const Rings at = rings(bench.surface(), radii);
  return judge(at, bench.film(shield, at.radius, angles));
}

// ---------------------------------------------------------------- solving

struct Limits {
  Length height, narrowest, widest, rounding;
};

std::vector<Length> knots(const physics::CoatedSurface& surface, Length step) {
  const double from = surface.inner_radius.value(), to = surface.outer_radius.value();
  std::vector<Length> out;
  // On whole steps of the radius, as a workshop likes them; the edges of the clear area besides.
  out.push_back(metres(from));
  for (double r = std::ceil(from / step.value() + 0.3) * step.value(); r < to - 0.3 * step.value();
       r += step.value())
    out.push_back(metres(r));
  out.push_back(metres(to));
  return out;
}

physics::TrimShield shield_of(const std::vector<Length>& radii, const std::vector<double>& width_m,
                              Length height) {
  physics::TrimShield shield;
  shield.height = height;
  for (std::size_t i = 0; i < radii.size(); ++i) shield.opening.push_back({radii[i], metres(width_m[i])});
  return shield;
}

// All widths alike until the widest is as wide as allowed, none narrower than the narrowest.
void fit_limits(std::vector<double>& width_m, const Limits& limits) {
  const double most = *std::max_element(width_m.begin(), width_m.end());
  for (double& w : width_m) w = std::max(w * limits.widest.value() / most, limits.narrowest.value());
}

// Corrections of neighbours are shared a little: rays cross the plate tens of millimetres beside where
// they land, and a table that follows every wiggle of the film would swing from knot to knot.
std::vector<double> calmed(const std::vector<double>& log_change) {
  std::vector<double> out = log_change;
  for (std::size_t i = 1; i + 1 < out.size(); ++i)
    out[i] = 0.5 * log_change[i] + 0.25 * (log_change[i - 1] + log_change[i + 1]);
  return out;
}

// Equation (1), the best round kept.
std::vector<double> solve(const Bench& bench, const std::vector<Length>& radii, const Limits& limits) {
  std::vector<double> width_m;
  for (const Length& r : radii) width_m.push_back(r.value());  // film through a straight slit goes like 1/r
  fit_limits(width_m, limits);
  std::vector<double> best = width_m;
  double least = 1e9;
  for (int round = 0; round < most_rounds && least > even_enough; ++round) {
    const std::vector<double> film =
        bench.film(shield_of(radii, width_m, limits.height), radii, solving_angles);
    const double mean = std::accumulate(film.begin(), film.end(), 0.0) / static_cast<double>(film.size());
    std::vector<double> log_change;
    double worst = 0;
    for (const double t : film) {
      log_change.push_back(eagerness * std::log(mean / std::max(t, 1e-3 * mean)));
      worst = std::max(worst, std::abs(t / mean - 1));
    }
    if (worst < least) least = worst, best = width_m;
    // Calm at first, exact at the end.
    if (round < most_rounds / 2) log_change = calmed(log_change);
    for (std::size_t i = 0; i < width_m.size(); ++i) width_m[i] *= std::exp(log_change[i]);
    fit_limits(width_m, limits);
  }
  for (double& w : best) {
    w = std::clamp(std::round(w / limits.rounding.value()) * limits.rounding.value(),
                   limits.narrowest.value(), limits.widest.value());
  }
  return best;
}

// ---------------------------------------------------------------- saying

std::string mm(Length length) { return fmt::format("{:.0f} mm", length.value() * 1e3); }
std::string percent(double share) { return fmt::format("{:.2g} %", 100 * share); }

std::vector<std::string> reasons(const Bench& bench, const Judged& judged, const std::vector<Length>& radii,
                                 const std::vector<double>& width_m, const Limits& limits) {
  std::vector<std::string> out;
  const auto width_at = [&](Length r) {
    const auto above = std::lower_bound(radii.begin(), radii.end(), r);
    const auto i = static_cast<std::size_t>(std::min(above, radii.end() - 1) - radii.begin());
    return std::pair(width_m[i > 0 ? i - 1 : 0], width_m[i]);
  };
  const auto off = [&](const auto& pick) { return percent(std::abs(*pick - 1)); };
  const Length thin = judged.outcome.thinnest_at, thick = judged.outcome.thickest_at;
  const auto [w1, w2] = width_at(thin);
  if (std::max(w1, w2) > 0.98 * limits.widest.value()) {
    const Length over = bench.track().outer - bench.surface().outer_radius;
    out.push_back(
        fmt::format("at {} the film stays {} short with the opening at its widest, {}: the racetrack ends {} "
                    "{} the clear "
                    "edge at a throw of {}, and nothing a shield takes away elsewhere makes up for that",
                    mm(thin), off(std::min_element(judged.relative.begin(), judged.relative.end())),
                    mm(limits.widest), mm(metres(std::abs(over.value()))),
                    over.value() < 0 ? "before" : "beyond", mm(bench.track().throw_distance)));
  }
  const auto [n1, n2] = width_at(thick);
  if (std::min(n1, n2) < 1.02 * limits.narrowest.value()) {
    out.push_back(fmt::format(
        "at {} the film stays {} thick with the opening at its narrowest, {}", mm(thick),
        off(std::max_element(judged.relative.begin(), judged.relative.end())), mm(limits.narrowest)));
  }
  if (out.empty()) {
    out.push_back(
        fmt::format("steps of the table ({}) and its rounding ({:.1f} mm) leave {} between {} and {}",
                    mm(radii[2] - radii[1]), limits.rounding.value() * 1e3,
                    percent(judged.outcome.uniformity.value()), mm(thin), mm(thick)));
  }
  return out;
}

physics::TrimShield moved(physics::TrimShield shield, double wider_m, double outwards_m, double higher_m) {
  for (physics::ShieldOpening& point : shield.opening) {
    point.width += metres(wider_m);
    point.radius += metres(outwards_m);
  }
  shield.height += metres(higher_m);
  return shield;
}

std::vector<Tolerance> tolerances(const Bench& bench, const physics::TrimShield& shield,
                                  const plan::Cathode& cathode) {
  std::vector<Tolerance> out;
  const auto add = [&](std::string what, const Bench& on, const physics::TrimShield& made) {
    out.push_back({std::move(what), judge(on, made, comparing_radii, comparing_angles).outcome.uniformity});
  };
  add("as drawn", bench, shield);
  add("both edges 0.5 mm farther out", bench, moved(shield, 1e-3, 0, 0));
  add("plate 3 mm too far from the axis", bench, moved(shield, 0, 3e-3, 0));
  add("plate 3 mm too high", bench, moved(shield, 0, 0, 3e-3));
  const Length off = cathode.throw_uncertainty.value;
  if (off.value() > 0)
    add(fmt::format("throw {:.0f} mm longer", off.value() * 1e3), bench.with(off, 0), shield);
  const double n = cathode.emission_exponent_uncertainty.value.value();
  if (n > 0) add(fmt::format("emission exponent {:.2g} higher", n), bench.with(metres(0), n), shield);
  return out;
}

// Along the meridian of the plate, from the axis: the glass's own, hung higher.
Length along(const physics::CoatedSurface& surface, Length r) {
  constexpr int steps = 400;
  double sum = 0;
  for (int i = 0; i < steps; ++i) {
    const double slope = surface.slope(r * ((i + 0.5) / steps));
    sum += std::sqrt(1 + slope * slope);
  }
  return r * (sum / steps);
}

// ---------------------------------------------------------------- what is asked for

Diagnostic complaint(const Region& at, std::string message, std::string remedy) {
  Diagnostic d;
  d.rule = "shield-not-possible";
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  d.where = at.place();
  return d;
}

const plan::Cathode* cathode_of(const plan::Plan& plan, const std::string& named) {
  if (!named.empty()) return plan::cathode(plan.chamber, named);
  for (const plan::Step& step : plan.recipe.steps) {
    if (step.kind == plan::StepKind::sputter && step.cathode)
      return plan::cathode(plan.chamber, step.cathode->value);
  }
  return plan.chamber.cathodes.size() == 1 ? &plan.chamber.cathodes.front() : nullptr;
}

Limits limits_of(const plan::Cathode& cathode, const Wanted& wanted) {
  Limits limits;
  limits.rounding = wanted.rounding;
  limits.narrowest = wanted.narrowest.value_or(metres(0.01));
  limits.height = wanted.height.value_or(cathode.shield_height ? cathode.shield_height->value
                                                               : 0.25 * cathode.throw_distance.value);
  Length widest = 2.0 * cathode.target_width.value;
  if (!cathode.shield_opening.empty()) {
    widest = metres(0);
    for (const plan::ShieldPoint& point : cathode.shield_opening)
      widest = std::max(widest, point.opening.value);
  }
  limits.widest = wanted.widest.value_or(widest);
  return limits;
}

std::optional<Diagnostic> impossible(const plan::Plan& plan, const plan::Cathode* cathode,
                                     const Wanted& wanted) {
  if (!plan.optic)
    return complaint(plan.recipe.name.at, "the recipe names no optic, so there is nothing to make even",
                     "give a recipe that names its optic");
  if (cathode == nullptr) {
    return complaint(plan.recipe.name.at,
                     wanted.cathode.empty() ? "the recipe uses no cathode and the chamber has several or none"
                                            : "the chamber has no cathode '" + wanted.cathode + "'",
                     "name one of the chamber's cathodes with --cathode");
  }
  const plan::Cathode& c = *cathode;
  if (!wanted.uniformity && !plan.optic->film.uniformity)
    return complaint(plan.optic->film.material.at, "the optic file does not say how even its film must be",
                     "give it a 'uniformity', or say --uniformity");
  const Limits limits = limits_of(c, wanted);
  if (!(limits.height.value() > 0) || !(limits.height < c.throw_distance.value))
    return complaint(c.throw_distance.at, "the shield must hang between the glass and the target",
                     "give a --height above zero and below the throw");
  if (!(limits.narrowest.value() > 0) || !(limits.narrowest < limits.widest))
    return complaint(c.name.at, "the narrowest opening must be more than zero and less than the widest",
                     "correct --narrowest or --widest");
  const double span = (plan.optic->outer_radius.value - plan.optic->inner_radius.value).value();
  if (!(wanted.step.value() >= 0.01) || !(wanted.step.value() < span / 2))
    return complaint(plan.optic->outer_radius.at,
                     "the table's step must be 10 mm or more and give at least three rows", "correct --step");
  return std::nullopt;
}

struct Try {
  std::vector<Length> radii;
  std::vector<double> width_m;
  physics::TrimShield shield;
  Judged judged;
};

Try attempt(const Bench& bench, Length step, const Limits& limits) {
  Try made;
  made.radii = knots(bench.surface(), step);
  made.width_m = solve(bench, made.radii, limits);
  made.shield = shield_of(made.radii, made.width_m, limits.height);
  made.judged = judge(bench, made.shield, judging_radii, judging_angles);
  return made;
}

void fill_energy(Proposal& out, const plan::Plan& plan, const plan::Cathode& cathode) {
  const model::Prediction prediction = model::predict(plan);
  double energy = 0, turns = 0, power = 0;
  for (std::size_t i = 0; i < plan.recipe.steps.size(); ++i) {
    const plan::Step& step = plan.recipe.steps[i];
    if (step.kind != plan::StepKind::sputter || !step.cathode || step.cathode->value != out.cathode) continue;
    if (prediction.steps[i].energy) energy += prediction.steps[i].energy->value.value();
    if (step.power) power = std::max(power, step.power->value.value());
    if (prediction.steps[i].turns) turns += prediction.steps[i].turns->value.value();
  }
  const double more = out.now.rate.value() / out.proposed.rate.value();
  out.energy_now = Energy::from_value(energy);
  out.energy_needed = Energy::from_value(energy * more);
  out.turns_now = Count::of(turns);
  out.turns_needed = Count::of(turns * more);
  out.power_now = Power::from_value(power);
  out.power_needed = Power::from_value(power * more);
  const plan::Supply* supply = plan::supply(plan.chamber, cathode.supply.value);
  out.power_max = supply != nullptr ? supply->power_max.value : out.power_needed;
}

// Rays from the ends of the track cross the plate beside where they land; a hand's breadth of 10 mm more
// leaves room for the edge, on whole 10 mm.
void fill_ends(Proposal& out, const Bench& bench) {
  const double share = out.height / bench.track().throw_distance;
  const auto cross = [&](Length land, Length from) { return land + share * (from - land); };
  const physics::CoatedSurface& clear = bench.surface();
  const Length inner = std::min(clear.inner_radius, cross(clear.inner_radius, bench.track().inner));
  const Length outer = std::max(clear.outer_radius, cross(clear.outer_radius, bench.track().outer));
  out.inner_end = metres(std::max(0.0, std::floor(inner.value() * 100 - 1) / 100));
  out.outer_end = metres(std::ceil(outer.value() * 100 + 1) / 100);
}

void fill_assumed(Proposal& out, const plan::Cathode& cathode) {
  out.assumed = {
      fmt::format("emission exponent {:.2g}, throw {} to the vertex plane, racetrack from {} to {}",
                  cathode.emission_exponent.value.value(), mm(cathode.throw_distance.value),
                  mm(cathode.racetrack_inner.value), mm(cathode.racetrack_outer.value)),
      fmt::format(
          "a thin plate that follows the glass {} above it; beyond the table it stays as open as at its "
          "ends",
          mm(out.height)),
      fmt::format("atoms scattered by the gas as the calibration has them (diffuse share {:.2g})",
                  cathode.calibration.diffuse_share.value.value()),
      "film per energy through the new opening by the ratio of kernels: a prediction until a strip is "
      "measured"};
}

}  // namespace

Result<Proposal> propose_shield(const plan::Plan& plan, const Wanted& wanted) {
  const plan::Cathode* found = cathode_of(plan, wanted.cathode);
  if (auto no = impossible(plan, found, wanted)) return Diagnostics{std::move(*no)};
  const plan::Cathode& cathode = *found;
  const Bench bench(cathode, *plan.optic);
  const Limits limits = limits_of(cathode, wanted);
  Proposal out;
  out.wanted = wanted.uniformity.value_or(plan.optic->film.uniformity ? plan.optic->film.uniformity->value
                                                                      : Ratio::of(0));
  Try best = attempt(bench, wanted.step, limits);
  if (best.judged.outcome.uniformity > out.wanted) {
    Try finer = attempt(bench, wanted.step / 2.0, limits);
    if (finer.judged.outcome.uniformity < best.judged.outcome.uniformity) best = std::move(finer);
  }
  out.recipe = plan.recipe.name.value;
  out.revision = plan.recipe.revision.value;
  out.cathode = cathode.name.value;
  out.optic = plan.optic->name.value;
  out.present = cathode.shield.value;
  out.height = limits.height;
  out.proposed = best.judged.outcome;
  out.now = judge(bench, bench.present(), comparing_radii, comparing_angles).outcome;
  out.bare = judge(bench, {}, comparing_radii, comparing_angles).outcome;
  out.reached = out.proposed.uniformity <= out.wanted;
  if (!out.reached) out.why_not = reasons(bench, best.judged, best.radii, best.width_m, limits);
  for (std::size_t i = 0; i < best.radii.size(); ++i)
    out.table.push_back({best.radii[i], along(bench.surface(), best.radii[i]), metres(best.width_m[i])});
  const Rings at = rings(bench.surface(), judging_radii);
  for (std::size_t i = 0; i < at.radius.size(); ++i) {
    out.profile_radius.push_back(at.radius[i]);
    out.profile.push_back(Ratio::of(best.judged.relative[i]));
  }
  out.tolerances = tolerances(bench, best.shield, cathode);
  const double at_reference =
      bench.film(best.shield, {cathode.calibration.radius.value}, judging_angles).front();
  out.film_per_energy = cathode.calibration.film_per_energy.value * at_reference;
  fill_energy(out, plan, cathode);
  fill_ends(out, bench);
  const double now = out.now.rate.value();
  for (Outcome* outcome : {&out.proposed, &out.now, &out.bare})
    outcome->rate = Ratio::of(outcome->rate.value() / now);
  fill_assumed(out, cathode);
  Diagnostics findings;
  if (!out.reached) {
    Diagnostic d;
    d.rule = "shield-cannot-even-out";
    d.severity = Severity::warning;
    d.message = "no opening within these limits makes the film as even as wanted";
    d.where = (wanted.uniformity ? cathode.name.at : plan.optic->film.uniformity->at).place();
    d.found = percent(out.proposed.uniformity.value()) + " at best";
    d.bound = "at most " + percent(out.wanted.value());
    d.remedy = out.why_not.front();
    findings.push_back(std::move(d));
  }
  return Result<Proposal>(std::move(out), std::move(findings));
}

}  // namespace vacuary::trim
