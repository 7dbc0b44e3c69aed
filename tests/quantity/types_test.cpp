// What the types and the lookups promise, and values from outside the project.
#include <doctest/doctest.h>

#include <concepts>
#include <set>
#include <stdexcept>
#include <string>

#include "any_kind.hpp"

using namespace vacuary;

namespace {

template <class A, class B>
concept Adds = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept Becomes = std::convertible_to<A, B>;
template <class A, class B>
concept Compares = requires(A a, B b) {
  a < b;
};

static_assert(Adds<Pressure, Pressure> && !Adds<Pressure, Length>);
static_assert(!Becomes<MolarFlow, Power> && !Becomes<Power, MolarFlow>);
static_assert(!Becomes<Throughput, Power> && !Becomes<Power, Throughput> && !Adds<Throughput, Power>);
static_assert(!Becomes<Throughput, MolarFlow> && !Becomes<MolarFlow, Throughput>);
static_assert(!Becomes<AngularSpeed, Frequency> && !Becomes<Frequency, AngularSpeed>);
// Temperature + Temperature fails beyond the reach of a concept: see compile_fail.
static_assert(!Becomes<Temperature, TemperatureDifference> && !Becomes<TemperatureDifference, Temperature>);
static_assert(!Becomes<Ratio, Count> && !Becomes<Count, Ratio> && !Becomes<Ratio, double>);
static_assert(!Becomes<double, Ratio> && !Becomes<double, Count> && !Becomes<double, Pressure>);
static_assert(!Compares<Ratio, Count> && !Compares<WrittenFlow, MolarFlow>);
static_assert(std::same_as<decltype(Voltage{} * Current{}), Power>);
static_assert(std::same_as<decltype(Power{} * Duration{}), Energy>);
static_assert(std::same_as<decltype(Length{} / Energy{}), ThicknessPerEnergy>);
static_assert(std::same_as<decltype(Pressure{} * Length{}), PressureLength>);
static_assert(KindOf<Pressure>::value == Kind::pressure && KindOf<WrittenFlow>::value == Kind::flow);
static_assert(std::same_as<HeatDensity, PressureLength>);

template <class Q>
Q read(const std::string& text) {
  auto r = parse<Q>(text);
  REQUIRE_MESSAGE(std::holds_alternative<Written<Q>>(r), text);
  return std::get<Written<Q>>(r).value;
}

double pascal(const std::string& text) { return read<Pressure>(text).value(); }
doctest::Approx within(double value, double relative) { return doctest::Approx(value).epsilon(relative); }

}  // namespace

TEST_CASE("pressures against published conversion factors") {
  // NIST SP 811 (2008), appendix B.8.
  CHECK(pascal("1 psi") == within(6894.757, 1e-7));
  CHECK(pascal("1 mmHg") == within(133.322387415, 1e-9));  // the conventional millimetre of mercury
  CHECK(pascal("1 atm") == 101325);
  CHECK(pascal("1 bar") == 1e5);
  // The torr is 1/760 of a standard atmosphere by definition: 133.322368421...
  CHECK(pascal("1 Torr") == within(133.322368421053, 1e-14));
  CHECK(pascal("760 Torr") == within(101325, 1e-15));
  CHECK(pascal("1 mTorr") == within(0.133322368421053, 1e-14));
}

TEST_CASE("1 sccm at 0 degC and 101325 Pa") {
  const GasReference usual = GasReference::usual();
  const MolarFlow flow = read<WrittenFlow>("1 sccm").resolve(usual);
  // 4.48e17 molecules per second: widely printed; 101325 Pa x 1 cm3 / 60 s = 1.68875e-3 Pa m3/s by
  // definition.
  CHECK(flow.value() * constants::avogadro_per_mol == within(4.47797e17, 1e-5));
  const Temperature cold = Temperature::from_value(273.15);
  const Temperature room = Temperature::from_value(293.15);
  CHECK(throughput(flow, cold).pa_m3_per_s() == within(1.68875e-3, 1e-14));
  CHECK(throughput(flow, room).pa_m3_per_s() == within(1.68875e-3 * 293.15 / 273.15, 1e-14));
  CHECK(throughput(flow, room).pa_m3_per_s() == within(1.81240e-3, 1e-5));
  CHECK(read<WrittenFlow>("1 slm").resolve(usual).value() == within(1000 * flow.value(), 1e-15));
  CHECK(read<WrittenFlow>("60 scc/min").resolve(usual).value() == within(60 * flow.value(), 1e-15));
}

