// Published optical constants, and from which thickness a film is opaque.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "outside.hpp"
#include "physics/physics.hpp"

using namespace vacuary;
using namespace vacuary::physics;
using physics_test::outside;

namespace {
Length nm(double x) { return Length::from_value(x * 1e-9); }
}  // namespace

TEST_CASE("Lorentz-Drude model of silver, chromium and nickel against the published tables of it") {
  struct Row {
    const char* metal;
    double nm, n, k;
  };
  // Wavelengths there are printed to five digits, constants to five: 5e-4 covers both.
  for (const Row& row : {Row{"Ag", 544.37, .13381, 3.1276},
                         {"Ag", 637.09, .14432, 3.8404},
                         {"Ag", 1001.3, .21994, 6.4341},
                         {"Cr", 400.0 + 1.08, 1.7714, 3.5652},
                         {"Cr", 552.64, 2.9196, 4.2370},
                         {"Cr", 998.35, 4.4537, 4.2425},
                         {"Ni", 399.48, 1.6285, 2.3684},
                         {"Ni", 549.58, 1.8136, 3.2564},
                         {"Ni", 633.29, 2.0160, 3.6857}}) {
    const auto index = lorentz_drude(row.metal, nm(row.nm));
    REQUIRE(index.has_value());
    const std::string at = std::string(row.metal) + ", " + std::to_string(static_cast<int>(row.nm)) + " nm";
    outside("Optical constants", "Lorentz-Drude n, " + at, index->n, row.n, 5e-4,
            "Rakic et al. (1998), tabulated model", "rounded wavelengths");
    outside("Optical constants", "Lorentz-Drude k, " + at, index->k, row.k, 5e-4,
            "Rakic et al. (1998), tabulated model", "rounded wavelengths");
  }
  CHECK_FALSE(lorentz_drude("Au", nm(500)).has_value());
}

TEST_CASE("fused silica and silicon nitride") {
  outside("Optical constants", "fused silica, 633 nm", sellmeier("SiO2", nm(633))->n, 1.457012, 2e-6,
          "Malitson (1965)", "seven digits");
  // Philipp, J. Electrochem. Soc. 120, 295 (1973), has 2.02 at 633 nm, from memory; films differ by a few
  // percent.
  CHECK(sellmeier("Si3N4", nm(633))->n == doctest::Approx(2.02).epsilon(0.03));
  CHECK_FALSE(sellmeier("MgF2", nm(633)).has_value());
}

TEST_CASE("every material has its sources, and none is carried on past its table") {
  CHECK(published_constants("Al", nm(550)).size() == 4);
  CHECK(published_constants("Al", nm(1200)).size() == 1);
  CHECK(published_constants("Ag", nm(550)).size() == 2);
  CHECK(published_constants("Cr", nm(550)).size() == 2);
  CHECK(published_constants("Ni", nm(1100)).size() == 1);
  CHECK(published_constants("SiO2", nm(550)).front().source.substr(0, 8) == "Malitson");
  CHECK(published_constants("Si3N4", nm(550)).front().source.substr(0, 4) == "Luke");
  CHECK(published_constants("Xx", nm(550)).empty());
  for (const char* material : {"Al", "Ag", "Cr", "Ni"}) {
    for (double wavelength = 360; wavelength < 1000; wavelength += 20) {
      for (const NamedIndex& c : published_constants(material, nm(wavelength))) {
        CHECK(c.index.n > 0);
        CHECK(c.index.k > 0);
        CHECK(bulk_reflectance(c.index).value() > 0.3);
        CHECK(bulk_reflectance(c.index).value() < 1);
      }
    }
  }
}

TEST_CASE("sources differ by what the README says") {
  // Reflectance at 550 nm by two sources: silver 3 %, nickel 6 %, chromium 17 %.
  const auto spread = [](const char* material) {
    const auto all = published_constants(material, nm(550));
    return std::abs(bulk_reflectance(all[0].index).value() / bulk_reflectance(all[1].index).value() - 1);
  };
  CHECK(spread("Ag") < 0.035);
  CHECK(spread("Cr") < 0.18);
  CHECK(spread("Ni") < 0.065);
}

TEST_CASE("opaque thickness of aluminium at 633 nm") {
  const Index al{1.450, 7.539};
  const Index silica = *sellmeier("SiO2", nm(633));
  const auto r = [&](double t) { return stack({{al, nm(t)}}, silica, nm(633)).reflectance.value(); };
  const char* const source = "Rakic (1995) constants, transfer matrix worked out";
  outside("Optics", "Al on silica, 633 nm, 40 nm, R", r(40), .90556, 2e-4, source,
          "the substrate's index is not stated");
  outside("Optics", "Al on silica, 633 nm, 60 nm, R", r(60), .90764, 1e-4, source, "five digits");
  outside("Optics", "Al on silica, 633 nm, 80 nm, R", r(80), .90772, 1e-4, source, "five digits");
  // 40 nm is 2.2e-3 short of bulk, 60 nm 1e-4: a thousandth lies between.
  const auto thick = opaque_thickness(al, silica, nm(633));
  REQUIRE(thick.has_value());
  CHECK(thick->value() > 40e-9);
  CHECK(thick->value() < 60e-9);
  CHECK(std::abs(r(thick->value() * 1e9) - bulk_reflectance(al).value()) <= 0.001);
  CHECK(std::abs(r(thick->value() * 1e9 - 0.5) - bulk_reflectance(al).value()) > 0.001);
  CHECK_FALSE(opaque_thickness({2.0, 0}, silica, nm(633)).has_value());
}

TEST_CASE(
    "a native oxide lowers aluminium a little, a silica overcoat of half a wave hardly, of a quarter more") {
  const Index al = lorentz_drude_aluminium(nm(550));
  const Index silica = *sellmeier("SiO2", nm(550));
  const auto r = [&](const std::vector<Layer>& over) {
    std::vector<Layer> layers = over;
    layers.push_back({al, nm(90)});
    return stack(layers, {1.47, 0}, nm(550)).reflectance.value();
  };
  const double bare = r({}), oxide = r({{native_oxide, nm(3)}}),
               quarter = r({{silica, nm(550 / 4.0 / silica.n)}});
  CHECK(oxide < bare);
  CHECK(oxide > bare - 0.01);
  CHECK(quarter < oxide);
}
