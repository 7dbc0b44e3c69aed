#include <fmt/format.h>

#include "commands.hpp"
#include "log/log.hpp"

namespace vacuary::tool {
namespace {

// What is left for a person to do, on standard error: standard output may be the map itself.
void tell(const ChannelsArguments& arguments, const log::Sketch& sketch) {
  const auto things = [](std::size_t n, const char* one, const char* many) {
    return fmt::format("{} {}", n, n == 1 ? one : many);
  };
  const std::string where = arguments.output.empty() ? "" : arguments.output + ": ";
  const std::string next = sketch.to_state == 0 ? "" : "; 'ingest --channels' asks for what is not stated";
  const std::string text = fmt::format("{}{} to confirm, {} to state (look for CONFIRM and STATE){}\n", where,
                                       things(sketch.to_confirm, "guess", "guesses"),
                                       things(sketch.to_state, "thing", "things"), next);
  note(text);
}

}  // namespace

Status run_channels(const ChannelsArguments& arguments) {
  std::optional<plan::Plan> plant;
  if (!arguments.recipe.empty()) {
    Result<plan::Plan> loaded = plan::load(arguments.recipe);
    complain(loaded.diagnostics());
    if (!loaded.ok()) return status_failed;
    plant = std::move(loaded).value();
  }
  const Result<log::Sketch> sketch =
      log::sketch_map({arguments.logs.begin(), arguments.logs.end()}, plant ? &*plant : nullptr);
  complain(sketch.diagnostics());
  if (!sketch.ok()) return status_failed;
  if (arguments.output.empty()) {
    if (!deliver(sketch.value().map)) return status_failed;
  } else {
    const auto written = write_file(arguments.output, sketch.value().map, arguments.force);
    complain(written.diagnostics());
    if (!written.ok()) return status_failed;
  }
  tell(arguments, sketch.value());
  return status_good;
}

}  // namespace vacuary::tool