TEST_CASE("a throughput in text speaks of gas at the stated temperature") {
  const GasReference usual = GasReference::usual();
  // 1 mbar L/s is 0.1 Pa m3/s; over R T at 20 degC.
  const MolarFlow leak = read<WrittenFlow>("1 mbar L/s").resolve(usual);
  CHECK(leak.value() == within(0.1 / (8.31446261815324 * 293.15), 1e-14));
  CHECK(read<WrittenFlow>("1 Pa m3/s").resolve(usual).value() == within(10 * leak.value(), 1e-14));
  CHECK(read<WrittenFlow>("760 Torr L/s").resolve(usual).value() == within(1013.25 * leak.value(), 1e-14));
  GasReference cold = usual;
  cold.gas_temperature = Temperature::from_value(146.575);
  CHECK(read<WrittenFlow>("1 mbar L/s").resolve(cold).value() == within(2 * leak.value(), 1e-14));
  const WrittenFlow back = WrittenFlow::of(leak, FlowBasis::pressure_volume, usual);
  CHECK(back.basis == FlowBasis::pressure_volume);
  CHECK(back.value_si == within(0.1, 1e-14));
  // Published outgassing figures: 1e-8 Torr L/s/cm2 is 1.33322e-5 Pa m/s.
  CHECK(read<WrittenFlux>("1e-8 Torr L/s/cm2").value_si == within(1.33322368e-5, 1e-8));
}

TEST_CASE("other trade units from their definitions") {
  CHECK(read<Energy>("1 kWh").value() == 3.6e6);
  CHECK(read<Energy>("1 eV").value() == 1.602176634e-19);  // exact by the 2019 SI
  CHECK(read<Length>("1 in").value() == 0.0254);
  CHECK(read<AngularSpeed>("60 rpm").value() == within(6.283185307179586, 1e-15));
  CHECK(read<Angle>("180 deg").value() == within(3.141592653589793, 1e-15));
  CHECK(read<Temperature>("20 degC").value() == 293.15);
  CHECK(read<Temperature>("-273.15 degC").value() == 0);
  CHECK(read<Ratio>("3 %").value() == 0.03);
  CHECK(read<Ratio>("3%").value() == 0.03);
  CHECK(read<Ratio>("0.5 ratio").value() == 0.5);
  CHECK(read<Count>("2.5").value() == 2.5);
  CHECK(read<PumpingSpeed>("3600 m3/h").value() == 1);
  CHECK(read<Energy>("300 mbar L").value() == within(30, 1e-15));
  CHECK(read<ThermalConductivity>("1 W/cm/K").value() == within(100, 1e-15));
}

TEST_CASE("one unit, many spellings") {
  for (const char* text :
       {"5 um", "5 \u00B5m", "5 \u03BCm", "5\tum", "5\u00A0um", "5\u202F\u00B5m", " 5 um "}) {
    CHECK(read<Length>(text) == read<Length>("5 um"));
  }
  for (const char* text : {"5 angstrom", "5 \u00C5", "5 \u212B"})
    CHECK(read<Length>(text) == read<Length>("5 angstrom"));
  for (const char* text :
       {"2 W/m2", "2 W/m^2", "2 W m-2", "2 W*m^-2", "2 W/m\u00B2", "2 W\u00B7m-2", "2 W / m2", "2 W/m/m"}) {
    CHECK(read<PowerDensity>(text) == read<PowerDensity>("2 W/m2"));
  }
  for (const char* text : {"2 1/s", "2 s-1", "2 s\u207B\u00B9", "2 Hz"})
    CHECK(read<Frequency>(text) == read<Frequency>("2 Hz"));
  for (const char* text : {"2 1/min", "2 min-1", "2 min^-1", "2 min\u207B\u00B9", "2 U/min", "2 turn/min"})
    CHECK(read<AngularSpeed>(text) == read<AngularSpeed>("2 rpm"));
  CHECK(read<PumpingSpeed>("2 L/s") == read<PumpingSpeed>("2 l/s"));
  CHECK(read<Temperature>("2 \u00B0C") == read<Temperature>("2 degC"));
}

