// Where a row stands in the log.
#pragma once

#include <cstdint>

namespace vacuary::run {

struct LogLine {
  std::uint64_t number = 0;  // from 1, in its file; 0: there is none
  int file = 0;              // index into Account::log_files
  bool operator==(std::uint64_t other) const { return number == other; }
};

}  // namespace vacuary::run
