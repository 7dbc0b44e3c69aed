// Any bytes as the log of the sample recipe: no crash, an account that does not depend on how its rows were
// cut into stretches, a film that is claimed with numbers or not at all, and reports of it. The size of the
// input says whether the log is on change, has stated periods, and whether the plan has its optic, whose map
// takes most of the time.
#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string>

#include "report/report.hpp"
#include "run/run.hpp"

namespace {

using namespace vacuary;

void require(bool holds) {
  if (!holds) std::abort();
}

std::filesystem::path path_of_log() {
  return std::filesystem::temp_directory_path() / fmt::format("vacuary-fuzz-account-{}.csv", ::getpid());
}

const std::filesystem::path& write(const std::uint8_t* data, std::size_t size) {
  static const std::filesystem::path path = path_of_log();
  static const bool at_exit = std::atexit([] { std::filesystem::remove(path_of_log()); }) == 0;
  require(at_exit);
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  out.write(reinterpret_cast<const char*>(data), static_cast<std::streamsize>(size));
  return path;
}

const std::string plant = std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/";

const plan::Plan& whole_plan() {
  static const plan::Plan plan = plan::load(plant + "aluminium-90nm.toml").value();
  return plan;
}
const plan::Plan& plan_without_optic() {
  static const plan::Plan plan = [] {
    plan::Plan bare = whole_plan();
    bare.optic.reset();
    return bare;
  }();
  return plan;
}

plan::ChannelMap map_for(bool on_change, bool stated) {
  static const plan::ChannelMap sample = plan::load_channels(plant + "channels.toml", whole_plan()).value();
  plan::ChannelMap map = sample;
  if (on_change) map.logging = plan::Logging::on_change;
  if (on_change || !stated) {
    map.period.reset();
    map.step_periods.clear();
  }
  return map;
}

std::optional<run::Account> account_of(const std::filesystem::path& log, const plan::Plan& plan,
                                       const plan::ChannelMap& map, bool rows_alone) {
  log::Options options;
  options.largest_decompressed = 1U << 20U;
  options.gas = plan.chamber.reference;
  options.wanted = run::wanted_channels(plan, map);
  auto opened = log::Reader::open({log}, map, options);
  if (!opened.ok()) return std::nullopt;
  log::Reader reader = std::move(opened).value();
  run::Accountant accountant(plan, map, reader.header(), {8, 72, 1});
  if (rows_alone) accountant.show_rows_alone();
  bool any = false;
  while (const log::Block* block = reader.next()) {
    any = any || block->rows() > 0;
    accountant.add(*block);
  }
  if (!any) return std::nullopt;
  return accountant.finish(reader.tally());
}

void look_at(const run::Account& account) {
  const Estimate<Length>& mean = account.film.mean;
  require(!account.film.claimed ||
          (std::isfinite(mean.value.value()) && mean.value.value() >= 0 &&
           std::isfinite(mean.standard_uncertainty.value()) && mean.standard_uncertainty.value() >= 0));
  require(!report::account_text(account, {}).empty());
  require(!report::account_html(account).empty());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size > 1U << 15U) return 0;
  const bool on_change = size % 3 == 0, stated = size % 2 == 0, with_optic = size % 16 == 1;
  const plan::Plan& plan = with_optic ? whole_plan() : plan_without_optic();
  const plan::ChannelMap map = map_for(on_change, stated);
  const std::filesystem::path& log = write(data, size);
  const auto account = account_of(log, plan, map, false);
  if (!account) return 0;
  look_at(*account);
  const auto alone = account_of(log, plan, map, true);
  require(alone && report::account_json(*account) == report::account_json(*alone));
  return 0;
}
