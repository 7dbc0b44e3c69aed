// Any bytes as a recipe, chamber and optic at once, and as measurements: a plan, or complaints that say
// where.
#include <cstdint>
#include <cstdlib>

#include "plan/measured.hpp"
#include "plan/plan.hpp"

using namespace vacuary;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  if (first_invalid_utf8(text) != std::string::npos) return 0;  // refused before it is parsed
  const auto read = [&](const std::filesystem::path& path) -> Result<std::shared_ptr<const Source>> {
    return std::make_shared<const Source>(path.string(), text);
  };
  const auto plan = plan::load("recipe.toml", read);
  if (plan.has_value() == has_errors(plan.diagnostics())) std::abort();
  for (const Diagnostic& d : plan.diagnostics()) {
    if (d.message.empty() || !d.where) std::abort();
  }
  (void)to_text(plan.diagnostics());
  const auto measured = plan::load_measured("measured.toml", read);
  if (measured.has_value() == has_errors(measured.diagnostics())) std::abort();
  (void)to_text(measured.diagnostics());
  return 0;
}
