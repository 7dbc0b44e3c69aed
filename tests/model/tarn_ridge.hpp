// The sample plant's plan, loaded once; tests change copies of it.
#pragma once

#include <doctest/doctest.h>

#include <string>

#include "plan/plan.hpp"

namespace vacuary::model_test {

inline const plan::Plan& tarn_ridge() {
  static const Result<plan::Plan> loaded =
      plan::load(std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/aluminium-90nm.toml");
  for (const Diagnostic& d : loaded.diagnostics()) MESSAGE(to_text(d));
  REQUIRE(loaded.ok());
  return loaded.value();
}

inline plan::Step& step(plan::Plan& plan, const std::string& name) {
  for (plan::Step& s : plan.recipe.steps) {
    if (s.name.value == name) return s;
  }
  FAIL("no such step");
  return plan.recipe.steps.front();
}

template <class Q>
plan::Given<Q> given(Q value) {
  plan::Given<Q> g;
  g.value = value;
  return g;
}

}  // namespace vacuary::model_test
