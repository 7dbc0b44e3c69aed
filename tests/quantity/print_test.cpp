#include <doctest/doctest.h>

#include <bit>
#include <cmath>
#include <limits>
#include <random>

#include "any_kind.hpp"

using namespace vacuary;

namespace {

// The SI number inside any of the types text is read into.
double si(const WrittenFlow& q) { return q.value_si; }
double si(const WrittenFlux& q) { return q.value_si; }
template <class Q>
double si(const Q& q) {
  return q.value();
}

template <class Q>
Q made(double value_si, const Unit& unit) {
  if constexpr (std::is_same_v<Q, WrittenFlow> || std::is_same_v<Q, WrittenFlux>) {
    return Q{unit.basis, value_si};
  } else if constexpr (std::is_same_v<Q, Ratio> || std::is_same_v<Q, Count>) {
    return Q::of(value_si);
  } else {
    return Q::from_value(value_si);
  }
}

template <class Q>
void check_round_trip(double value_si, const Unit& unit) {
  const std::string text = exact(made<Q>(value_si, unit), unit);
  // What reads as a pressure times length prints as heat per area too; its text is not read back.
  const auto back = parse<Q>(text);
  INFO("text " << text << " in " << unit.symbol);
  REQUIRE(std::holds_alternative<Written<Q>>(back));
  const double again = si(std::get<Written<Q>>(back).value);
  CHECK(std::bit_cast<std::uint64_t>(again) == std::bit_cast<std::uint64_t>(value_si));
}

struct Written3 {
  const char* text;
  Kind kind;
};

std::string exact_of(const std::string& text, Kind kind) {
  return any_kind::with_type(kind, [&](auto sample) -> std::string {
    using Q = decltype(sample);
    auto read = parse<Q>(text);
    REQUIRE_MESSAGE(std::holds_alternative<Written<Q>>(read), text);
    const auto& written = std::get<Written<Q>>(read);
    return exact(written.value, written.unit);
  });
}

Length nm(double value) { return of<Length>(value, unit("nm", Kind::length)); }
const Unit& nanometre() { return unit("nm", Kind::length); }

}  // namespace

TEST_CASE("exact() reads back to the same bits: any unit, any size") {
  std::mt19937_64 random(20310304);
  std::uniform_real_distribution<double> exponent(-290, 290);
  std::uniform_real_distribution<double> mantissa(1, 10);
  int checked = 0;
  for (const UnitSymbol& symbol : unit_symbols()) {
    for (int k = 0; k < any_kind::kind_count; ++k) {
      const auto kind = static_cast<Kind>(k);
      auto read = parse_unit(symbol.symbol, kind);
      if (!std::holds_alternative<Unit>(read)) continue;
      const Unit& u = std::get<Unit>(read);
      any_kind::with_type(kind, [&](auto sample) {
        for (int i = 0; i < 60; ++i) {
          double value =
              mantissa(random) * std::pow(10.0, i % 2 == 0 ? exponent(random) : exponent(random) / 30);
          const bool never_negative = kind == Kind::temperature || kind == Kind::count;
          if (i % 3 == 0 && !never_negative) value = -value;
          check_round_trip<decltype(sample)>(value, u);
          ++checked;
        }
        check_round_trip<decltype(sample)>(0.0, u);
        check_round_trip<decltype(sample)>(std::numeric_limits<double>::denorm_min(), u);
        check_round_trip<decltype(sample)>(std::numeric_limits<double>::max(), u);
      });
    }
  }
  CHECK(checked > 8000);
}

TEST_CASE("exact() of composed units, in each kind's usual unit and example") {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> exponent(-12, 12);
  for (int k = 0; k < any_kind::kind_count; ++k) {
    const auto kind = static_cast<Kind>(k);
    if (kind == Kind::heat_density) continue;
    for (int i = 0; i < 300; ++i) {
      any_kind::with_type(kind, [&](auto sample) {
        check_round_trip<decltype(sample)>(std::pow(10.0, exponent(random)), usual_unit(kind));
      });
    }
  }
  for (const char* symbol : {"mbar L/s", "Torr L/s", "Pa m3/s", "mol/s", "slm", "sccm", "scc/s"}) {
    for (int i = 0; i < 300; ++i) {
      check_round_trip<WrittenFlow>(std::pow(10.0, exponent(random)), unit(symbol, Kind::flow));
    }
  }
}

TEST_CASE("what a person wrote comes back as it was written, as short as it was") {
  const Written3 cases[] = {{"2.0e-6 mbar", Kind::pressure},
                            {"38 kW", Kind::power},
                            {"90 nm", Kind::length},
                            {"120 sccm", Kind::flow},
                            {"0.25 rpm", Kind::angular_speed},
                            {"20 degC", Kind::temperature},
                            {"3 %", Kind::ratio},
                            {"48.9 %", Kind::ratio},
                            {"2.0e-8 mbar L/s/cm2", Kind::flux},
                            {"300 mbar L", Kind::energy},
                            {"30 nm/kWh", Kind::thickness_per_energy},
                            {"2.5", Kind::count},
                            {"15.4 deg", Kind::angle},
                            {"0.1 angstrom", Kind::length},
                            {"-3.7 V", Kind::voltage},
                            {"0.001 Pa", Kind::pressure},
                            {"123456 Pa", Kind::pressure},
                            {"1.5e6 Pa", Kind::pressure},
                            {"7.5e-4 Torr", Kind::pressure},
                            {"2 kW/s", Kind::power_ramp},
                            {"10 Pa cm", Kind::pressure_length},
                            {"-40.3 degC", Kind::temperature},
                            {"0 degC", Kind::temperature},
                            {"250 ppm", Kind::ratio}};
  for (const auto& [text, kind] : cases) CHECK(exact_of(text, kind) == text);
  CHECK(exact_of("-0 V", Kind::voltage) == "0 V");
  CHECK(exact_of("2e-6 mbar", Kind::pressure) == "2.0e-6 mbar");
  CHECK(exact_of("+.5 V", Kind::voltage) == "0.5 V");
  CHECK(exact_of(" 3%", Kind::ratio) == "3 %");
  CHECK(exact_of("6 count", Kind::count) == "6 count");
  CHECK(exact_of("5\u00A0\u00B5bar", Kind::pressure) == "5 \u00B5bar");
}

