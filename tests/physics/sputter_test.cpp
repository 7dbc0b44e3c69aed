// Yield, mass per energy and transport through the gas.
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <string>

#include "outside.hpp"
#include "physics/physics.hpp"

using namespace vacuary;
using namespace vacuary::physics;
using physics_test::outside;

namespace {

const std::string yamamura = "Yamamura and Tawara (1996), worked out";

YieldTerms argon_on(const char* symbol, double ev) {
  return sputter_yield_terms(18, 39.948, *find_target(symbol), ev);
}

}  // namespace

TEST_CASE("sputtering thresholds of argon") {
  struct Row {
    const char* symbol;
    double ev;
  };
  for (const Row& row : {Row{"Al", 23.60}, {"Cr", 22.44}, {"Ni", 22.48}, {"Cu", 16.87}, {"Ag", 11.63}}) {
    outside("Yield", std::string("threshold, Ar on ") + row.symbol + ", eV",
            argon_on(row.symbol, 500).threshold_ev, row.ev, 5e-4, yamamura, "four digits");
  }
  outside("Yield", "threshold, Ar on Si, eV, as printed", argon_on("Si", 500).threshold_ev, 32.0, 1e-3,
          "Yamamura and Tawara (1996), printed", "three digits");
}

TEST_CASE("argon on aluminium at 500 eV, step by step") {
  const YieldTerms t = argon_on("Al", 500);
  struct Row {
    const char* what;
    double got, expected;
  };
  for (const Row& row : {Row{"reduced energy", t.reduced_energy, 7.9628e-3},
                         {"sn", t.sn, .19759},
                         {"Sn, eV A2", t.sn_ev_a2, 664.53},
                         {"k", t.k, .12362},
                         {"a*", t.a, .20424},
                         {"G", t.g, .011611},
                         {"yield", t.yield, .9112}}) {
    outside("Yield", std::string("Ar on Al, 500 eV, ") + row.what, row.got, row.expected, 3e-4, yamamura,
            "four to five digits");
  }
  // ln(e + 2.1718), a slip in copies of the formula, gives .708: this must stay far from it.
  CHECK(t.yield > 0.85);
  const double e = t.reduced_energy;
  CHECK(t.yield * std::log(e + 2.1718) / std::log(e + 2.718) == doctest::Approx(0.708).epsilon(2e-3));
}

TEST_CASE("yields of argon") {
  const std::array<double, 5> ev{200, 300, 400, 500, 600};
  struct Row {
    const char* symbol;
    std::array<double, 5> y;
  };
  for (const Row& row : {Row{"Al", {.4264, .6210, .7787, .9112, 1.0254}},
                         {"Ag", {1.385, 1.911, 2.339, 2.702, 3.018}},
                         {"Cu", {.838, 1.174, 1.447, 1.676, 1.874}}}) {
    for (std::size_t i = 0; i < ev.size(); ++i) {
      outside("Yield",
              std::string("Ar on ") + row.symbol + ", " + std::to_string(static_cast<int>(ev[i])) + " eV",
              argon_on(row.symbol, ev[i]).yield, row.y[i], 5e-4, yamamura, "three to four digits");
    }
  }
}

TEST_CASE("measured yields: the formula is good to about 25 %") {
  struct Row {
    double ev, y;
  };
  for (const Row& row : {Row{201.7, 1.089}, {252.5, 1.346}, {353.7, 1.748}, {404.1, 1.986}, {503.6, 2.178}}) {
    outside("Yield", "measured Ar on Cu, " + std::to_string(row.ev).substr(0, 5) + " eV",
            argon_on("Cu", row.ev).yield, row.y, 0.30, "Laegreid and Wehner (1961), digitised",
            "what a yield formula is worth, plus 2 % of digitising");
  }
  // The same paper's aluminium, from memory and so never the only check: 200 eV .35, 500 eV 1.05.
  CHECK(argon_on("Al", 200).yield == doctest::Approx(0.35).epsilon(0.25));
  CHECK(argon_on("Al", 500).yield == doctest::Approx(1.05).epsilon(0.25));
}

