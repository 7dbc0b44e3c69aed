// What film does this recipe give? A program of somebody who uses the library.
#include <cstdio>

#include "model/model.hpp"
#include "plan/plan.hpp"

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  const auto plan = vacuary::plan::load(argv[1]);
  if (!plan.ok()) {
    std::fputs(vacuary::to_text(plan.diagnostics()).c_str(), stderr);
    return 1;
  }
  const auto prediction = vacuary::model::predict(plan.value());
  if (!prediction.film) return 1;
  std::printf("film %.1f nm\n",
              vacuary::in(prediction.film->value, vacuary::unit("nm", vacuary::Kind::length)));
}
