// Rate-of-rise tests: each by itself, and two together.
#pragma once

#include "run/thinned.hpp"
#include "run/watch.hpp"

namespace vacuary::run {

class RiseWatch {
 public:
  explicit RiseWatch(const Scene& scene);
  void take(const Stretch& rows);
  // `zero`: when pumping started, if it is known.
  void tell(std::optional<Instant> zero, VacuumHealth& health) const;

 private:
  struct Rise {
    int step;
    bool any = false;
    Instant start, end;
    Thinned samples;
  };
  const Scene& scene_;
  std::vector<Rise> rises_;
};

}  // namespace vacuary::run
