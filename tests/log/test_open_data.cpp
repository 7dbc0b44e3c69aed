// A log from a real chamber, when the folder of open data is there.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cstdlib>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

TEST_CASE("the log of a real outgassing rig") {
  const char* folder = std::getenv("VACUARY_OPEN_DATA");
  if (folder == nullptr) {
    MESSAGE("skipped: VACUARY_OPEN_DATA is not set");
    return;
  }
  plan::ChannelMap map = some_map();
  map.time_column = "Datetime";
  map.time_form = plan::TimeForm::local;
  map.time_format = "%d-%b-%Y %H:%M:%S";
  map.zone = "Europe/London";
  map.columns = {column("CH2", "sample.pressure", "mbar"), column("CH3", "empty.pressure", "mbar")};
  for (int i = 1; i <= 9; ++i)
    map.columns.push_back(column(fmt::format("T{}", i), fmt::format("t{}.temperature", i), "degC"));
  const Outcome log =
      read_files({std::filesystem::path(folder) / "outgassing-rig" / "20230803_131526_WAAM1_Cube.txt"}, map);
  REQUIRE(log.opened);
  CHECK(log.failures.empty());
  CHECK(log.time.size() == 14401);
  CHECK(to_rfc3339(log.time.front()) == "2023-08-03T12:15:27Z");
  CHECK(to_rfc3339(log.time.back()) == "2023-08-04T08:18:26Z");
  CHECK(log.tally.period.value() == 5);
  CHECK(log.values.at("sample.pressure").front() == doctest::Approx(2.75).epsilon(1e-15));
  CHECK(log.values.at("t1.temperature").front() == doctest::Approx(20.2835273742676 + 273.15).epsilon(1e-15));
  CHECK(log.values.at("sample.pressure").back() == doctest::Approx(1e5).epsilon(1e-15));
  for (const std::string& line : log.said) MESSAGE(line);
}
