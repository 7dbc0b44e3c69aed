// The figures that are followed over many runs, worked out by hand from the sample account.
#include <doctest/doctest.h>

#include <cmath>

#include "report/report.hpp"
#include "sample_account.hpp"

using namespace vacuary;
using doctest::Approx;

namespace {

const report::RunFigure* named(const std::vector<report::RunFigure>& figures, const std::string& name) {
  for (const report::RunFigure& f : figures) {
    if (f.name == name) return &f;
  }
  return nullptr;
}

plan::Plan sample_plan() {
  auto loaded = plan::load(std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/aluminium-90nm.toml");
  REQUIRE(loaded.ok());
  return std::move(loaded).value();
}

}  // namespace

TEST_CASE("the figures of a run") {
  const plan::Plan plan = sample_plan();
  run::Account account = testing::sample_account();
  run::RateOfRise rise;
  // 1 mbar L/s of gas at 20 degC is 0.1 Pa m3/s over R T.
  const double mbar_l = 0.1 / (constants::gas_j_per_mol_k * 293.15);
  rise.leak_at_most = {MolarFlow::from_value(2e-4 * mbar_l), MolarFlow::from_value(1e-5 * mbar_l)};
  account.vacuum.rises.push_back(rise);
  const std::vector<report::RunFigure> figures = report::run_figures(plan, account);
  REQUIRE(named(figures, "base_pressure") != nullptr);
  CHECK(named(figures, "base_pressure")->value == Approx(9.7e-7));
  CHECK(*named(figures, "base_pressure")->expanded_uncertainty == Approx(2e-7));
  CHECK(named(figures, "base_pressure")->unit == "mbar");
  CHECK(named(figures, "pumpdown_time")->value == Approx(16800.0 / 3600));
  CHECK(named(figures, "leak_at_most")->value == Approx(2e-4));
  CHECK(*named(figures, "leak_at_most")->expanded_uncertainty == Approx(2e-5));
  CHECK(named(figures, "leak_at_most")->unit == "mbar*L/s");
  CHECK(named(figures, "film_thickness")->value == Approx(89.4321));
  CHECK(*named(figures, "film_thickness")->expanded_uncertainty == Approx(4.82));
  CHECK(named(figures, "film_energy")->value == Approx(2.98));
  CHECK(named(figures, "energy_per_thickness")->value == Approx(2.98 / 89.4321));
  // 420 kWh by the chamber file and 14.9 kW for 724.25 s.
  CHECK(named(figures, "target_energy_used")->value == Approx(420 + 14.9 * 724.25 / 3600));
  CHECK(named(figures, "target_energy_used")->subject == "target TR-AL-07");
  CHECK(named(figures, "target_energy_rated")->value == Approx(1500));
  account.film.claimed = false;
  account.vacuum = {};
  account.steps.clear();
  const std::vector<report::RunFigure> fewer = report::run_figures(plan, account);
  CHECK(fewer.size() == 1);
  CHECK(named(fewer, "film_energy") != nullptr);
}

TEST_CASE("measurements of several places give their mean, no better known than the instrument") {
  plan::Measured measured;
  for (const double value : {0.91, 0.92, 0.90}) {
    plan::MeasuredReflectance r;
    r.wavelength.value = Length::from_value(550.2e-9);
    r.value.value = Ratio::of(value);
    r.uncertainty.value = Ratio::of(0.002);
    measured.reflectance.push_back(r);
  }
  measured.tape.push_back({plan::TapeResult::passed, {}});
  const std::vector<report::RunFigure> figures = report::measured_figures(measured);
  REQUIRE(figures.size() == 2);
  CHECK(figures[0].name == "reflectance_550nm");
  CHECK(figures[0].value == Approx(0.91));
  // Standard deviation of the three 0.01: of their mean 0.01/sqrt 3, with the instrument's 0.002, k = 2.
  CHECK(*figures[0].expanded_uncertainty == Approx(2 * std::hypot(0.01 / std::sqrt(3.0), 0.002)));
  CHECK(figures[1].name == "tape_passed");
  CHECK(figures[1].value == 1);
}
