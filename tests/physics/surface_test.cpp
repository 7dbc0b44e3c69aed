// Glow, heat, quartz crystal, optics, scatter.
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numbers>
#include <string>

#include "outside.hpp"
#include "physics/physics.hpp"

using namespace vacuary;
using namespace vacuary::physics;
using physics_test::outside;

namespace {

Length nm(double x) { return Length::from_value(x * 1e-9); }
const Glass borosilicate{MassDensity::from_value(2230), ThermalConductivity::from_value(1.14),
                         SpecificHeat::from_value(830), Length::from_value(0.25)};
Duration s(double x) { return Duration::from_value(x); }

}  // namespace

TEST_CASE("Paschen minimum") {
  const double torr_cm = 101325.0 / 760 * 0.01;
  struct Row {
    const char* gas;
    double x, v;
  };
  for (const Row& row : {Row{"Ar", 1.0909, 192.00}, {"N2", 1.0632, 345.52}}) {
    const PaschenMinimum least = paschen_minimum(*find_paschen(row.gas), Ratio::of(.01));
    outside("Glow", std::string("Paschen minimum, ") + row.gas + ", Torr cm", least.x.value() / torr_cm,
            row.x, 1e-4, "Lieberman and Lichtenberg table 14.1, worked out", "five digits");
    outside("Glow", std::string("Paschen minimum, ") + row.gas + ", V", least.voltage.value(), row.v, 1e-4,
            "Lieberman and Lichtenberg table 14.1, worked out", "five digits");
    CHECK(breakdown_voltage(*find_paschen(row.gas), least.x, Ratio::of(.01))->value() ==
          doctest::Approx(least.voltage.value()).epsilon(1e-12));
  }
}

TEST_CASE("strike window: its edges strike at exactly the voltage there is, and nothing outside does") {
  const PaschenGas& ar = *find_paschen("Ar");
  const Length gap = Length::from_value(0.3);
  const auto window = strike_window(ar, gap, Voltage::from_value(1500), Ratio::of(.05));
  REQUIRE(window.has_value());
  for (const Pressure& edge : {window->low, window->high}) {
    const PressureLength x = PressureLength::from_value(edge.value() * gap.value());
    CHECK(breakdown_voltage(ar, x, Ratio::of(.05))->value() == doctest::Approx(1500).epsilon(1e-6));
  }
  const auto outside_v =
      breakdown_voltage(ar, PressureLength::from_value(window->low.value() * 0.98 * 0.3), Ratio::of(.05));
  CHECK((!outside_v || outside_v->value() > 1500));
  CHECK_FALSE(strike_window(ar, gap, Voltage::from_value(100), Ratio::of(.05)).has_value());
  CHECK(find_paschen("Xe") == nullptr);
}

TEST_CASE("dose bound of the sample glow: 900 C over 55 m2") {
  CHECK(charge_per_area(Current::from_value(1), s(900), Area::from_value(55)).value() ==
        doctest::Approx(16.36).epsilon(1e-3));
}

TEST_CASE("heat of film and glow") {
  const FilmMaterial al{MassDensity::from_value(2700), 26.981538e-3};
  // The sample plant's worked figures: 17.4 kJ/m2 for 90 nm at 20 eV an atom, glow about 24 kJ/m2.
  CHECK(film_heat(al, nm(90)).value() == doctest::Approx(17.4e3).epsilon(3e-3));
  CHECK(glow_heat(Voltage::from_value(1500), Current::from_value(1), s(900), Area::from_value(55)).value() ==
        doctest::Approx(24.5e3).epsilon(3e-3));
}

TEST_CASE("heat against worked values") {
  const FilmMaterial al{MassDensity::from_value(2700), 26.981538e-3};
  // 90e-9 m * 2700 kg/m3 / 26.981538e-3 kg/mol * N_A * 20 eV, with the constants of CODATA 2018.
  outside("Heat", "film of Al, 90 nm, 20 eV an atom, kJ/m2", film_heat(al, nm(90)).value() / 1e3, 17.3793,
          1e-5, "Thornton (1978) energy an atom, worked out", "six digits");
  // 2 q sqrt(t / (pi k rho c)): q 24.1 W/m2 for 720 s into borosilicate.
  outside("Heat", "deep slab of borosilicate, 24.1 W/m2 for 720 s, K",
          deep_slab_rise(borosilicate, PowerDensity::from_value(24.1), s(720), s(720)).value(), 0.50233, 1e-4,
          "Carslaw and Jaeger (1959), 2.9, worked out", "five digits");
}

