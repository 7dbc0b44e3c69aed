// The fit of a strip against strips laid by the rehearsal's time-stepping code, whose truth is known.
#include "calibrate/calibrate.hpp"

#include <filesystem>

#include "base/base.hpp"
#include "calibrate/fit.hpp"
#include "practice.hpp"

using namespace vacuary;
using namespace vacuary::calibrate;
using namespace vacuary::calibrate_test;

namespace {

std::vector<double> parameters_of(const rehearse::StripTruth& truth, std::size_t held) {
  std::vector<double> p{truth.film_per_energy_m_per_j, truth.exponent, truth.diffuse_share, truth.opening_m};
  p.resize(p.size() + held, 0);
  return p;
}

// How far a fit of many noisy strips lies off the truth, in its own uncertainties.
struct Pulls {
  std::array<double, parameter_count> squares{};
  std::array<int, parameter_count> beyond_two{}, from_strip{};
  double chi_squared_probability_below = 0;  // share of strips with p < 5 %
  int strips = 0;
};

// `truths` plants, each with `noises` strips: every plant has its own throw, racetrack, shield height,
// supply and gauge, drawn from what the chamber file states; every strip its own noise.
Pulls pulls(const std::vector<rehearse::StripShot>& shots, double relative, int truths, int noises,
            const rehearse::StripTruth& about, double spread_of_truth) {
  const plan::Plan& plan = tarn_ridge();
  const plan::Cathode& file = plan.chamber.cathodes.front();
  const Known known = known_from(file);
  const physics::Random random(20310304);
  std::uint64_t next = 0;
  const auto normal = [&] { return random.normal(7, next++); };
  Pulls out;
  const StripModel model(plan, written(plan, shots, laid(file, *plan.optic, about, shots), relative),
                         Range{});
  for (int t = 0; t < truths; ++t) {
    rehearse::StripTruth truth = about;
    truth.film_per_energy_m_per_j *= std::exp(0.02 * normal());
    truth.exponent += spread_of_truth * known.uncertainty[1] * normal();
    truth.diffuse_share = std::abs(truth.diffuse_share + spread_of_truth * known.uncertainty[2] * normal());
    truth.opening_m += spread_of_truth * known.uncertainty[3] * normal();
    truth.throw_m += file.throw_uncertainty.value.value() * normal();
    plan::Cathode cathode = file;
    const double ends = file.racetrack_uncertainty.value.value();
    cathode.racetrack_inner.value += Length::from_value(ends * normal());
    cathode.racetrack_outer.value += Length::from_value(ends * normal());
    cathode.shield_height->value +=
        Length::from_value(file.shield_height_uncertainty.value.value() * normal());
    const auto film = laid(cathode, *plan.optic, truth, shots);
    for (int k = 0; k < noises; ++k) {
      const double common = std::exp(0.01 * normal() + 0.01 * normal());  // supply and gauge
      auto read = film;
      for (auto& exposure : read) {
        const double own = common * std::exp(0.003 * normal());
        for (double& x : exposure) x *= own * (1 + relative * normal());
      }
      const Solved solved = fit_strip(model, written(plan, shots, read, relative), known);
      const std::array<double, parameter_count> true_value{truth.film_per_energy_m_per_j, truth.exponent,
                                                           truth.diffuse_share, truth.opening_m};
      for (std::size_t j = 0; j < parameter_count; ++j) {
        const double pull = (solved.fit.parameters[j] - true_value[j]) / solved.fit.uncertainty(j);
        out.squares[j] += pull * pull;
        out.beyond_two[j] += std::abs(pull) > 2 ? 1 : 0;
        out.from_strip[j] += solved.origin[j] == Origin::strip ? 1 : 0;
      }
      ++out.strips;
      std::size_t points = 0, free = 0;
      for (const auto& exposure : read) points += exposure.size();
      for (const Origin o : solved.origin) free += o == Origin::strip ? 1U : 0U;
      if (physics::chi_squared_probability(solved.fit.chi_squared, points - free) < 0.05)
        out.chi_squared_probability_below += 1;
    }
  }
  out.chi_squared_probability_below /= out.strips;
  return out;
}

// Pulls of `truths` plants are not independent strips: the mean square of each parameter has the scatter
// of between as many truths and as many strips; the share beyond two u should be 4.6 %.
void hold_to_what_is_stated(const Pulls& p) {
  for (std::size_t j = 0; j < parameter_count; ++j) {
    INFO(std::string(name(static_cast<Parameter>(j))));
    const double mean_square = p.squares[j] / p.strips;
    INFO(mean_square << " mean square pull, beyond 2 u " << p.beyond_two[j] << " of " << p.strips);
    CHECK(p.squares[j] / p.strips < 1.7);
    CHECK(p.squares[j] / p.strips > 0.3);
    CHECK(p.beyond_two[j] < 0.12 * p.strips);
  }
  CHECK(p.chi_squared_probability_below < 0.10);
}

}  // namespace

