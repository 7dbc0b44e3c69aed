// Running another program, without a shell and without files of its own. Private to the room.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace vacuary::record {

struct ProcessOutcome {
  bool started = false;
  int exit = -1;          // -1: ended by a signal
  std::string output;     // standard output
  std::string complaint;  // standard error
};

// `inputs` become standard input (the first) and the files named by "{1}", "{2}", ... in `arguments`.
[[nodiscard]] ProcessOutcome run_program(std::vector<std::string> arguments,
                                         const std::vector<std::string_view>& inputs);

}  // namespace vacuary::record
