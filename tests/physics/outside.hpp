// Values from outside the project that a model is held against. Each call is a check and a row of the
// table in lib/physics/README.md, which this test program writes and compares (see main.cpp).
#pragma once

#include <string>
#include <vector>

namespace vacuary::physics_test {

struct OutsideRow {
  std::string model;  // "Conductance"
  std::string what;   // "aperture, Ar, 20 degC, L/s per cm2"
  double expected = 0, got = 0;
  double tolerance = 0;  // relative
  std::string source;    // published source, and "worked out from it" or the like
};

// Checks |got - expected| <= tolerance |expected| and remembers the row. `why`: the reason for the
// tolerance, shown when the check fails.
void outside(const std::string& model, const std::string& what, double got, double expected, double tolerance,
             const std::string& source, const std::string& why);

[[nodiscard]] const std::vector<OutsideRow>& outside_rows();

}  // namespace vacuary::physics_test
