// The sample plan: every number is where it should be, in SI.
#include <doctest/doctest.h>

#include <cmath>

#include "plan/channel.hpp"
#include "plan/plan.hpp"

using namespace vacuary;

namespace {

const std::filesystem::path samples = std::filesystem::path(VACUARY_SOURCE_DIR) / "recipes" / "tarn-ridge";

}  // namespace

TEST_CASE("the sample recipe loads without a word") {
  auto loaded = plan::load(samples / "aluminium-90nm.toml");
  INFO(to_text(loaded.diagnostics()));
  REQUIRE(loaded.ok());
  CHECK(loaded.diagnostics().empty());
  auto map = plan::load_channels(samples / "channels.toml", loaded.value());
  INFO(to_text(map.diagnostics()));
  REQUIRE(map.ok());
  CHECK(map.diagnostics().empty());
}
