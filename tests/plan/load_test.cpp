// The sample plan: every number is where it should be, in SI. The expected values are worked out
// here from the text of the sample files by hand.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "plan/files.hpp"

using namespace vacuary;
using doctest::Approx;

TEST_CASE("the sample map loads without a word") {
  auto map = plan::load_channels(plan_files::sample_folder() / "channels.toml", plan_files::sample_plan());
  INFO(to_text(map.diagnostics()));
  REQUIRE(map.ok());
  CHECK(map.diagnostics().empty());
  CHECK(map.value().time_column == "time");
  CHECK(map.value().period.value().value() == 30);
  REQUIRE(map.value().step_periods.size() == 3);
  CHECK(map.value().step_periods[2].kind == plan::StepKind::sputter);
  REQUIRE(map.value().splice.size() == 3);
  CHECK(map.value().splice[1].gauge.value == "manometer");
  CHECK(map.value().splice[1].low.value() == Approx(0.05));
  CHECK(map.value().splice[1].high.value() == Approx(10));
}

TEST_CASE("the sample chamber in SI") {
  const plan::Plan sample = plan_files::sample_plan();
  const plan::Chamber& chamber = sample.chamber;
  CHECK(chamber.volume.value.value() == Approx(14.0));
  CHECK(chamber.gas_temperature.value.value() == Approx(293.15));
  CHECK(chamber.reference.standard_temperature.value() == Approx(273.15));
  CHECK(chamber.surfaces.size() == 5);
  // 2e-8 mbar L/s/cm2 is 2e-5 Pa m3/s/m2; over R T at 20 degC that is an amount.
  CHECK(chamber.surfaces[0].outgassing_1h.value.value() ==
        Approx(2e-5 / (constants::gas_j_per_mol_k * 293.15)));
  CHECK(chamber.leak_limit.value().value.value() == Approx(2e-5 / (constants::gas_j_per_mol_k * 293.15)));
  CHECK(plan::pump(chamber, "cryo")->number.value.value() == 2);
  CHECK(plan::pump(chamber, "roughing")->number.value.value() == 1);
  CHECK(plan::pump(chamber, "cryo")->crossover_capacity.value().value.value() == Approx(30.0));
  CHECK(plan::pump(chamber, "nobody") == nullptr);
  CHECK(plan::gauge(chamber, "ion")->gas_factors.size() == 2);
  CHECK(plan::supply(chamber, "cathode-supply")->ramp_max.value().value.value() == Approx(2000));
  const plan::Cathode& cathode = *plan::cathode(chamber, "cathode");
  CHECK(cathode.follows_surface);
  CHECK(cathode.p0d0.value.value() == Approx(0.1));
  CHECK(cathode.shield.value == "trim-3");
  CHECK(cathode.shield_opening.size() == 7);
  CHECK(cathode.calibration.film_per_energy.value.value() == Approx(30e-9 / 3.6e6));
  CHECK(cathode.calibration.uncertainty.value.value() == Approx(0.025));
  CHECK(chamber.rotation_max.value().value.value() == Approx(2 * std::numbers::pi / 60));
  CHECK(chamber.safety.size() == 3);
}

TEST_CASE("the sample recipe and optic in SI") {
  const plan::Plan sample = plan_files::sample_plan();
  const plan::Recipe& recipe = sample.recipe;
  REQUIRE(recipe.steps.size() == 7);
  CHECK(recipe.sign.size() == 3);
  CHECK(recipe.water_per_metal_max.value().value.value() == 3);
  const plan::Step& coat = recipe.steps[4];
  CHECK(coat.kind == plan::StepKind::sputter);
  CHECK(coat.end.kind == plan::EndKind::turns);
  CHECK(coat.end.turns.value().value.value() == 6);
  // 250 cm3/min of gas at 0 degC and 101325 Pa.
  CHECK(coat.gas[0].flow.value.value() ==
        Approx(250e-6 / 60 * 101325 / (constants::gas_j_per_mol_k * 273.15)));
  CHECK(coat.gas[0].flow.unit.symbol == "sccm");
  CHECK(coat.throttle.value().value.value() == Approx(0.489));
  REQUIRE(coat.limits.size() == 4);
  CHECK(coat.limits[3].low_si.value() == Approx(0.49 * 2 * std::numbers::pi / 60));
  CHECK(coat.limits[3].may_last.value.value() == 3);
  CHECK(coat.limits[0].unit.symbol == "Pa");
  REQUIRE(sample.optic.has_value());
  CHECK(sample.optic->outer_radius.value.value() == Approx(1.3));
  CHECK(sample.optic->conic_constant.value.value() == -1);
  CHECK(sample.optic->film.thickness.value.value() == Approx(90e-9));
  CHECK(sample.optic->sense == plan::Rotation::counterclockwise);
}

TEST_CASE("values remember where they were written, quotes included") {
  const plan::Plan sample = plan_files::sample_plan();
  const Region& at = sample.recipe.steps[4].power.value().at;
  CHECK(at.source->bytes().substr(at.offset, at.length) == "\"15 kW\"");
  const Region& step = sample.recipe.steps[0].at;
  CHECK(step.source->bytes().substr(step.offset, step.length) == "[[step]]");
  CHECK(sample.chamber.file.source->bytes() ==
        plan_files::bytes_of(plan_files::sample_folder() / "chamber.toml"));
}

