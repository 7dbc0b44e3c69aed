// First channel maps for unknown exports: columns of numbers that are no readings.
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

std::string map_of(const std::string& headers, const plan::Plan* plant = nullptr) {
  std::string cells = "2031-03-04T05:06:0{}Z";
  for (const char c : headers) cells += c == ',' ? ",1.5" : "";
  std::string text = "time" + headers + "\n";
  for (int s = 0; s < 5; ++s) text += fmt::format(fmt::runtime(cells), s) + "\n";
  return sketch_map({write("export.txt", text)}, plant).value().map;
}

}  // namespace

TEST_CASE("a set value is no reading, on whichever side of it it stands and in whatever language") {
  const plan::Plan plant = some_plant();
  for (const char* header : {"Supply Power SP", "Supply Power set", "Supply_Power_Setpoint", "SupplyPowerSP",
                             "Set Supply Power", "Supply Power Soll", "Supply Power Sollwert",
                             "Supply Power consigne", "Supply Power (set)", "Supply Power Set Point"}) {
    CAPTURE(std::string(header));
    for (const bool before : {true, false}) {
      const std::string set = fmt::format(",{} [kW]", header);
      const std::string map =
          map_of(before ? set + ",Supply Power [kW]" : ",Supply Power [kW]" + set, &plant);
      CHECK_MESSAGE(holds(map, fmt::format("ignore = [\n  \"{}", header)), map);
      CHECK(holds(map, ",  # CONFIRM: what was set, no reading\n]\n"));
      CHECK(holds(map, "header = \"Supply Power\"\nchannel = \"supply.power\"  # CONFIRM\n"));
      CHECK(!holds(map, fmt::format("header = \"{}\"", header)));
    }
  }
  CHECK(holds(map_of(",P set [Pa],P act [Pa]"), "header = \"P act\""));
  CHECK(!holds(map_of(",P set [Pa],P act [Pa]"), "header = \"P set\""));
}

TEST_CASE("least and greatest beside a mean are no readings of their own") {
  const plan::Plan plant = some_plant();
  for (const char* mean : {"Argon Avg", "Argon mean", "Argon", "Argon Mittelwert"}) {
    const std::string map =
        map_of(fmt::format(",Argon Min [sccm],{} [sccm],Argon Max [sccm],Argon StdDev [sccm]", mean), &plant);
    CHECK_MESSAGE(
        holds(map,
              "ignore = [\n  \"Argon Min\", \"Argon Max\", \"Argon StdDev\",  # CONFIRM: least, greatest "
              "or spread beside a mean\n]\n"),
        map);
    CHECK(holds(map, fmt::format("header = \"{}\"\nchannel = \"argon.flow\"  # CONFIRM\n", mean)));
  }
}

TEST_CASE("names that only look like those of set values are channels") {
  for (const char* headers : {",Set 1 P [Pa]", ",P min [Pa],P max [Pa]", ",Target Power [kW],Power [kW]",
                              ",Offset [V],Off [V]", ",Spare P [Pa],P [Pa]"}) {
    const std::string map = map_of(headers);
    CHECK_MESSAGE(!holds(map, "ignore"), map);
  }
}

TEST_CASE("a map with ignored columns of several kinds is one that can be read") {
  const Outcome log = read_with_its_sketch("time,Ion P set [Pa],Ion P [Pa],Serial,Empty\n" +
                                           rows(9, [](int i) { return fmt::format("1,{},7,", i + 1); }));
  CHECK(log.failures == std::vector<std::string>{});
  CHECK(log.values.size() == 1);
  CHECK(log.values.at("ion.pressure").front() == 1);
}
