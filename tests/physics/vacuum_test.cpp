// Conductance, kinetic theory, flow, gauges and rate of rise.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "outside.hpp"
#include "physics/physics.hpp"

using namespace vacuary;
using namespace vacuary::physics;
using physics_test::outside;

namespace {

const Temperature room = Temperature::from_value(293.15);
const char* const worked = "printed to that many digits";

Area cm2(double x) { return Area::from_value(x * 1e-4); }
Length cm(double x) { return Length::from_value(x * 1e-2); }
Pressure pa(double x) { return Pressure::from_value(x); }
double litres(PumpingSpeed s) { return s.value() * 1000; }

}  // namespace

TEST_CASE("conductance of an aperture per cm2 at 20 degC") {
  struct Row {
    const char* gas;
    double value;
  };
  for (const Row& row :
       {Row{"air", 11.572}, {"N2", 11.768}, {"Ar", 9.854}, {"H2O", 14.674}, {"O2", 11.011}}) {
    outside("Conductance", std::string("aperture, ") + row.gas + ", 20 degC, L/s per cm2",
            litres(aperture_conductance(*find_gas(row.gas), room, cm2(1))), row.value, 2e-4,
            "kinetic theory, A sqrt(R T / (2 pi M))", "value has five digits, molar masses agree to four");
  }
  outside("Conductance", "aperture, air, 20 degC, as textbooks print it",
          litres(aperture_conductance(*find_gas("air"), room, cm2(1))), 11.6, 5e-3, "vacuum textbooks",
          "three digits");
}

TEST_CASE("conductance of a long tube at 20 degC") {
  struct Row {
    const char* gas;
    double value;
  };
  for (const Row& row : {Row{"air", 12.118}, {"N2", 12.323}, {"Ar", 10.319}, {"H2O", 15.367}}) {
    outside("Conductance", std::string("long tube, ") + row.gas + ", d^3/L in cm2, L/s",
            litres(long_tube_conductance(*find_gas(row.gas), room, {cm(1), cm(1)})), row.value, 2e-4,
            "Knudsen (1909), pi d^3 v / (12 L)", worked);
  }
  outside("Conductance", "tube 5 cm by 30 cm, air, L/s",
          litres(long_tube_conductance(*find_gas("air"), room, {cm(5), cm(30)})), 50.42, 2e-3,
          "university problem set, 12.1 d^3/L", "the problem rounds the coefficient to 12.1");
}

TEST_CASE("a tube tends to the aperture when short and to the long tube when long") {
  const Gas& n2 = *find_gas("N2");
  const double area_m2 = std::numbers::pi * 0.05 * 0.05 / 4;
  const double aperture = aperture_conductance(n2, room, Area::from_value(area_m2)).value();
  CHECK(tube_conductance_molecular(n2, room, {cm(5), cm(1e-6)}).value() ==
        doctest::Approx(aperture).epsilon(1e-6));
  const Tube longest{cm(5), cm(5e5)};
  CHECK(tube_conductance_molecular(n2, room, longest).value() ==
        doctest::Approx(long_tube_conductance(n2, room, longest).value()).epsilon(1e-4));
}

TEST_CASE("Knudsen's tube: molecular at low pressure, Poiseuille at high, a shallow minimum between") {
  const Gas& air = *find_gas("air");
  const Tube tube{cm(10), cm(300)};
  const double molecular = long_tube_conductance(air, room, tube).value();
  CHECK(tube_conductance(air, room, tube, pa(1e-6)).value() == doctest::Approx(molecular).epsilon(1e-4));
  const double p = 1e4, eta = viscosity_pa_s(air, room);
  CHECK(tube_conductance(air, room, tube, pa(p)).value() ==
        doctest::Approx(std::numbers::pi * 1e-4 * p / (128 * eta * 3)).epsilon(2e-3));
  // Knudsen's minimum lies a few percent under the molecular value.
  double least = molecular;
  for (double x = 1e-4; x < 10; x *= 1.2)
    least = std::min(least, tube_conductance(air, room, tube, pa(x)).value());
  CHECK(least < 0.99 * molecular);
  CHECK(least > 0.90 * molecular);
}

TEST_CASE("viscosity of air from its molecules' diameter") {
  // NIST chemistry webbook: 18.2 uPa s at 293 K; the hard sphere is adjusted to within a few percent.
  outside("Conductance", "viscosity of air, 20 degC, uPa s", viscosity_pa_s(*find_gas("air"), room) * 1e6,
          18.2, 0.05, "common tables of air", "hard spheres of one diameter");
}

TEST_CASE("conductances in series") {
  const auto s = [](double x) { return PumpingSpeed::from_value(x); };
  CHECK(in_series({s(2), s(2)}).value() == doctest::Approx(1));
  CHECK(in_series({s(3)}).value() == doctest::Approx(3));
  CHECK(in_series({s(3), s(0)}).value() == 0);
  CHECK(in_series({}).value() == 0);
  // Problem set: 50.42 L/s tube before a 10 L/s pump; 600 cm2 of 1e-8 Torr L/s/cm2.
  const double speed =
      in_series({long_tube_conductance(*find_gas("air"), room, {cm(5), cm(30)}), s(0.010)}).value();
  outside("Conductance", "cube of steel behind tube and pump, Torr", 6e-6 / (speed * 1000), 7.190e-7, 1e-3,
          "university problem set, 12.1 d^3/L", "the problem rounds the coefficient to 12.1");
}

