// Any bytes as a statement, a ledger entry, a head, a figure and a report: what is accepted is written in the
// one agreed way.
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "record/figures.hpp"
#include "record/record.hpp"

using namespace vacuary;
using namespace vacuary::record;

namespace {

// Accepted bytes come back the same, so that two texts never stand for one thing.
template <class T>
void check(const Result<T>& parsed, std::string_view bytes) {
  if (!parsed.has_value()) {
    if (parsed.diagnostics().empty()) std::abort();
  } else if (to_text(parsed.value()) != bytes) {
    std::abort();
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  check(parse_statement("1-operator.txt", bytes), bytes);
  check(parse_entry("00000001.txt", bytes), bytes);
  check(parse_head("head.txt", bytes), bytes);
  unsigned number = 0;
  std::string role;
  if (statement_name(bytes, number, role) &&
      statement_path(number, role) != "signatures/" + std::string(bytes))
    std::abort();
  Figure figure, again;
  if (read_figure(bytes, figure) &&
      (!read_figure(figure_text(figure), again) || figure_text(again) != figure_text(figure)))
    std::abort();
  IndexedRun run;
  (void)read_report(bytes, run);
  return 0;
}