TEST_CASE("the strip model and the time-stepping code lay the same film") {
  const plan::Plan& plan = tarn_ridge();
  const plan::Cathode& cathode = plan.chamber.cathodes.front();
  const std::vector<rehearse::StripShot> shots{shot(true, 0.3, spread(0.25, 1.3, 8)),
                                               shot(false, 0.3, spread(0.25, 1.3, 5)),
                                               shot(true, 0.6, spread(0.3, 1.2, 4))};
  struct As {
    double exponent, share, opening_m;
  };
  for (const As& as : {As{1.0, 0.0, 0.0}, As{1.4, 0.3, 0.004}, As{0.7, 0.8, -0.006}}) {
    rehearse::StripTruth truth = nominal(plan);
    truth.exponent = as.exponent;
    truth.diffuse_share = as.share;
    truth.opening_m = as.opening_m;
    const auto film = laid(cathode, *plan.optic, truth, shots);
    const StripModel model(plan, written(plan, shots, film, 0.01), Range{});
    const std::vector<double> fitted = model.film_m(parameters_of(truth, model.held().size()));
    std::size_t i = 0;
    double worst = 0;
    for (const auto& exposure : film) {
      for (const double x : exposure) worst = std::max(worst, std::abs(fitted[i++] / x - 1));
    }
    CAPTURE(as.exponent);
    CHECK(worst < 1.5e-3);  // found 7e-4: the time-stepping code cuts whole elements at the shield's edge
  }
}

TEST_CASE("the table of turn means is as good as the turn means") {
  const plan::Plan& plan = tarn_ridge();
  const Layout layout(plan.chamber.cathodes.front(), *plan.optic);
  const std::vector<StripPlace> places{{Length::from_value(0.27), true}, {Length::from_value(1.28), false}};
  const TurnTable table(layout, places, Range{});
  for (const auto& [exponent, opening] :
       {std::pair{0.5, 0.013}, std::pair{1.0, 0.0}, std::pair{1.9, -0.017}, std::pair{2.5, 0.002}}) {
    const TurnMeans exact = turn_means(layout, places, exponent, opening);
    for (std::size_t i = 0; i < places.size(); ++i) {
      CHECK(table.straight(i, exponent, opening) == doctest::Approx(exact.straight[i]).epsilon(2e-4));
      CHECK(table.scattered(i, opening) == doctest::Approx(exact.scattered[i]).epsilon(2e-4));
    }
  }
}

TEST_CASE("true values lie in the stated intervals as often as they should") {
  rehearse::StripTruth about = nominal(tarn_ridge());
  about.exponent = 1.25;
  about.diffuse_share = 0.4;
  about.opening_m = 0.003;
  SUBCASE("all four told, by a strip through the shield and one without") {
    const Pulls p = pulls({shot(true, 0.3, spread(0.25, 1.3, 12)), shot(false, 0.3, spread(0.25, 1.3, 8))},
                          0.004, 16, 20, about, 1);
    hold_to_what_is_stated(p);
    for (const int from_strip : p.from_strip) CHECK(from_strip > 0.95 * p.strips);
  }
  SUBCASE("some told, by five points through the shield: the rest from the chamber file") {
    const Pulls p = pulls({shot(true, 0.3, spread(0.3, 1.25, 5))}, 0.01, 16, 20, nominal(tarn_ridge()), 1);
    hold_to_what_is_stated(p);
    CHECK(p.from_strip[0] == p.strips);
    CHECK(p.from_strip[2] < 0.05 * p.strips);
  }
}