TEST_CASE("slab: deep at first, a thin sheet at last") {
  const PowerDensity q = PowerDensity::from_value(568);
  // A pass of 5.1 s with a sixth of the film's heat lifts the surface by about one kelvin.
  CHECK(deep_slab_rise(borosilicate, q, s(5.1), s(5.1)).value() == doctest::Approx(1.0).epsilon(0.02));
  // Two pulses superpose: a pulse is one step on and one step off.
  const double on = deep_slab_rise(borosilicate, q, s(1e9), s(20)).value();
  const double off = deep_slab_rise(borosilicate, q, s(1e9), s(15)).value();
  CHECK(deep_slab_rise(borosilicate, q, s(5), s(20)).value() == doctest::Approx(on - off));
  // The series joins the deep slab where it takes over, and for long times front minus back is q d / (2 k).
  Glass sheet = borosilicate;
  sheet.thickness = Length::from_value(0.02);
  const double a = 1.14 / (2230 * 830.0);
  const double t = 0.011 * 0.02 * 0.02 / a;
  CHECK(slab_rise(sheet, q, s(t)).front.value() ==
        doctest::Approx(deep_slab_rise(sheet, q, s(t), s(t)).value()).epsilon(1e-6));
  CHECK(std::abs(slab_rise(sheet, q, s(t)).back.value()) < 1e-6);
  const SlabRise late = slab_rise(sheet, q, s(1e4));
  CHECK(late.front.value() - late.back.value() == doctest::Approx(568 * 0.02 / (2 * 1.14)).epsilon(1e-6));
  // Energy: the mean of a steady profile (parabola) is a third of the way up from the back.
  const double mean = late.back.value() + (late.front.value() - late.back.value()) / 3;
  CHECK(mean ==
        doctest::Approx(thin_sheet_rise(sheet, HeatDensity::from_value(568 * 1e4)).value()).epsilon(1e-9));
}

TEST_CASE("slab against explicit finite differences") {
  // 40 cells, 0.5 of the stability limit: second order in the cell, 1e-3 of the rise.
  Glass sheet = borosilicate;
  sheet.thickness = Length::from_value(0.02);
  constexpr std::size_t n = 40;
  const double dx = 0.02 / 40, a = 1.14 / (2230 * 830.0), dt = 0.25 * dx * dx / a, q = 1000, k = 1.14;
  std::array<double, n> temperature{};
  double time = 0;
  while (time < 120) {
    std::array<double, n> next = temperature;
    for (std::size_t i = 0; i < n; ++i) {
      const double in = i > 0 ? temperature[i - 1] - temperature[i] : q * dx / k;
      const double out = i + 1 < n ? temperature[i + 1] - temperature[i] : 0;
      next[i] += a * dt / (dx * dx) * (in + out);
    }
    temperature = next;
    time += dt;
  }
  const SlabRise rise = slab_rise(sheet, PowerDensity::from_value(q), s(time));
  const double front = temperature[0] + q * dx / (2 * k);  // from the cell's centre to the surface
  CHECK(rise.front.value() == doctest::Approx(front).epsilon(2e-3));
  CHECK(rise.back.value() == doctest::Approx(temperature[n - 1]).epsilon(5e-3));
}

TEST_CASE("quartz crystal") {
  const CrystalFilm& al = *find_crystal_film("Al");
  const auto t = [&](double df) {
    return crystal_thickness(Frequency::from_value(6e6), Frequency::from_value(6e6 - df),
                             MassDensity::from_value(al.density_kg_per_m3), Ratio::of(al.z_ratio))
               .value() *
           1e9;
  };
  struct Row {
    double khz, nm;
  };
  for (const Row& row :
       {Row{1, 45.44856}, {10, 455.1678}, {50, 2291.055}, {100, 4620.415}, {300, 14330.29}}) {
    outside("Quartz", "Al, 6 MHz, down " + std::to_string(static_cast<int>(row.khz)) + " kHz, nm",
            t(row.khz * 1000), row.nm, 1e-6, "Lu and Lewis (1972), worked out", "seven digits");
  }
  const double ng_per_cm2 = 1e12 / 1e4;
  outside("Quartz", "sensitivity at 5 MHz, ng/cm2/Hz",
          crystal_sensitivity_kg_per_m2_hz(Frequency::from_value(5e6)) * ng_per_cm2, 17.7, 3e-3,
          "crystal makers' application notes", "three digits; sources differ in the third");
  outside("Quartz", "sensitivity at 6 MHz, ng/cm2/Hz",
          crystal_sensitivity_kg_per_m2_hz(Frequency::from_value(6e6)) * ng_per_cm2, 12.2692, 3e-5,
          "Sauerbrey (1959), from shear modulus and density",
          "the frequency constant and the shear modulus agree to 1.4e-5");
  // A light load is mass over sensitivity, whatever Z.
  for (double z : {0.4, 1.0, 2.0}) {
    const double light = crystal_thickness(Frequency::from_value(6e6), Frequency::from_value(6e6 - 1),
                                           MassDensity::from_value(2700), Ratio::of(z))
                             .value() *
                         2700;
    CHECK(light ==
          doctest::Approx(crystal_sensitivity_kg_per_m2_hz(Frequency::from_value(6e6))).epsilon(1e-5));
  }
}

