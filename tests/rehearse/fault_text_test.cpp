#include <doctest/doctest.h>

#include "sample.hpp"

using namespace vacuary;
using rehearse::parse_fault;

namespace {

std::string complaint(const std::string& text) {
  const auto parsed = parse_fault(text);
  return parsed.ok() ? ""
                     : parsed.diagnostics().front().message + " | " + parsed.diagnostics().front().remedy;
}

}  // namespace

TEST_CASE("a fault is a name and settings, with or without blanks before units") {
  const auto parsed = parse_fault("trip:at=200s, lasts=4.5 s");
  REQUIRE(parsed.ok());
  CHECK(parsed.value().name == "trip");
  CHECK(parsed.value().settings.at("at") == "200 s");
  CHECK(parsed.value().settings.at("lasts") == "4.5 s");
  CHECK(parse_fault("trip").ok());
  CHECK(parse_fault("leak:size=1e-3mbar L/s").value().settings.at("size") == "1e-3 mbar L/s");
  CHECK(parse_fault("argon-sag:depth=30%,line=argon").ok());
  CHECK(parse_fault("clock-step:by=-2s").ok());
}

TEST_CASE("what is wrong with a fault is said, with a suggestion") {
  CHECK(complaint("tripp") == "there is no fault 'tripp' | did you mean 'trip'?");
  CHECK(complaint("trip:last=4s") == "fault 'trip' has no setting 'last' | did you mean 'lasts'?");
  CHECK(complaint("trip:lasts").find("is not a setting") != std::string::npos);
  CHECK(complaint("trip:lasts=4s,lasts=5s").find("given twice") != std::string::npos);
  CHECK(complaint("trip:lasts=4V").find("setting 'lasts' of fault 'trip'") != std::string::npos);
  CHECK(complaint("trip:lasts=-4s").find("beyond what makes sense") != std::string::npos);
  CHECK(complaint("argon-sag:depth=300%").find("beyond what makes sense") != std::string::npos);
  CHECK(complaint("frozen:device=").find("is empty") != std::string::npos);
  for (const char* text :
       {"", ":", "trip:", "trip:=", "trip:at=", "trip:at==3s", "trip:at=1e", "trip:,", "\xff"}) {
    CHECK_FALSE(parse_fault(text).ok());
  }
}

TEST_CASE("every default is itself a setting that parses, and help shows all of them") {
  const std::string help = rehearse::fault_help();
  for (const rehearse::FaultKind& kind : rehearse::fault_kinds()) {
    CHECK(help.find("\n" + kind.name + "  (") != std::string::npos);
    for (const rehearse::SettingKind& setting : kind.settings) {
      CAPTURE(kind.name + ":" + setting.name);
      CHECK(help.find(setting.help) != std::string::npos);
      if (setting.kind) {
        CHECK(parse_fault(kind.name + ":" + setting.name + "=" + setting.otherwise).ok());
      }
    }
  }
}

TEST_CASE("a fault that has no place in the plan is a complaint, not a silent nothing") {
  const auto refuse = [](const plan::Plan& plan, const std::string& text) {
    rehearse::Options options;
    options.faults.push_back(sample::fault(text));
    const auto done = rehearse::rehearse(plan, options);
    REQUIRE_FALSE(done.ok());
    return done.diagnostics().front().message + " | " + done.diagnostics().front().remedy;
  };
  CHECK(refuse(sample::recipe(), "trip:step=coats") ==
        "fault 'trip': this recipe has no step 'coats' | did you mean 'coat'?");
  CHECK(refuse(sample::recipe(), "range-jump:gauge=iron").find("this chamber has no 'iron'") !=
        std::string::npos);
  plan::Plan short_plan = sample::recipe();
  short_plan.recipe.steps.resize(1);
  CHECK(refuse(short_plan, "trip").find("this recipe has none") != std::string::npos);

  rehearse::Options raw;
  raw.faults.push_back({"no-such-fault", {}});
  raw.faults.push_back({"trip", {{"lasts", "long"}}});
  const auto done = rehearse::rehearse(sample::recipe(), raw);
  CHECK(done.diagnostics().size() == 2);
}