namespace {

struct Found {
  Calibration calibration;
  Diagnostics findings;
};
Found found(const plan::Strip& strip) {
  const Result<Calibration> result = calibrate::calibrate(tarn_ridge(), strip);
  REQUIRE(result.ok());
  return {result.value(), result.diagnostics()};
}
bool says(const Diagnostics& findings, const std::string& rule) {
  for (const Diagnostic& d : findings) {
    if (d.rule == rule) return true;
  }
  return false;
}

}  // namespace

TEST_CASE("a strip of one radius tells film per energy and says that it tells no more") {
  const plan::Plan& plan = tarn_ridge();
  const std::vector<rehearse::StripShot> shots{shot(true, 0.3, {0.8, 0.8})};
  const auto film = laid(plan.chamber.cathodes.front(), *plan.optic, nominal(plan), shots);
  const Found one = found(written(plan, shots, film, 0.01));
  CHECK(says(one.findings, "strip-tells-too-little"));
  const Estimate<ThicknessPerEnergy> kappa = one.calibration.film_per_energy();
  CHECK(kappa.value.value() / nominal(plan).film_per_energy_m_per_j == doctest::Approx(1).epsilon(2e-3));
  // Two points of 1 %, the gauge's and the supply's 1 % and the energy's own 0.3 %: JCGM 100.
  CHECK(kappa.standard_uncertainty.value() / kappa.value.value() ==
        doctest::Approx(std::sqrt(0.5e-4 + 1e-4 + 1e-4 + 0.09e-4)).epsilon(0.01));
  for (std::size_t j = 1; j < parameter_count; ++j)
    CHECK(one.calibration.parameters[j].origin == Origin::chamber_file);
}

TEST_CASE("what one strip more would tell is what it does tell") {
  const plan::Plan& plan = tarn_ridge();
  rehearse::StripTruth truth = nominal(plan);
  truth.diffuse_share = 0.3;
  const auto radii = spread(0.25, 1.3, 8);
  std::vector<rehearse::StripShot> shots{shot(true, 0.3, radii)};
  const plan::Cathode& cathode = plan.chamber.cathodes.front();
  const Found before = found(written(plan, shots, laid(cathode, *plan.optic, truth, shots), 0.005));
  shots.push_back(shot(false, 0.3, radii));
  const Found after = found(written(plan, shots, laid(cathode, *plan.optic, truth, shots), 0.005));
  bool tried = false;
  for (const NextStrip& next : before.calibration.next) {
    if (next.what.find("without the shield") == std::string::npos) continue;
    tried = true;
    for (std::size_t j = 0; j < parameter_count; ++j) {
      CHECK(next.uncertainty[j] ==
            doctest::Approx(after.calibration.parameters[j].strip_uncertainty).epsilon(0.15));
    }
    CHECK(next.uncertainty[2] < 0.7 * before.calibration.parameters[2].strip_uncertainty);
  }
  CHECK(tried);
}

TEST_CASE("a wrong reading is pointed at, and a strip of another shield does not fit") {
  const plan::Plan& plan = tarn_ridge();
  const std::vector<rehearse::StripShot> shots{shot(true, 0.3, spread(0.25, 1.3, 10))};
  auto film = laid(plan.chamber.cathodes.front(), *plan.optic, nominal(plan), shots);
  auto wrong = film;
  wrong[0][4] *= 1.06;
  CHECK(says(found(written(plan, shots, wrong, 0.005)).findings, "strip-point-off"));
  CHECK_FALSE(says(found(written(plan, shots, film, 0.005)).findings, "strip-does-not-fit"));
  // Laid without a shield and written down as through it: like 1/r, which no parameter explains.
  const std::vector<rehearse::StripShot> bare{shot(false, 0.3, spread(0.25, 1.3, 10))};
  film = laid(plan.chamber.cathodes.front(), *plan.optic, nominal(plan), bare);
  CHECK(says(found(written(plan, shots, film, 0.005)).findings, "strip-does-not-fit"));
}

