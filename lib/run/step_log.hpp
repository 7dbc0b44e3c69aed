// When each step of the recipe was under way, and what is odd about it.
#pragma once

#include "run/figures.hpp"
#include "run/steps.hpp"
#include "run/vacuum.hpp"
#include "run/watch.hpp"

namespace vacuary::run {

class StepLog {
 public:
  explicit StepLog(const Scene& scene) : scene_(scene), spans_(scene.plan.recipe.steps.size()) {}

  void take(const Stretch& rows);

  // What StepLog cannot know itself.
  struct Rest {
    const model::Prediction& prediction;
    const Figures& figures;
    const VacuumWatch& vacuum;
    const Steps& steps;
    std::optional<Vent> vent;
  };
  [[nodiscard]] std::vector<StepAccount> accounts(const Rest& rest) const;
  void finish(const Rest& rest, Findings& findings) const;
  [[nodiscard]] std::string step_at(Instant time) const;

 private:
  struct Span {
    bool found = false;
    Instant start, end;
    LogLine line;
    double gaps_s = 0, actual_s = 0;
    bool last = false;  // the log ends in it
  };
  struct Odd {
    int step;
    bool repeated;
    Instant time;
    LogLine line;
    std::string after;
  };
  void odd_row(const Row& row);
  [[nodiscard]] static bool let_up_in(const Span& span, const Rest& rest);
  [[nodiscard]] std::string ended_by(std::size_t step, const Rest& rest, bool& met) const;
  [[nodiscard]] bool vent_found() const;
  [[nodiscard]] double doubt_at(double pressure_pa) const;
  void tell_missing(Findings& findings) const;
  void tell_span(std::size_t step, const Rest& rest, Findings& findings) const;
  [[nodiscard]] Deviation about(std::size_t step, const char* rule) const;

  const Scene& scene_;
  std::vector<Span> spans_;
  std::vector<Odd> odd_;
  int furthest_ = -1;
  double period_s_ = 0;
  Instant first_, last_;
  bool any_ = false;
};

}  // namespace vacuary::run