TEST_CASE("mean free path") {
  struct Row {
    const char* gas;
    double value;
  };
  for (const Row& row : {Row{"N2", 6.478e-3}, {"air", 6.654e-3}, {"Ar", 6.876e-3}}) {
    outside("Kinetics", std::string("mean free path times pressure, ") + row.gas + ", 20 degC, m Pa",
            mean_free_path(*find_gas(row.gas), room, pa(1)).value(), row.value, 2e-4, "kT / (sqrt2 pi d^2)",
            worked);
  }
  outside("Kinetics", "mean free path of air at 1e-3 mbar, cm",
          mean_free_path(*find_gas("air"), room, pa(0.1)).value() * 100, 6.6, 1e-2, "lecture notes on vacuum",
          "two digits");
}

TEST_CASE("impingement at 1 Pa, 20 degC") {
  struct Row {
    const char* gas;
    double value;
  };
  for (const Row& row : {Row{"N2", 2.9075e22}, {"Ar", 2.4347e22}, {"H2O", 3.6256e22}, {"O2", 2.7204e22}}) {
    outside("Kinetics", std::string("impingement, ") + row.gas + ", 1 Pa, 20 degC, per m2 s",
            impingement(*find_gas(row.gas), room, pa(1)).value() * constants::avogadro_per_mol, row.value,
            1e-4, "p / sqrt(2 pi m k T)", worked);
  }
}

TEST_CASE("monolayer time") {
  outside("Kinetics", "monolayer time, N2, 1.33e-4 Pa, 300 K, 1e-19 m2 a site, s",
          monolayer_time(*find_gas("N2"), Temperature::from_value(300), pa(1.33e-4), Area::from_value(1e-19))
              .value(),
          2.6156, 1e-3, "open worked example", "its molecular mass is rounded to 4.65e-26 kg");
}

TEST_CASE("gas against metal") {
  const FilmMaterial al{MassDensity::from_value(2698.9), 26.981538e-3};
  const auto rate = [](double nm_per_s) { return DepositionRate::from_value(nm_per_s * 1e-9); };
  struct Row {
    const char* gas;
    double pressure_pa, nm_per_s, value;
  };
  const double torr = 101325.0 / 760;
  for (const Row& row : {Row{"H2O", 1e-4, 0.1, .6019},
                         {"H2O", 1e-4, 1, .06019},
                         {"H2O", 1e-4, 5, .01204},
                         {"H2O", 1e-4, 10, .006019},
                         {"O2", 1e-4, 1, .04516},
                         {"H2O", 1e-6 * torr, 1, .08024}}) {
    outside("Residual gas",
            std::string(row.gas) + " per Al atom at " + std::to_string(row.nm_per_s).substr(0, 4) + " nm/s",
            gas_per_metal(*find_gas(row.gas), room, pa(row.pressure_pa), al, rate(row.nm_per_s)).value(),
            row.value, 5e-4, "impingement over rho N_A v / M", worked);
  }
  // Invariant: the ratio is proportional to pressure and to one over rate.
  const double one = gas_per_metal(*find_gas("H2O"), room, pa(1), al, rate(1)).value();
  CHECK(gas_per_metal(*find_gas("H2O"), room, pa(3), al, rate(2)).value() == doctest::Approx(1.5 * one));
}

TEST_CASE("pressure from flow and speed, and back") {
  const auto sccm = [](double x) {
    return WrittenFlow{FlowBasis::standard, x * 1e-6 / 60}.resolve(GasReference::usual());
  };
  outside("Flow", "1 sccm at 20 degC, Pa m3/s", throughput(sccm(1), room).pa_m3_per_s(), 1.81240e-3, 1e-5,
          "p V = n R T", worked);
  const PumpingSpeed speed = PumpingSpeed::from_value(1.5);
  const Pressure p = flow_pressure(sccm(250), speed, room);
  CHECK(p.value() == doctest::Approx(0.30207).epsilon(1e-4));
  CHECK(flow_for_pressure(p, speed, room).value() == doctest::Approx(sccm(250).value()));
  outside("Flow", "vacuum-decay test, Pa m3/s",
          leak_throughput(PressureRate::from_value((50600.0 - 25300) / 70), Volume::from_value(0.002))
              .pa_m3_per_s(),
          0.72286, 1e-5, "40 CFR 1065.644, worked example", worked);
  outside(
      "Flow", "vacuum-decay test, mol/s",
      leak_bound(PressureRate::from_value((50600.0 - 25300) / 70), Volume::from_value(0.002), room).value(),
      2.9657e-4, 3e-5, "40 CFR 1065.644, worked example", worked);
}

TEST_CASE("gauges: reading and true pressure are each other's inverse") {
  for (double s : {0.6, 1.0, 1.3}) {
    for (double zero : {-0.02, 0.0, 0.03}) {
      const Pressure p = pa(0.3);
      const Pressure reading = gauge_reading(p, Ratio::of(s), pa(zero));
      CHECK(true_pressure(reading, Ratio::of(s), pa(zero)).value() == doctest::Approx(0.3));
    }
  }
  CHECK(mixture_sensitivity({{pa(3), Ratio::of(1.3)}, {pa(1), Ratio::of(1.1)}}).value() ==
        doctest::Approx(1.25));
  CHECK(mixture_sensitivity({}).value() == 1);
}

TEST_CASE("rate of rise: straight at first with slope a + b/tau, straight at last with slope a") {
  const RiseCurve curve{pa(1e-4), PressureRate::from_value(1e-6), pa(1e-2), Duration::from_value(600)};
  const auto at = [&](double t) { return risen(curve, Duration::from_value(t)).value(); };
  CHECK(at(0) == 1e-4);
  CHECK((at(1) - at(0)) == doctest::Approx(1e-6 + 1e-2 / 600).epsilon(1e-3));
  CHECK((at(1e5 + 1) - at(1e5)) == doctest::Approx(1e-6).epsilon(1e-6));
}