TEST_CASE("bulk reflectance of aluminium from published constants") {
  struct Row {
    double nm;
    std::array<double, 4> r;
  };
  for (const Row& row : {Row{400, {.9238, .9253, .9196, .9240}},
                         {550, {.9154, .9152, .9138, .9157}},
                         {633, {.9077, .9088, .9091, .9066}},
                         {670, {.9024, .9066, .9042, .9008}},
                         {850, {.8699, .8686, .8631, .8576}},
                         {1000, {.9402, .9359, .9515, .9415}}}) {
    const std::vector<NamedIndex> tables = aluminium_tables(nm(row.nm));
    REQUIRE(tables.size() == row.r.size());
    for (std::size_t i = 0; i < tables.size(); ++i) {
      outside("Optics", "Al, bulk, " + std::to_string(static_cast<int>(row.nm)) + " nm",
              bulk_reflectance(tables[i].index).value(), row.r[i], 1e-4, std::string(tables[i].source),
              "four digits");
    }
  }
}

TEST_CASE("Lorentz-Drude model of aluminium against its own published table") {
  for (double wavelength : {400.0, 550.0, 633.0, 670.0, 850.0, 1000.0}) {
    const Index model = lorentz_drude_aluminium(nm(wavelength));
    const NamedIndex table = aluminium_tables(nm(wavelength))[1];
    const std::string at = ", " + std::to_string(static_cast<int>(wavelength)) + " nm";
    outside("Optics", "Lorentz-Drude Al, n" + at, model.n, table.index.n, 2e-3, std::string(table.source),
            "four digits, hc rounded");
    outside("Optics", "Lorentz-Drude Al, k" + at, model.k, table.index.k, 2e-3, std::string(table.source),
            "four digits, hc rounded");
  }
}

TEST_CASE("aluminium on glass") {
  const Index al{0.938777, 6.4195};
  struct Row {
    double thickness, r, t, tolerance_t;
  };
  for (const Row& row : {Row{1, .09113, .8299, 1e-3},
                         {10, .72305, .1279, 1e-3},
                         {40, .91410, 1.106e-3, 1e-3},
                         {100, .91650, 1.24e-7, 5e-3}}) {
    const StackResult result = stack({{al, nm(row.thickness)}}, {1.5, 0}, nm(532));
    const std::string what =
        "Al on glass, 532 nm, " + std::to_string(static_cast<int>(row.thickness)) + " nm, ";
    outside("Optics", what + "R", result.reflectance.value(), row.r, 1e-4,
            "published constants, transfer matrix worked out", "five digits");
    outside("Optics", what + "T", result.transmittance.value(), row.t, row.tolerance_t,
            "published constants, transfer matrix worked out", "three to four digits");
  }
}

TEST_CASE("a stack gives back what is known without it") {
  const Index glass{1.457012, 0};
  CHECK(stack({}, glass, nm(633)).reflectance.value() == doctest::Approx(std::pow(0.457012 / 2.457012, 2)));
  // A half-wave layer is not there; a quarter-wave layer has the textbook reflectance.
  const Index layer{2.0, 0};
  CHECK(stack({{layer, nm(633.0 / 4)}}, glass, nm(633)).reflectance.value() ==
        doctest::Approx(stack({}, glass, nm(633)).reflectance.value()).epsilon(1e-12));
  const double y = 4 / 1.457012;
  CHECK(stack({{layer, nm(633.0 / 8)}}, glass, nm(633)).reflectance.value() ==
        doctest::Approx(std::pow((1 - y) / (1 + y), 2)));
  // Nothing is lost without absorption; a layer in two halves is one; very thick metal is bulk and finite.
  const StackResult clear = stack({{layer, nm(70)}, {{1.38, 0}, nm(111)}}, glass, nm(500));
  CHECK(clear.reflectance.value() + clear.transmittance.value() == doctest::Approx(1));
  const Index al{1.45, 7.539};
  CHECK(stack({{al, nm(20)}, {al, nm(20)}}, glass, nm(633)).reflectance.value() ==
        doctest::Approx(stack({{al, nm(40)}}, glass, nm(633)).reflectance.value()).epsilon(1e-12));
  const StackResult bulk = stack({{al, nm(1e6)}}, glass, nm(633));
  CHECK(bulk.reflectance.value() == doctest::Approx(bulk_reflectance(al).value()).epsilon(1e-12));
  CHECK(bulk.transmittance.value() >= 0);
}

TEST_CASE("scatter from roughness") {
  struct Row {
    double sigma, wavelength, tis;
  };
  for (const Row& row : {Row{1, 632.8, 3.9435e-4}, {2, 632.8, 1.57742e-3}, {10, 670, 3.5178e-2}}) {
    outside("Scatter",
            std::to_string(static_cast<int>(row.sigma)) + " nm rms at " +
                std::to_string(row.wavelength).substr(0, 5) + " nm",
            total_scatter(nm(row.sigma), nm(row.wavelength)).value(), row.tis, 5e-5,
            "Bennett and Porteus (1961), worked out", "five digits");
  }
  CHECK(specular_loss(nm(1), nm(632.8)).value() == doctest::Approx(3.9435e-4).epsilon(1e-3));
  CHECK(specular_loss(nm(1000), nm(500)).value() <= 1);
}