TEST_CASE("the budget adds up to the whole, and kappa's share of the common scales is as stated") {
  const plan::Plan& plan = tarn_ridge();
  const std::vector<rehearse::StripShot> shots{shot(true, 0.3, spread(0.25, 1.3, 10))};
  const Found one = found(
      written(plan, shots, laid(plan.chamber.cathodes.front(), *plan.optic, nominal(plan), shots), 0.005));
  std::array<double, parameter_count> sum{};
  for (const Share& share : one.calibration.budget) {
    for (std::size_t j = 0; j < parameter_count; ++j) sum[j] += share.share[j];
    if (share.source != "scale of the thickness gauge") continue;
    const Estimate<ThicknessPerEnergy> kappa = one.calibration.film_per_energy();
    const double relative = kappa.standard_uncertainty.value() / kappa.value.value();
    CHECK(share.share[0] == doctest::Approx(1e-4 / (relative * relative)).epsilon(0.01));
  }
  // The weak hold on what is called free is not a source: a thousandth.
  for (const double s : sum) CHECK(s == doctest::Approx(1).epsilon(5e-3));
}

TEST_CASE("the block goes into the chamber file, and the loader takes it") {
  const plan::Plan& plan = tarn_ridge();
  const plan::Cathode& cathode = plan.chamber.cathodes.front();
  rehearse::StripTruth truth = nominal(plan);
  truth.opening_m = 0.004;
  truth.diffuse_share = 0.4;
  truth.film_per_energy_m_per_j *= 1.08;
  const std::vector<rehearse::StripShot> shots{shot(true, 0.3, spread(0.25, 1.3, 12)),
                                               shot(false, 0.3, spread(0.25, 1.3, 8))};
  const Found one = found(written(plan, shots, laid(cathode, *plan.optic, truth, shots), 0.003));
  const std::string& block = one.calibration.block;
  const std::filesystem::path folder = std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge";
  std::string chamber = std::string(read_file(folder / "chamber.toml", largest_plan_file).value());
  const auto replace = [&](const std::string& from, const std::string& to, const std::string& text) {
    const auto first = chamber.find(from);
    REQUIRE(first != std::string::npos);
    chamber.replace(first, chamber.find(to, first) - first, text);
  };
  const auto tables = block.find("\n# As the strip sees it");
  REQUIRE(tables != std::string::npos);
  replace("[cathode.shield]", "[rotation]", block.substr(tables) + "\n");
  replace("emission_exponent =", "\n", block.substr(0, tables));
  const plan::ReadSource read =
      [&](const std::filesystem::path& path) -> Result<std::shared_ptr<const Source>> {
    if (path.filename() != "chamber.toml") return plan::read_from_disk(path);
    return std::shared_ptr<const Source>(std::make_shared<Source>("chamber.toml", chamber));
  };
  const Result<plan::Plan> again = plan::load(folder / "aluminium-90nm.toml", read);
  for (const Diagnostic& d : again.diagnostics()) MESSAGE(to_text(d));
  REQUIRE(again.ok());
  const plan::Cathode& now = again.value().chamber.cathodes.front();
  CHECK(now.calibration.film_per_energy.value.value() / truth.film_per_energy_m_per_j ==
        doctest::Approx(1).epsilon(5e-3));
  CHECK(now.calibration.date.value == "2031-03-04");
  CHECK(now.calibration.shield.value == cathode.shield.value);
  CHECK(now.calibration.target_serial.value == cathode.target_serial.value);
  CHECK((now.shield_opening[2].opening.value - cathode.shield_opening[2].opening.value).value() ==
        doctest::Approx(0.004).epsilon(0.25));
  CHECK(now.calibration.diffuse_share.value.value() == doctest::Approx(0.4).epsilon(0.1));
}
