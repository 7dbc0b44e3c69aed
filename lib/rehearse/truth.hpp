// The truth behind a rehearsed log, as JSON ("vacuary-truth 1", described in README.md).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rehearse/machine.hpp"

namespace vacuary::rehearse {

struct Event {
  const Placed* fault = nullptr;
  std::optional<std::int64_t> start_ms, end_ms;  // none: the run was over before it began
  std::optional<FilmGrid> change;                // of the film, by a run without this fault
};

struct Truth {
  const plan::Plan* plan = nullptr;
  const Options* options = nullptr;
  const Plant* plant = nullptr;
  const FilmGrid* film = nullptr;
  std::vector<StepRecord> steps;
  std::vector<Event> events;
};

[[nodiscard]] std::string to_json(const Truth& truth);

}  // namespace vacuary::rehearse
