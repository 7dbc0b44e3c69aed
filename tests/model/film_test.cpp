// Film per energy: the calibration carried to other states.
#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "model/model.hpp"
#include "physics/physics.hpp"
#include "tarn_ridge.hpp"

using namespace vacuary;
using model::film_per_energy;
using model::FilmPerEnergy;
using model_test::tarn_ridge;

namespace {

constexpr double nm_per_kwh = 1e-9 / 3.6e6;

struct State {
  double volt = 480, pa = 0.30, kwh = 420;
};

FilmPerEnergy at(const State& s, const plan::Chamber& chamber, const std::string& gas = {}) {
  return film_per_energy(chamber, chamber.cathodes.front(), Voltage::from_value(s.volt),
                         Pressure::from_value(s.pa), Energy::from_value(s.kwh * 3.6e6), gas);
}
FilmPerEnergy at(const State& s) { return at(s, tarn_ridge().chamber); }

double value(const FilmPerEnergy& film) { return film.value.value.value() / nm_per_kwh; }
double relative(const FilmPerEnergy& film) { return film.value.standard_uncertainty / film.value.value; }

}  // namespace

TEST_CASE("at the calibrated state it is the calibration, with its uncertainty and nothing else") {
  const FilmPerEnergy film = at({});
  CHECK(value(film) == doctest::Approx(30.0).epsilon(1e-12));
  CHECK(relative(film) == doctest::Approx(0.025).epsilon(1e-9));
  REQUIRE(film.budget.size() == 1);
  CHECK(film.budget.front().share.value() == doctest::Approx(1));
  CHECK(film.claimable);
  CHECK(film.doubts.empty());
}

TEST_CASE("argon sag: 30 % less pressure gives 5 to 9 % more film per energy") {
  // The sample plant's figure for a sag, worked out by Keller and Simmons with p0d0 of 10 Pa cm.
  const double rise = value(at({480, 0.21, 420})) / 30.0 - 1;
  CHECK(rise > 0.05);
  CHECK(rise < 0.09);
  CHECK(relative(at({480, 0.21, 420})) > 0.025);
}

TEST_CASE("voltage: inside the band it follows yield(V)/V, outside nothing may be claimed") {
  const physics::TargetElement& al = *physics::find_target("Al");
  for (double volt : {456.0, 470.0, 500.0, 504.0}) {
    const FilmPerEnergy film = at({volt, 0.30, 420});
    const double expected = physics::argon_yield(al, Voltage::from_value(volt)).value() / volt /
                            (physics::argon_yield(al, Voltage::from_value(480)).value() / 480);
    CHECK(value(film) == doctest::Approx(30.0 * expected).epsilon(1e-12));
    CHECK(film.claimable);
  }
  // A wet or oxidised target: voltage 100 V low, power and energy perfect.
  const FilmPerEnergy wet = at({380, 0.30, 420});
  CHECK_FALSE(wet.claimable);
  CHECK(wet.why_not == "the cathode voltage of 380 V is outside the calibrated 480 V +/- 25 V");
  const FilmPerEnergy unknown = at({std::numeric_limits<double>::quiet_NaN(), 0.30, 420});
  CHECK_FALSE(unknown.claimable);
  CHECK(value(unknown) == doctest::Approx(30.0));
  CHECK_FALSE(at({0, 0.30, 420}).claimable);
}

TEST_CASE("erosion: linear over the rated life, from where the calibration was taken") {
  // 12 % over 1500 kWh, calibrated at 420 kWh: at the end of life (1 - .12) / (1 - .12 * .28).
  CHECK(value(at({480, 0.30, 1500})) == doctest::Approx(30.0 * 0.88 / (1 - 0.12 * 0.28)).epsilon(1e-9));
  CHECK(value(at({480, 0.30, 0})) > 30.0);
  CHECK(at({480, 0.30, 1501}).doubts.size() == 1);
}

TEST_CASE("far from the calibrated pressure it says so; an unknown pressure is said, not guessed") {
  CHECK(at({480, 0.59, 420}).doubts.empty());
  CHECK(at({480, 0.61, 420}).doubts.size() == 1);
  CHECK(at({480, 0.14, 420}).doubts.size() == 1);
  CHECK(at({480, std::numeric_limits<double>::quiet_NaN(), 420}).doubts.size() == 1);
}

TEST_CASE("an unknown pressure costs what half of the calibrated, rectangular, would do to the film") {
  const FilmPerEnergy film = at({480, std::numeric_limits<double>::quiet_NaN(), 420});
  CHECK(value(film) == doctest::Approx(30.0));
  REQUIRE(film.budget.size() == 2);
  CHECK(film.budget[1].input == "working pressure not known");
  // By the difference of film at pressures a little off.
  const double h = 1e-4;
  const double slope =
      (std::log(value(at({480, 0.3 * (1 + h), 420}))) - std::log(value(at({480, 0.3 * (1 - h), 420})))) /
      (2 * h);
  CHECK(film.budget[1].standard_uncertainty.value() == doctest::Approx(0.5 / std::sqrt(3.0)));
  const double expected = 0.5 / std::sqrt(3.0) * std::abs(slope);
  CHECK(film.budget[1].contribution.value() == doctest::Approx(expected).epsilon(1e-6));
  CHECK(relative(film) == doctest::Approx(std::hypot(0.025, expected)).epsilon(1e-6));
  REQUIRE(film.doubts.size() == 1);
  CHECK(
      film.doubts.front() ==
      "the working pressure is not known: film per energy taken at the calibrated pressure, as if that were "
      "right to within half of it");
}

TEST_CASE("another shield, target or gas takes the claim away, each with its reason") {
  plan::Chamber chamber = tarn_ridge().chamber;
  chamber.cathodes.front().shield.value = "trim-4";
  CHECK(at({}, chamber).why_not ==
        "the film per energy was measured with shield trim-3, the cathode has trim-4");
  chamber.cathodes.front().target_serial.value = "TR-AL-08";
  CHECK_FALSE(at({}, chamber).claimable);
  CHECK(at({}, chamber).why_not.find("TR-AL-08") != std::string::npos);
  CHECK(at({}, tarn_ridge().chamber, "Ar").claimable);
  CHECK_FALSE(at({}, tarn_ridge().chamber, "Kr").claimable);
}

TEST_CASE("budget shares add to one and contributions to the combined uncertainty") {
  const FilmPerEnergy film = at({500, 0.2, 900});
  double shares = 0, squares = 0;
  for (const model::BudgetLine& line : film.budget) {
    shares += line.share.value();
    squares += line.contribution.value() * line.contribution.value();
  }
  CHECK(film.budget.size() == 4);
  CHECK(shares == doctest::Approx(1));
  CHECK(std::sqrt(squares) == doctest::Approx(relative(film)));
}

TEST_CASE("pressure sensitivity is the derivative of film per energy") {
  const plan::Cathode& cathode = tarn_ridge().chamber.cathodes.front();
  const double h = 1e-4;
  const double slope =
      (std::log(value(at({480, 0.3 * (1 + h), 420}))) - std::log(value(at({480, 0.3 * (1 - h), 420})))) /
      (2 * h);
  CHECK(model::film_pressure_sensitivity(cathode, Pressure::from_value(0.3)).value() ==
        doctest::Approx(slope).epsilon(1e-6));
}
