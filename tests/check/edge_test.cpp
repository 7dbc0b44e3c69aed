// The bounds of the rules that rest on a prediction, with the prediction made by hand: just inside
// no finding, the bound within the uncertainty a warning, wholly outside an error.
#include <doctest/doctest.h>

#include <functional>

#include "check/sample.hpp"
#include "model/model.hpp"

using namespace vacuary;
using namespace vacuary::check_test;

namespace {

struct Subject {
  plan::Plan plan = sample_plan();
  model::Prediction prediction = model::predict(plan);

  [[nodiscard]] std::size_t index(const std::string& step) const {
    for (std::size_t i = 0; i < plan.recipe.steps.size(); ++i) {
      if (plan.recipe.steps[i].name.value == step) return i;
    }
    throw std::runtime_error("no step " + step);
  }
  [[nodiscard]] plan::Step& step(const std::string& name) { return plan.recipe.steps[index(name)]; }
  [[nodiscard]] model::StepPrediction& predicted(const std::string& name) {
    return prediction.steps[index(name)];
  }
};

// What one rule says: "", "warning" or "error".
std::string says(const Subject& subject, const std::string& rule) {
  std::string said;
  for (const Diagnostic& d : check::check(subject.plan, subject.prediction)) {
    if (d.rule == rule) said += name(d.severity);
  }
  return said;
}

Duration hours(double value) { return Duration::from_value(3600 * value); }
Length nanometres(double value) { return Length::from_value(1e-9 * value); }

}  // namespace

TEST_CASE("a pumpdown against its longest time of 12 h") {
  const auto with = [](double time_h, double u_h) {
    Subject s;
    s.predicted("pump to base").duration = Estimate<Duration>{hours(time_h), hours(u_h)};
    return says(s, "pumpdown-too-slow");
  };
  CHECK(with(10.0, 0.99) == "");
  CHECK(with(10.0, 1.01) == "warning");
  CHECK(with(13.0, 0.55) == "warning");
  CHECK(with(13.0, 0.53) == "error");  // 13 h / (1 + 1.06 / 13) = 12.02 h
}

TEST_CASE("the film against 90 nm +/- 10 nm") {
  const auto with = [](double film_nm, double u_nm) {
    Subject s;
    s.prediction.film = Estimate<Length>{nanometres(film_nm), nanometres(u_nm)};
    return says(s, "film-out-of-tolerance");
  };
  CHECK(with(90, 4.9) == "");
  CHECK(with(96, 1.99) == "");
  CHECK(with(96, 2.01) == "warning");
  CHECK(with(84, 2.01) == "warning");
  CHECK(with(104, 2.01) == "warning");
  CHECK(with(104, 1.99) == "error");
  CHECK(with(76, 1.99) == "error");
}

TEST_CASE("the tolerance of 10 nm against the expanded uncertainty") {
  const auto with = [](double u_nm) {
    Subject s;
    s.prediction.film = Estimate<Length>{nanometres(90), nanometres(u_nm)};
    return says(s, "tolerance-cannot-be-proven") + says(s, "film-out-of-tolerance");
  };
  CHECK(with(4.99) == "");
  CHECK(with(5.01) == "warning");  // said once, not by both rules
}

TEST_CASE("the working pressure against the step's limits of 0.27 to 0.33 Pa") {
  const auto with = [](double pressure_pa, double u_pa) {
    Subject s;
    s.predicted("coat").working_pressure =
        Estimate<Pressure>{Pressure::from_value(pressure_pa), Pressure::from_value(u_pa)};
    return says(s, "working-pressure-off");
  };
  CHECK(with(0.329, 0.03) == "");
  CHECK(with(0.271, 0.03) == "");
  CHECK(with(0.331, 0.03) == "warning");
  CHECK(with(0.40, 0.036) == "warning");
  CHECK(with(0.40, 0.034) == "error");
  CHECK(with(0.20, 0.034) == "error");
}

TEST_CASE("the whole run against the downtime of 36 h") {
  const auto with = [](double time_h, double u_h) {
    Subject s;
    s.prediction.total = Estimate<Duration>{hours(time_h), hours(u_h)};
    return says(s, "run-longer-than-downtime");
  };
  CHECK(with(30, 2.9) == "");
  CHECK(with(30, 3.1) == "warning");
  CHECK(with(40, 1.9) == "error");
}

TEST_CASE("the time from clean to film against 12 h") {
  const auto with = [](double time_h, double u_h) {
    Subject s;
    s.step("pump to base").longest.value = hours(100);
    s.predicted("pump to base").duration = Estimate<Duration>{hours(time_h), hours(u_h)};
    s.predicted("condition target").duration = Estimate<Duration>{hours(1), hours(0)};
    model::add_quality(s.plan, s.prediction);
    return says(s, "clean-to-film-too-long");
  };
  CHECK(with(9, 0.9) == "");
  CHECK(with(9, 1.1) == "warning");
  CHECK(with(13, 0.9) == "error");
}

TEST_CASE("a seam counts when it is more than the turns are known to") {
  const auto with = [](double turns, double u) {
    Subject s;
    s.predicted("coat").turns = Estimate<Count>{Count::of(turns), Count::of(u)};
    return says(s, "seam");
  };
  CHECK(with(6, 0) == "");
  CHECK(with(6.009, 0) == "");
  CHECK(with(6.011, 0) == "warning");
  CHECK(with(5.95, 0.03) == "");
  CHECK(with(5.95, 0.02) == "warning");
}

TEST_CASE("a prediction that leaves steps out is no reason to fall over") {
  Subject s;
  s.prediction = model::Prediction{};
  CHECK(says(s, "seam") == "");
  Subject t;
  t.plan.optic.reset();
  CHECK(says(t, "film-out-of-tolerance") == "");
}

TEST_CASE("a remedy that is followed mends the matter") {
  SUBCASE("turns") {
    Subject s;
    s.step("coat").end.turns->value = Count::of(4);
    s.prediction = model::predict(s.plan);
    for (const Diagnostic& d : check::check(s.plan, s.prediction)) {
      if (d.rule == "film-out-of-tolerance") CHECK(d.remedy == "end on 6 turns");
    }
    CHECK(says(s, "film-out-of-tolerance") == "error");
  }
  SUBCASE("throttle") {
    Subject s;
    s.step("coat").throttle->value = Ratio::percent(30);
    s.prediction = model::predict(s.plan);
    CHECK(says(s, "working-pressure-off") != "");
    std::string remedy;
    for (const Diagnostic& d : check::check(s.plan, s.prediction)) {
      if (d.rule == "working-pressure-off") remedy = d.remedy;
    }
    const std::string before = "set the throttle to ";
    REQUIRE(remedy.rfind(before, 0) == 0);
    s.step("coat").throttle->value = Ratio::percent(std::stod(remedy.substr(before.size())));
    s.prediction = model::predict(s.plan);
    CHECK(says(s, "working-pressure-off") == "");
  }
}
