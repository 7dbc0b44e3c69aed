// First channel maps for logs whose cells are mostly empty: written on change, or not.
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

const std::string header = "time,ion.pressure [Pa],argon.flow [sccm],supply.power [kW],Note\n";

// One of the channels in each row.
std::string changed(int i) {
  const std::string value = fmt::format("{}.5", 1 + i % 7);
  return i % 3 == 0 ? value + ",,," : i % 3 == 1 ? "," + value + ",," : ",," + value + ",";
}

}  // namespace

TEST_CASE(
    "a log of which each row has what has changed alone is sketched as one on change, with the reason") {
  const std::string text = header + rows(300, changed);
  const std::string map = sketch(text);
  CHECK_MESSAGE(holds(map,
                      "mode = \"on_change\"  # CONFIRM: 67 % of the numbers' cells are empty, mostly behind "
                      "each value, as "
                      "where only\n# what has changed is written. If an empty cell means that a reading is "
                      "missing, it is "
                      "\"periodic\"\n"),
                map);
  CHECK(holds(map, "# Looked at: 300 rows, all there are.\n"));
  CHECK(!holds(map, "# period"));
  const Outcome log = read_with_its_sketch(text);
  CHECK(log.failures.empty());
  CHECK(log.values.at("supply.power")[6] == log.values.at("supply.power")[5]);
}

TEST_CASE("empty cells in a steady log are told where it is asked how it was written") {
  const auto is_periodic = [](const std::string& map, const char* share) {
    CHECK_MESSAGE(
        holds(map, fmt::format("mode = \"periodic\"  # CONFIRM: {} % of the numbers' cells are empty. "
                               "If an empty cell means \"as before\", it is \"on_change\"\n",
                               share)),
        map);
  };
  // A gauge that is off for most of the time, and no note at all.
  is_periodic(sketch(header + rows(300, [](int i) { return i < 280 ? ",,1," : "1,1,1,"; })), "62");
  // A slow column among fast ones.
  is_periodic(sketch(header + rows(300, [](int i) { return i % 10 == 0 ? "1,1,1," : "1,1,,"; })), "30");
  const std::string plain = sketch(header + rows(300, [](int i) { return i == 70 ? "1,,1," : "1,1,1,"; }));
  CHECK(holds(plain, "mode = \"periodic\"  # CONFIRM: or \"on_change\", when silence means \"as before\"\n"));
}

TEST_CASE("a log on change that is read as a steady one says that most of its cells are empty") {
  const std::string text = header + rows(300, changed);
  const Outcome log = read(text);
  CHECK(log.failures ==
        std::vector<std::string>{
            "mostly-empty: 67 % of the cells that should hold numbers are empty, mostly behind each "
            "value, as where only what has changed is written"});
  CHECK(log.after.find(
            "if an empty cell means \"as before\", state mode = \"on_change\" under [logging] in the "
            "channel map") != std::string::npos);
  CHECK(read(header + rows(300, [](int i) { return i % 2 == 0 ? "1,,1," : "1,1,1,"; })).warnings.empty());
  plan::ChannelMap map = some_map();
  map.logging = plan::Logging::on_change;
  CHECK(read(text, map).failures.empty());
  // One channel that changes in every row hides nothing of the others, which seldom do.
  const Outcome mixed =
      read(header + rows(300, [](int i) {
             return i % 50 == 0 ? "1,1,1," : i % 50 == 25 ? ",2,," : i % 2 == 0 ? "1,,," : ",,,x";
           }));
  REQUIRE(mixed.failures.size() == 1);
  CHECK(mixed.failures[0].starts_with("mostly-empty: "));
  // Devices that are off for most of the time.
  const Outcome off = read(header + rows(300, [](int i) { return i < 280 ? ",,1," : "1,1,1,"; }));
  CHECK(off.failures.empty());
  CHECK(off.warnings ==
        std::vector<std::string>{"mostly-empty: 62 % of the cells that should hold numbers are "
                                 "empty, and taken for readings that are missing"});
}
