// Several estimates of one film, and what was measured on it, held against the account.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>

#include "run/hand.hpp"

namespace vacuary::run::test {
namespace {

// A fixed crystal in the beam. Between 50 and 100 kHz of load on 6 MHz lie 4620.415 - 2291.055 nm of
// aluminium (Z-match, C. Lu and O. Lewis, J. Appl. Phys. 43, 4385 (1972), worked out anew from the equation).
constexpr double on_crystal_nm = 4620.415 - 2291.055;

template <class Q>
plan::Given<Q> given(Q value) {
  plan::Given<Q> out;
  out.value = value;
  return out;
}

// `reads`: what the crystal makes of a film of 90 nm at the calibration's radius, over 90 nm.
plan::Plan plan_with_crystal(double reads = 1) {
  plan::Plan plan = sample_plan();
  plan::Crystal crystal;
  crystal.name.value = "xtal";
  crystal.cathode.value = "cathode";
  crystal.unloaded = given(Frequency::from_value(6e6));
  crystal.tooling = given(Ratio::of(reads * 90.0 / on_crystal_nm));
  crystal.tooling_uncertainty = given(Ratio::of(0.02));
  plan.chamber.crystals.push_back(crystal);
  return plan;
}

// Six turns of 90 nm with the shutter shut before and after; the frequency falls as the film grows.
PlainLog coated(double before_hz = 5.95e6, double after_hz = 5.90e6) {
  Hand hand;
  hand.open = 0;
  hand.run(10);
  hand.open = 1;
  hand.run(720);
  hand.open = 0;
  hand.run(10);
  PlainLog log = hand.log();
  log::ChannelInfo info;
  info.channel = {"xtal", plan::What::frequency};
  info.header = "xtal.frequency";
  info.unit = usual_unit(Kind::frequency);
  log.header.channels.push_back(info);
  auto& column = log.block.values.emplace_back();
  log.block.texts.emplace_back();
  for (std::size_t r = 0; r < log.block.rows(); ++r) {
    const double share = std::clamp((static_cast<double>(r) - 10) / 720, 0.0, 1.0);
    column.push_back(before_hz + share * (after_hz - before_hz));
  }
  return log;
}

plan::Measured sheet(const std::string& tables) {
  const std::string text =
      "format = \"vacuary-measured 1\"\ndate = \"2031-03-12\"\nby = \"I. Novak\"\ninstrument = \"step "
      "gauge\"\n" +
      tables;
  const auto loaded = plan::load_measured("measured.toml", [&](const std::filesystem::path&) {
    return Result<std::shared_ptr<const Source>>(std::make_shared<const Source>("measured.toml", text));
  });
  REQUIRE(loaded.ok());
  return loaded.value();
}

std::string thickness(double nm, double u_nm, const std::string& more = {}) {
  return fmt::format("[[thickness]]\nvalue = \"{} nm\"\nuncertainty = \"{} nm\"\n{}\n", nm, u_nm, more);
}

double area_mean() {
  return model::clear_area_mean(sample_plan().chamber.cathodes.front(), *sample_plan().optic).value.value();
}

const ThicknessEstimate* named(const Account& a, const std::string& name) {
  REQUIRE(a.film.estimates);
  for (const ThicknessEstimate& one : a.film.estimates->each) {
    if (one.held.name == name) return &one;
  }
  return nullptr;
}

bool says(const std::vector<std::string>& lines, const std::string& what) {
  return std::any_of(lines.begin(), lines.end(),
                     [&](const std::string& line) { return line.find(what) != std::string::npos; });
}

}  // namespace

TEST_CASE("a crystal beside the energy: Z-match times tooling, and the two agree") {
  const plan::Plan plan = plan_with_crystal();
  const Account a = account_of(plan, sample_map(), coated());
  REQUIRE(a.film.crystals.size() == 1);
  CHECK(a.film.crystals[0].why_not.empty());
  CHECK(a.film.crystals[0].on_crystal.value.value() * 1e9 == doctest::Approx(on_crystal_nm).epsilon(1e-6));
  CHECK(a.film.crystals[0].mean.value.value() * 1e9 == doctest::Approx(90 * area_mean()).epsilon(1e-6));
  // Tooling 2 %; Z off by 5 % and 20 Hz at either end do little beside it.
  CHECK(a.film.crystals[0].mean.standard_uncertainty / a.film.crystals[0].mean.value >
        Ratio::of(0.02).value());
  CHECK(a.film.crystals[0].mean.standard_uncertainty / a.film.crystals[0].mean.value < 0.021);
  REQUIRE(a.film.estimates);
  const ThicknessEstimates& e = *a.film.estimates;
  REQUIRE(e.each.size() == 3);  // energy, crystal, target mass by the sputter yield
  CHECK(e.consistent);
  CHECK(e.measured);
  // Weights as the inverse variances (M. G. Cox, Metrologia 39, 589 (2002)), worked out here.
  double weights = 0, sum = 0;
  for (const ThicknessEstimate& one : e.each) {
    const double w = std::pow(one.mean.standard_uncertainty.value(), -2);
    weights += w;
    sum += w * one.mean.value.value();
  }
  CHECK(e.mean.value.value() == doctest::Approx(sum / weights).epsilon(1e-9));
  CHECK(e.mean.standard_uncertainty.value() == doctest::Approx(1 / std::sqrt(weights)).epsilon(1e-9));
  CHECK(e.mean.standard_uncertainty < a.film.mean.standard_uncertainty);
  CHECK(says(a.reasons, "by 3 estimates"));
}

TEST_CASE("an estimate that disagrees is named, the mean widened, and a person asked") {
  const plan::Plan plan = plan_with_crystal(1.25);
  Account a = account_of(plan, sample_map(), coated());
  hold_against(plan, {sheet(thickness(89.5, 1.0, "place = \"witness 3\"\nradius = \"0.8 m\""))}, a);
  REQUIRE(a.film.estimates);
  const ThicknessEstimates& e = *a.film.estimates;
  CHECK(!e.consistent);
  CHECK(e.birge_ratio > 1);
  CHECK(e.mean.standard_uncertainty.value() ==
        doctest::Approx(e.uncertainty_if_consistent.value() * e.birge_ratio).epsilon(1e-9));
  REQUIRE(named(a, "crystal 'xtal'") != nullptr);
  CHECK(!named(a, "crystal 'xtal'")->held.in_consistent_subset);
  CHECK(named(a, "energy")->held.in_consistent_subset);
  CHECK(e.said.find("Look into 'crystal 'xtal''") != std::string::npos);
  CHECK(a.verdict != Verdict::within_limits);
  CHECK(says(a.reasons, "They do not agree"));
}

TEST_CASE("a crystal that says nothing says why") {
  const plan::Plan plan = plan_with_crystal();
  const auto why = [&](const PlainLog& log) {
    const Account a = account_of(plan, sample_map(), log);
    REQUIRE(a.film.crystals.size() == 1);
    REQUIRE(a.film.estimates);
    CHECK(!a.film.estimates->measured);
    CHECK(a.film.estimates->each.size() == 2);
    return a.film.crystals[0].why_not;
  };
  CHECK(why(coated(5.90e6, 5.95e6)).find("did not fall") != std::string::npos);
  CHECK(why(coated(6.2e6, 6.1e6)).find("faster than its unloaded") != std::string::npos);
  CHECK(why(coated(5.9e6, 3.0e6)).find("beyond the range") != std::string::npos);
  PlainLog late = coated();
  for (std::size_t r = 0; r < 100; ++r) late.block.values.back()[r] = Hand::no_reading();
  CHECK(why(late).find("before the film") != std::string::npos);
  PlainLog exchanged = coated();
  for (std::size_t r = 300; r < exchanged.block.rows(); ++r) exchanged.block.values.back()[r] += 40e3;
  CHECK(why(exchanged).find("went up") != std::string::npos);
}

TEST_CASE("a gap in the log hides nothing from the crystal") {
  const plan::Plan plan = plan_with_crystal();
  PlainLog log = coated();
  const Account whole = account_of(plan, sample_map(), log);
  for (std::size_t r = 200; r < 500; ++r) log.block.values.back()[r] = Hand::no_reading();
  const Account holed = account_of(plan, sample_map(), log);
  REQUIRE(holed.film.crystals.size() == 1);
  CHECK(holed.film.crystals[0].mean.value == whole.film.crystals[0].mean.value);
}

TEST_CASE("a witness stands for the mean by the map at its place") {
  Account a = account_of(sample_plan(), sample_map(), coated());
  REQUIRE(a.film.on_optic);
  const model::FilmMap& map = a.film.on_optic->map;
  double inner = 0;
  for (std::size_t j = 0; j < map.angles; ++j) inner += map.thickness_m[j] / static_cast<double>(map.angles);
  hold_against(sample_plan(),
               {sheet(thickness(90, 1, "place = \"inner\"\nradius = \"0.251 m\"") + thickness(90, 1))}, a);
  const ThicknessEstimate* there = named(a, "inner");
  REQUIRE(there != nullptr);
  CHECK(there->mean.value.value() == doctest::Approx(90e-9 * map.mean.value() / inner).epsilon(1e-9));
  CHECK(there->mean.standard_uncertainty > Length::from_value(1e-9));
  // Without a place: the mean itself, and anywhere on the clear area between thinnest and thickest.
  const ThicknessEstimate* anywhere = named(a, "thickness 2");
  REQUIRE(anywhere != nullptr);
  CHECK(anywhere->mean.value.value() == doctest::Approx(90e-9).epsilon(1e-12));
  const double width =
      (map.thickest.thickness.value - map.thinnest.thickness.value).value() / map.mean.value();
  CHECK(anywhere->mean.standard_uncertainty.value() ==
        doctest::Approx(90e-9 * std::hypot(1.0 / 90, width / std::sqrt(12.0))).epsilon(1e-9));
}

TEST_CASE("a weighed target replaces the sputter yield") {
  Account a = account_of(sample_plan(), sample_map(), coated());
  REQUIRE(a.film.on_optic);
  REQUIRE(a.film.on_optic->mass);
  const MassBalance& balance = *a.film.on_optic->mass;
  CHECK(!a.film.estimates->measured);
  // As much as puts the film's own mass on the glass; the film took all of the run's energy but 20 rows.
  const double share = a.film.parts[0].energy.value / a.quality.targets[0].used;
  const double lost_g = balance.on_optic.value.value() * 1e3 / balance.expected.value() / share;
  hold_against(
      sample_plan(),
      {sheet(fmt::format("[[target]]\ncathode = \"cathode\"\nlost = \"{:.6f} g\"\nuncertainty = \"0.1 g\"\n",
                         lost_g))},
      a);
  const ThicknessEstimate* weighed = named(a, "target mass");
  REQUIRE(weighed != nullptr);
  CHECK(weighed->mean.value.value() == doctest::Approx(a.film.on_optic->map.mean.value()).epsilon(1e-5));
  const double relative = weighed->mean.standard_uncertainty / weighed->mean.value;
  CHECK(relative > 0.1);
  CHECK(relative < 0.3);
  CHECK(a.film.estimates->measured);
  CHECK(a.film.estimates->consistent);
}

TEST_CASE("reflectance is met, not met or not decided, and tape decides alone") {
  const auto held = [](const std::string& tables) {
    Account a = account_of(sample_plan(), sample_map(), coated());
    const Verdict before = a.verdict;
    hold_against(sample_plan(), {sheet(tables)}, a);
    return std::pair(before, a);
  };
  const auto reflectance = [](const char* percent, const char* u) {
    return fmt::format("[[reflectance]]\nwavelength = \"550 nm\"\nvalue = \"{} %\"\nuncertainty = \"{} %\"\n",
                       percent, u);
  };
  const auto [before, met] = held(reflectance("91.5", "0.2"));
  REQUIRE(met.quality.measured.size() == 1);
  CHECK(met.quality.measured[0].met == Met::met);  // 90 % wanted
  CHECK(met.verdict == before);
  const auto low = held(reflectance("89.0", "0.2")).second;
  CHECK(low.quality.measured[0].met == Met::not_met);
  CHECK(low.quality.measured[0].as_clean == Met::not_met);
  CHECK(low.verdict == Verdict::out_of_limits);
  const auto open = held(reflectance("90.1", "0.2")).second;
  CHECK(open.quality.measured[0].met == Met::not_decided);
  CHECK(open.verdict != Verdict::within_limits);
  // Clean aluminium has 91.38 to 91.57 % by four published sets of constants (Rakic 1995 .9154, Rakic 1998
  // .9152, Hagemann 1975 .9138, McPeak 2015 .9157).
  CHECK(held(reflectance("92.0", "0.2")).second.quality.measured[0].as_clean == Met::met);
  CHECK(held(reflectance("91.4", "0.2")).second.quality.measured[0].as_clean == Met::not_decided);
  const auto tape = held("[[tape]]\nresult = \"failed\"\nplace = \"witness 4\"\n").second;
  CHECK(tape.verdict == Verdict::out_of_limits);
  CHECK(says(tape.reasons, "Tape took the film off: witness 4"));
}

TEST_CASE("where energy gives no right to a thickness, the glass does") {
  PlainLog log = coated();
  auto& volts =
      log.block.values[static_cast<std::size_t>(log.header.find({"cathode-supply", plan::What::voltage}))];
  for (double& v : volts) v = 400;  // an oxidised target
  Account a = account_of(sample_plan(), sample_map(), log);
  REQUIRE(!a.film.claimed);
  CHECK(!a.film.estimates);
  hold_against(sample_plan(), {sheet(thickness(60, 1))}, a);
  REQUIRE(a.film.estimates);
  CHECK(a.film.estimates->each.size() == 1);
  CHECK(a.film.estimates->mean.value.value() == doctest::Approx(60e-9));
  CHECK(says(a.reasons, "No thickness is claimed by energy"));
  CHECK(a.verdict == Verdict::out_of_limits);  // 90 nm +/- 10 nm wanted
}

}  // namespace vacuary::run::test
