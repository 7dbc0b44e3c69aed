// The proposed opening against a limit that needs no kernel and against the rehearsal's own kernel.
#include "trim/trim.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "rehearse/film.hpp"

using namespace vacuary;
using namespace vacuary::trim;

namespace {

Length m(double value) { return Length::from_value(value); }

const plan::Plan& tarn_ridge() {
  static const Result<plan::Plan> loaded =
      plan::load(std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/aluminium-90nm.toml");
  REQUIRE(loaded.ok());
  return loaded.value();
}

// The plan with the proposal's shield in it.
plan::Plan with(plan::Plan plan, const Proposal& proposal) {
  plan::Cathode& cathode = plan.chamber.cathodes.front();
  cathode.shield_opening.clear();
  for (const Edge& e : proposal.table) {
    plan::ShieldPoint point;
    point.radius.value = e.radius;
    point.opening.value = e.opening;
    cathode.shield_opening.push_back(point);
  }
  return plan;
}

Proposal proposed(const plan::Plan& plan, const Wanted& wanted) {
  const Result<Proposal> result = propose_shield(plan, wanted);
  for (const Diagnostic& d : result.diagnostics()) INFO(to_text(d));
  REQUIRE(result.has_value());
  return result.value();
}

}  // namespace

TEST_CASE("the sample cathode is evened out far below what is wanted") {
  const Proposal p = proposed(tarn_ridge(), {});
  CHECK(p.reached);
  CHECK(p.wanted.value() == doctest::Approx(0.05));
  CHECK(p.proposed.uniformity.value() < 0.015);
  CHECK(p.now.rate.value() == 1);
  // Inner to outer without a shield: 4.7 to 1, that is 65 %; a published straight cathode lays like 1/r.
  CHECK(p.bare.uniformity.value() == doctest::Approx(3.7 / 5.7).epsilon(0.05));
  CHECK(p.bare.rate.value() > 1.5);
  // As a workshop takes it: half millimetres, no wider than the present one.
  for (const Edge& e : p.table) {
    CHECK(std::abs(e.opening.value() * 2000 - std::round(e.opening.value() * 2000)) < 1e-6);
    CHECK(e.opening.value() < 0.4291);
    CHECK(e.along >= e.radius);
  }
  CHECK(p.energy_needed.value() / p.energy_now.value() == doctest::Approx(1 / p.proposed.rate.value()));
  CHECK(p.inner_end < p.table.front().radius);
  CHECK(p.outer_end > p.table.back().radius);
}

// The rehearsal's kernel shares no code with the one the table was made by.
TEST_CASE("the rehearsal's own kernel finds the proposal as even as it says") {
  const Proposal p = proposed(tarn_ridge(), {});
  const plan::Plan plan = with(tarn_ridge(), p);
  const plan::Cathode& cathode = plan.chamber.cathodes.front();
  const rehearse::Geometry geometry = rehearse::geometry_of(
      cathode, *plan.optic,
      {cathode.throw_distance.value.value(), cathode.emission_exponent.value.value(), 0, 0, 0, 0});
  double least = 1e9, most = 0;
  for (double r = 0.26; r < 1.295; r += 0.045) {
    double sum = 0;
    constexpr int n = 5760;
    for (int j = 0; j <= n / 2; ++j)
      sum += (j == 0 || j == n / 2 ? 1 : 2) * rehearse::raw_kernel(geometry, r, 2 * 3.14159265358979 * j / n);
    least = std::min(least, sum);
    most = std::max(most, sum);
  }
  // Its elements are coarser and cut whole: half a percent.
  CHECK((most - least) / (most + least) < p.proposed.uniformity.value() + 0.006);
}

// Close above the glass a source that never ends lays film where the opening stands, for as long as the
// turn takes a point through it: w(r) on the cathode's side of the axis, and the opening's first width w0
// on the far side, where the plate stays as open as at its inner end. Even film wants w + w0 like r.
TEST_CASE("a narrow opening close over the glass must grow like the radius") {
  plan::Plan plan = tarn_ridge();
  plan::Cathode& cathode = plan.chamber.cathodes.front();
  plan.optic->inner_radius.value = m(0.3);
  plan.optic->outer_radius.value = m(0.8);
  plan.optic->radius_of_curvature.value = m(1e6);
  cathode.racetrack_inner.value = m(-1.8);
  cathode.racetrack_outer.value = m(1.8);
  cathode.racetrack_half_width.value = m(0.02);
  cathode.calibration.radius.value = m(0.5);
  cathode.shield_opening.clear();
  cathode.shield_height.reset();
  cathode.shield.value.clear();
  Wanted wanted;
  wanted.height = m(0.002);
  wanted.widest = m(0.06);
  wanted.narrowest = m(0.003);
  wanted.rounding = m(1e-5);
  wanted.step = m(0.1);
  const Proposal p = proposed(plan, wanted);
  CHECK(p.proposed.uniformity.value() < 0.01);
  const Length first = p.table.front().opening;
  const double slope = (p.table.back().opening + first) / p.table.back().radius;
  for (const Edge& e : p.table) CHECK((e.opening + first) / e.radius == doctest::Approx(slope).epsilon(0.03));
}

TEST_CASE("a racetrack that ends too soon is said to") {
  plan::Plan plan = tarn_ridge();
  plan.chamber.cathodes.front().racetrack_outer.value = m(1.25);
  Wanted wanted;
  wanted.uniformity = Ratio::percent(1);
  wanted.narrowest = m(0.05);
  const Result<Proposal> result = propose_shield(plan, wanted);
  REQUIRE(result.has_value());
  CHECK_FALSE(result.value().reached);
  REQUIRE_FALSE(result.value().why_not.empty());
  CHECK(result.value().why_not.front().find("racetrack ends 50 mm before the clear edge") !=
        std::string::npos);
  REQUIRE(result.diagnostics().size() == 1);
  CHECK(result.diagnostics().front().rule == "shield-cannot-even-out");
}

TEST_CASE("wishes that contradict themselves are turned down, each with what to do") {
  const auto refused = [](const plan::Plan& plan, const Wanted& wanted) {
    const Result<Proposal> result = propose_shield(plan, wanted);
    REQUIRE_FALSE(result.has_value());
    CHECK(result.diagnostics().front().rule == "shield-not-possible");
    CHECK_FALSE(result.diagnostics().front().remedy.empty());
  };
  Wanted wanted;
  wanted.height = m(0.3);
  refused(tarn_ridge(), wanted);
  wanted = {};
  wanted.widest = m(0.005);
  refused(tarn_ridge(), wanted);
  wanted = {};
  wanted.step = m(0.001);
  refused(tarn_ridge(), wanted);
  wanted = {};
  wanted.cathode = "other";
  refused(tarn_ridge(), wanted);
  plan::Plan plan = tarn_ridge();
  plan.optic.reset();
  refused(plan, {});
  plan = tarn_ridge();
  plan.optic->film.uniformity.reset();
  refused(plan, {});
}