TEST_CASE("every written one- to four-digit value comes back as it was written") {
  for (const char* symbol : {"nm", "um", "angstrom", "in"}) {
    for (int n = 1; n < 10000; ++n) {
      const std::string text = std::to_string(n) + " " + symbol;
      REQUIRE(exact_of(text, Kind::length) == text);
    }
  }
}

TEST_CASE("brief() keeps the digits asked for") {
  const Unit& pa = unit("Pa", Kind::pressure);
  const auto pressure = [](double v) { return Pressure::from_value(v); };
  CHECK(brief(pressure(0.30164), pa) == "0.302 Pa");
  CHECK(brief(pressure(101325), pa) == "101000 Pa");
  CHECK(brief(pressure(1234567), pa) == "1.23e6 Pa");
  CHECK(brief(pressure(0.00123456), pa) == "0.00123 Pa");
  CHECK(brief(pressure(0.000123456), pa) == "1.23e-4 Pa");
  CHECK(brief(pressure(9.996), pa) == "10.0 Pa");
  CHECK(brief(pressure(-2.5), pa, 1) == "-2 Pa");  // the tie goes to even, as IEC 60559 has it
  CHECK(brief(pressure(5), pa, 1) == "5 Pa");
  CHECK(brief(pressure(5), pa, 0) == "5 Pa");
  CHECK(brief(pressure(1e-300), pa, 2) == "1.0e-300 Pa");
  CHECK(brief(pressure(-0.0), pa) == "0 Pa");
  CHECK(brief(pressure(std::nan("")), pa) == "not a number Pa");
  CHECK(brief(pressure(INFINITY), pa) == "infinite Pa");
  CHECK(brief(pressure(-INFINITY), pa) == "minus infinite Pa");
  CHECK(brief(Temperature::from_value(293.15), unit("degC", Kind::temperature)) == "20.0 degC");
  CHECK(brief(Count::of(6), usual_unit(Kind::count)) == "6.00");
  CHECK(exact(pressure(INFINITY), pa) == "infinite Pa");
}

TEST_CASE("a value is rounded to two digits of its uncertainty (JCGM 100:2008, 7.2.6)") {
  CHECK(with_uncertainty(nm(89.93), nm(4.83), nanometre()) == "89.9 nm +/- 4.8 nm");
  CHECK(with_uncertainty(nm(89.93), nm(0.996), nanometre()) == "89.9 nm +/- 1.0 nm");
  CHECK(with_uncertainty(nm(9.96), nm(1.2), nanometre()) == "10.0 nm +/- 1.2 nm");
  CHECK(with_uncertainty(nm(90123), nm(4830), nanometre()) == "90100 nm +/- 4800 nm");
  CHECK(with_uncertainty(nm(0.3), nm(48), nanometre()) == "0 nm +/- 48 nm");
  CHECK(with_uncertainty(nm(0.7), nm(48), nanometre()) == "1 nm +/- 48 nm");
  CHECK(with_uncertainty(nm(-0.01), nm(4.8), nanometre()) == "0.0 nm +/- 4.8 nm");
  CHECK(with_uncertainty(nm(3), nm(480), nanometre()) == "0 nm +/- 480 nm");
  CHECK(with_uncertainty(nm(-89.96), nm(0.12), nanometre()) == "-89.96 nm +/- 0.12 nm");
  const Unit& mbar = unit("mbar", Kind::pressure);
  CHECK(with_uncertainty(Pressure::from_value(1.234e-4), Pressure::from_value(1.1e-5), mbar) ==
        "1.23e-6 mbar +/- 0.11e-6 mbar");
  CHECK(with_uncertainty(Pressure::from_value(0), Pressure::from_value(1.1e-5), mbar) ==
        "0.0e-7 mbar +/- 1.1e-7 mbar");
  CHECK(with_uncertainty(nm(89.93), nm(0), nanometre()) == "89.9 nm (uncertainty not known)");
  CHECK(with_uncertainty(nm(89.93), nm(std::nan("")), nanometre()) == "89.9 nm (uncertainty not known)");
  // JCGM 100:2008 7.2.2 reports a mass as (100.02147 +/- 0.00035) g from u = 0.35 mg; H.1.7 the expanded
  // uncertainty 93 nm of l = 50.000838 mm.
  const Unit& g = unit("g", Kind::mass);
  CHECK(with_uncertainty(of<Mass>(100.02147, g), of<Mass>(0.00035, g), g) == "100.02147 g +/- 0.00035 g");
  const Unit& mm = unit("mm", Kind::length);
  CHECK(with_uncertainty(of<Length>(50.000838, mm), nm(93), mm) == "50.000838 mm +/- 0.000093 mm");
}

TEST_CASE("the uncertainty of a temperature is a difference: no zero is shifted") {
  CHECK(with_uncertainty(Temperature::from_value(293.15), Temperature::from_value(0.5),
                         unit("degC", Kind::temperature)) == "20.00 degC +/- 0.50 degC");
}
