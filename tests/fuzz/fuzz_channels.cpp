// Any bytes as a channel map, for an empty plant: a map, or complaints that say where.
#include <cstdint>
#include <cstdlib>

#include "plan/channel.hpp"

using namespace vacuary;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  if (first_invalid_utf8(text) != std::string::npos) return 0;  // refused before it is parsed
  plan::Plan plant;
  plant.chamber.reference = GasReference::usual();
  plant.chamber.gauges.resize(1);
  plant.chamber.gauges[0].name.value = "ion";
  const auto read = [&](const std::filesystem::path& path) -> Result<std::shared_ptr<const Source>> {
    return std::make_shared<const Source>(path.string(), text);
  };
  const auto map = plan::load_channels("channels.toml", plant, read);
  if (map.has_value() == has_errors(map.diagnostics())) std::abort();
  for (const Diagnostic& d : map.diagnostics()) {
    if (d.message.empty() || !d.where) std::abort();
  }
  (void)to_text(map.diagnostics());
  return 0;
}
