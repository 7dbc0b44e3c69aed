#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include "commands.hpp"

namespace vacuary::tool {
namespace {

bool colour_on(int fd) {
  const char* no_colour = std::getenv("NO_COLOR");  // NOLINT(concurrency-mt-unsafe)
  return ::isatty(fd) == 1 && (no_colour == nullptr || *no_colour == '\0');
}

}  // namespace

bool colour_on_stdout() { return colour_on(STDOUT_FILENO); }

void complain(const Diagnostics& diagnostics) {
  const std::string text = to_text(diagnostics, {colour_on(STDERR_FILENO)});
  std::fwrite(text.data(), 1, text.size(), stderr);
}

void note(const std::string& text) { std::fwrite(text.data(), 1, text.size(), stderr); }

bool deliver(const std::string& text) {
  const bool written =
      std::fwrite(text.data(), 1, text.size(), stdout) == text.size() && std::fflush(stdout) == 0;
  if (!written) {
    Diagnostic d;
    d.rule = "unwritable-output";
    d.message = std::string("cannot write to standard output: ") + std::strerror(errno);
    d.remedy = "what was printed so far is incomplete; check where the output goes";
    complain({d});
  }
  return written;
}

}  // namespace vacuary::tool