TEST_CASE("a unit knows the kinds it can be") {
  const auto kinds = [](const char* text) {
    std::vector<Kind> found;
    const auto read_any = parse_unit_of_any_kind(text);
    REQUIRE_MESSAGE(std::holds_alternative<std::vector<Unit>>(read_any), text);
    for (const Unit& u : std::get<std::vector<Unit>>(read_any)) found.push_back(u.kind);
    return found;
  };
  using Kinds = std::vector<Kind>;
  CHECK(kinds("K") == Kinds{Kind::temperature_difference, Kind::temperature});
  CHECK(kinds("degC") == Kinds{Kind::temperature});
  CHECK(kinds("W") == Kinds{Kind::power});
  CHECK(kinds("mbar L/s") == Kinds{Kind::flow});
  CHECK(kinds("L/s") == Kinds{Kind::pumping_speed});
  CHECK(kinds("mbar L") == Kinds{Kind::energy});
  CHECK(kinds("J/m2") == Kinds{Kind::heat_density});
  CHECK(kinds("Pa m") == Kinds{Kind::pressure_length});
  CHECK(kinds("W/m2") == Kinds{Kind::power_density});
  CHECK(kinds("Pa m/s") == Kinds{Kind::flux});
  CHECK(kinds("%") == Kinds{Kind::ratio});
  for (const char* nothing : {"mol", "scc", "m4", "m/m", "%/%", "1", "turn/turn", "degC/s", "N/m", "rad2"}) {
    CHECK_MESSAGE(std::holds_alternative<TextProblem>(parse_unit_of_any_kind(nothing)), nothing);
  }
}

TEST_CASE("a unit knows what a flow is measured by") {
  CHECK(unit("sccm", Kind::flow).basis == FlowBasis::standard);
  CHECK(unit("mol/s", Kind::flow).basis == FlowBasis::amount);
  CHECK(unit("mbar L/s", Kind::flow).basis == FlowBasis::pressure_volume);
  CHECK(unit("mbar L/s/cm2", Kind::flux).basis == FlowBasis::pressure_volume);
  CHECK(unit("sccm/m2", Kind::flux).basis == FlowBasis::standard);
  CHECK(unit("mol/s/m2", Kind::flux).basis == FlowBasis::amount);
}

TEST_CASE("each kind has a name of its own, an example that reads, and a usual unit") {
  std::set<std::string> names;
  for (int k = 0; k < any_kind::kind_count; ++k) {
    const auto kind = static_cast<Kind>(k);
    names.insert(name(kind));
    CHECK(usual_unit(kind).kind == kind);
    const std::string text = example(kind);
    const std::size_t blank = text.find(' ');
    const auto read_unit = parse_unit(blank == std::string::npos ? "" : text.substr(blank), kind);
    CHECK_MESSAGE(std::holds_alternative<Unit>(read_unit), text);
    if (kind == Kind::heat_density) continue;  // no C++ type of its own
    any_kind::with_type(kind, [&](auto sample) {
      using Q = decltype(sample);
      CHECK(KindOf<Q>::value == kind);
      CHECK_MESSAGE(std::holds_alternative<Written<Q>>(parse<Q>(text)), text);
    });
  }
  CHECK(names.size() == static_cast<std::size_t>(any_kind::kind_count));
}

TEST_CASE("in() and of() undo each other, and refuse units of other things") {
  const Unit& mbar = unit("mbar", Kind::pressure);
  CHECK(in(of<Pressure>(3.5, mbar), mbar) == within(3.5, 1e-15));
  CHECK(in(of<Temperature>(20, unit("degC", Kind::temperature)), unit("degC", Kind::temperature)) ==
        within(20, 1e-14));
  CHECK(in(PressureLength::from_value(5), unit("J/m2", Kind::heat_density)) == 5);
  CHECK(in(Throughput::from_pa_m3_per_s(1), unit("mbar L/s", Kind::flow)) == within(10, 1e-15));
  CHECK_THROWS_AS((void)in(Pressure{}, unit("W", Kind::power)), std::logic_error);
  CHECK_THROWS_AS((void)in(MolarFlow{}, unit("sccm", Kind::flow)), std::logic_error);
  CHECK_THROWS_AS((void)of<Throughput>(1, unit("sccm", Kind::flow)), std::logic_error);
  CHECK_THROWS_AS((void)in(WrittenFlow{}, unit("sccm", Kind::flow)), std::logic_error);
  CHECK_THROWS_AS((void)unit("mbaar", Kind::pressure), std::logic_error);
  CHECK_THROWS_AS((void)unit("mbar", Kind::power), std::logic_error);
  CHECK(&unit("mbar", Kind::pressure) == &mbar);  // a reference that stays
}