TEST_CASE("channel names and their parts") {
  for (int n = 0; n <= static_cast<int>(plan::What::step); ++n) {
    const auto what = static_cast<plan::What>(n);
    CHECK(plan::what_of(plan::name(what)) == what);
    const plan::Channel channel{"device", what};
    CHECK(plan::parse_channel(channel.name()) == channel);
  }
  CHECK(plan::parse_channel("a.b.pressure") == plan::Channel{"a.b", plan::What::pressure});
  for (const char* text : {"", ".", "pressure", ".pressure", "a.", "a.presure", "a.pressure "}) {
    CHECK_FALSE(plan::parse_channel(text).has_value());
  }
}

TEST_CASE("a byte-order mark changes neither the plan nor a column") {
  const std::string recipe = plan_files::bytes_of(plan_files::sample_folder() / "aluminium-90nm.toml");
  CHECK(plan_files::load("recipe-mark.toml", "\xEF\xBB\xBF" + recipe).empty());
  const Diagnostics said = plan_files::load("recipe-mark.toml", "\xEF\xBB\xBFx = 1\n" + recipe);
  REQUIRE(said.size() == 1);
  CHECK(said[0].where.value().line == 1);
  CHECK(said[0].where.value().column == 1);
}

TEST_CASE("the sample's numbers agree with each other") {
  const plan::Plan sample = plan_files::sample_plan();
  const plan::Cathode& cathode = sample.chamber.cathodes[0];
  const plan::Step& coat = sample.recipe.steps[4];
  const double power_w = coat.power.value().value.value();
  const double turn_s = 2 * std::numbers::pi / coat.rotation.value().value.value();
  const double energy_j = power_w * turn_s * coat.end.turns.value().value.value();
  CHECK(energy_j == Approx(3.0 * 3.6e6));
  CHECK(energy_j * cathode.calibration.film_per_energy.value.value() == Approx(90e-9));
  const double face_m2 = cathode.target_length.value.value() * cathode.target_width.value.value();
  CHECK(power_w / face_m2 == Approx(4.0e4));
  // Argon through two throttled pumps behind their valves, by kinetic theory: what flows in leaves at
  // the working pressure.
  const plan::Pump& cryo = *plan::pump(sample.chamber, "cryo");
  const double mean_speed_m_s =
      std::sqrt(constants::gas_j_per_mol_k * 293.15 / (2 * std::numbers::pi * 0.039948));
  const double valve_m3_s =
      mean_speed_m_s * cryo.valve_bore.value().value.value() * cryo.valve_transmission.value().value.value();
  const double argon_m3_s = 2 / (1 / valve_m3_s + 1 / cryo.speeds[2].speed.value.value());
  const double speed_m3_s = argon_m3_s * coat.throttle.value().value.value();
  CHECK(speed_m3_s == Approx(1.5).epsilon(0.005));
  const double throughput = coat.gas[0].flow.value.value() * constants::gas_j_per_mol_k * 293.15;
  CHECK(throughput / speed_m3_s == Approx(coat.pressure.value().value.value()).epsilon(0.02));
  // The gulp at crossover is within what the pumps take.
  CHECK(sample.chamber.volume.value.value() * cryo.crossover_max.value().value.value() <
        2 * cryo.crossover_capacity.value().value.value());
  // The target holds the metal its rated energy sputters (1.81 g/kWh at most).
  const double target_kg = face_m2 * cathode.target_thickness.value.value() * 2700;
  CHECK(cathode.energy_rated.value.value() / 3.6e6 * 1.81e-3 <
        target_kg * cathode.usable_target.value.value());
}

TEST_CASE("the sample measurements") {
  const auto loaded = plan::load_measured(plan_files::sample_folder() / "measured.toml");
  INFO(to_text(loaded.diagnostics()));
  REQUIRE(loaded.ok());
  const plan::Measured& measured = loaded.value();
  CHECK(measured.date.value == "2031-03-12");
  REQUIRE(measured.reflectance.size() == 2);
  CHECK(measured.reflectance[0].wavelength.value.value() == Approx(550e-9));
  CHECK(measured.reflectance[0].value.value.value() == Approx(0.913));
  CHECK(measured.reflectance[0].uncertainty.value.value() == Approx(0.002));
  CHECK(measured.thickness.at(0).value.value.value() == Approx(88.9e-9));
  CHECK(measured.tape.at(0).result == plan::TapeResult::passed);
}

TEST_CASE("the order in which roles sign is as listed unless the recipe says any") {
  CHECK(plan_files::sample_plan().recipe.sign_order == plan::SigningOrder::listed);
  const auto with = [](const char* order) {
    const std::string recipe =
        "format = \"vacuary-recipe 1\"\nname = \"x\"\nrevision = \"1\"\nauthor = \"x\"\n"
        "chamber = \"chamber.toml\"\nsign = [\"operator\", \"quality\"]\nsign_order = \"" +
        std::string(order) +
        "\"\n[[step]]\nname = \"wait\"\nkind = \"hold\"\nend = { time = \"1 s\" }\n"
        "longest = \"1 s\"\n";
    return plan::load("r.toml", [recipe](const std::filesystem::path& path) {
      if (path == "r.toml") {
        return Result<std::shared_ptr<const Source>>(std::make_shared<const Source>("r.toml", recipe));
      }
      return plan::read_from_disk(plan_files::sample_folder() / path);
    });
  };
  CHECK(with("any").value().recipe.sign_order == plan::SigningOrder::any);
  CHECK(with("listed").value().recipe.sign_order == plan::SigningOrder::listed);
  CHECK_FALSE(with("none").ok());
}