TEST_CASE("no sputtering below the threshold, and more with more energy above it") {
  for (const char* symbol : {"Al", "Si", "Cr", "Ni", "Cu", "Ag"}) {
    const double threshold = argon_on(symbol, 500).threshold_ev;
    CHECK(argon_on(symbol, threshold * 0.99).yield == 0);
    double last = 0;
    for (double ev = threshold * 1.01; ev < 2000; ev *= 1.2) {
      CHECK(argon_on(symbol, ev).yield > last);
      last = argon_on(symbol, ev).yield;
    }
  }
  CHECK(find_target("Xx") == nullptr);
}

TEST_CASE("erosion and mass per energy") {
  outside("Sputtering", "Al removed at 1 mA/cm2 and yield 1, nm/s",
          erosion_rate(Ratio::of(1), Current::from_value(10), Area::from_value(1), 26.981538e-3,
                       MassDensity::from_value(2698.9))
                  .value() *
              1e9,
          1.0361, 1e-4, "definition of the yield", "five digits");
  // Erosion times area and density over power is the mass per energy: one law two ways.
  const Voltage v = Voltage::from_value(480);
  const MassPerEnergy m = sputtered_mass_per_energy(Ratio::of(.95), 26.981538e-3, v, Ratio::of(0.1));
  const double ions_a = 1 / (480 * 1.1);  // ion current of one watt
  CHECK(m.value() ==
        doctest::Approx(erosion_rate(Ratio::of(.95), Current::from_value(ions_a), Area::from_value(1),
                                     26.981538e-3, MassDensity::from_value(2700))
                            .value() *
                        2700));
}

TEST_CASE("the sample plant's film per energy is plausible") {
  // A worked example of the sample plant: 1.81 g/kWh sputtered, a share of .304 through the shield, transport
  // .751, 5.113 m2 at 2700 kg/m3.
  const MassPerEnergy m =
      sputtered_mass_per_energy(Ratio::of(.95), 26.981538e-3, Voltage::from_value(480), Ratio::of(0.1));
  CHECK(m.value() * 3.6e6 * 1e3 == doctest::Approx(1.81).epsilon(2e-3));
  const Ratio through =
      transported_share(Pressure::from_value(0.30), Length::from_value(0.2), PressureLength::from_value(0.1));
  CHECK(through.value() == doctest::Approx(.751).epsilon(2e-3));
  const ThicknessPerEnergy kappa = plausible_film_per_energy(
      m, Ratio::of(.304), through, MassDensity::from_value(2700), Area::from_value(5.113));
  CHECK(kappa.value() * 3.6e6 * 1e9 == doctest::Approx(29.9).epsilon(5e-3));
  CHECK(power_density(Power::from_value(15e3), Area::from_value(1.5 * 0.25)).value() ==
        doctest::Approx(4.0e4));
}

TEST_CASE("transport through the gas") {
  const auto f = [](double x) {
    return transported_share(Pressure::from_value(x), Length::from_value(1), PressureLength::from_value(1))
        .value();
  };
  outside("Transport", "x = 1", f(1), .632121, 1e-6, "Keller and Simmons (1979), worked out", "six digits");
  outside("Transport", "x = 2", f(2), .432332, 1e-6, "Keller and Simmons (1979), worked out", "six digits");
  CHECK(f(0) == 1);
  CHECK(f(1e-12) == doctest::Approx(1));
  // The sensitivity is the derivative, also where the formula cancels.
  for (double x : {1e-9, 1e-3, 0.6, 2.0, 10.0}) {
    const double h = 1e-4;
    const double slope = (std::log(f(x * (1 + h))) - std::log(f(x * (1 - h)))) / (2 * h);
    const double got =
        transport_sensitivity(Pressure::from_value(x), Length::from_value(1), PressureLength::from_value(1))
            .value();
    CHECK(std::abs(got - slope) < 1e-7);
  }
}
