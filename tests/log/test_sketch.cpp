// First channel maps for unknown exports: guesses are marked, units are never guessed.
#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

std::string sketch(const std::string& bytes) {
  auto result = sketch_map(write("export.txt", bytes));
  return result.ok() ? result.value() : to_text(result.diagnostics());
}

}  // namespace

TEST_CASE("an export with preamble, units line, decimal comma, two time columns and texts among numbers") {
  const std::string map = sketch(
      "Trend export\r\nOperator;x\r\n\r\nDatum;Zeit;Druck 1;Flow [sccm];T1;Phase;Ventil\r\n;;mbar;;;;\r\n"
      "04.03.2031;05:06:07;1,5e-3;250,5;20,1;Pumpen;auf\r\n04.03.2031;05:06:08;OFF;250,4;20,2;Pumpen;auf\r\n"
      "04.03.2031;05:06:09;1,4e-3;250,5;20,1;Pumpen;zu\r\n04.03.2031;05:06:10;1,4e-3;250,5;20,1;Pumpen;"
      "zu\r\n");
  CHECK(map ==
        "# First channel map for export.txt.\n"
        "# CONFIRM marks a guess, STATE what only a person can know.\n"
        "\n"
        "format = \"vacuary-channels 1\"\n"
        "\n"
        "[file]\n"
        "delimiter = \";\"\n"
        "decimal = \",\"  # CONFIRM\n"
        "preamble_lines = 3  # CONFIRM\n"
        "units_line = true  # CONFIRM\n"
        "\n"
        "[time]\n"
        "column = \"Zeit\"  # CONFIRM\n"
        "date_column = \"Datum\"  # CONFIRM\n"
        "form = \"local\"  # CONFIRM\n"
        "format = \"%d.%m.%Y %H:%M:%S\"  # CONFIRM\n"
        "# zone = \"\"  # STATE: the clock's time zone, such as \"Europe/Madrid\", or \"UTC\"\n"
        "\n"
        "[logging]\n"
        "mode = \"periodic\"  # CONFIRM: or \"on_change\", when silence means \"as before\"\n"
        "\n"
        "[steps]\n"
        "column = \"Phase\"  # CONFIRM\n"
        "\n"
        "[[column]]\n"
        "header = \"Druck 1\"\n"
        "channel = \"druck_1.pressure\"  # CONFIRM: the device's name in the chamber file\n"
        "# unit: \"mbar\" by the log itself\n"
        "bad_texts = [\"OFF\"]  # CONFIRM: that these mean \"no value\"\n"
        "\n"
        "[[column]]\n"
        "header = \"Flow\"\n"
        "channel = \"flow.flow\"  # CONFIRM: the device's name in the chamber file\n"
        "# unit: \"sccm\" by the log itself\n"
        "\n"
        "# [[column]]  # STATE what it is and its unit: the log says neither\n"
        "# header = \"T1\"\n"
        "# channel = \"t1.\"\n"
        "# unit = \"\"\n"
        "\n"
        "[[column]]\n"
        "header = \"Ventil\"\n"
        "channel = \"ventil.state\"  # CONFIRM\n");
}

TEST_CASE("time forms are found, and a date that reads two ways says so") {
  const auto form = [](const std::string& a, const std::string& b) {
    const std::string map = sketch("time,P [Pa]\n" + a + ",1\n" + b + ",1\n" + b + ",1\n");
    const std::size_t from = map.find("form = ");
    return map.substr(from, map.find("\n#", from) - from);
  };
  CHECK(form("2031-03-04T05:06:07Z", "2031-03-04T05:06:08Z").starts_with("form = \"rfc3339\""));
  CHECK(form("03/04/2031 05:06:07", "03/04/2031 05:06:08") ==
        "form = \"local\"  # CONFIRM\nformat = \"%d/%m/%Y %H:%M:%S\"  # CONFIRM; month first reads as well");
  CHECK(form("03/14/2031 05:06:07", "03/14/2031 05:06:08") ==
        "form = \"local\"  # CONFIRM\nformat = \"%m/%d/%Y %H:%M:%S\"  # CONFIRM");
  CHECK(form("1930367167", "1930367168").starts_with("form = \"epoch_s\""));
  CHECK(form("1930367167000", "1930367168000").starts_with("form = \"epoch_ms\""));
  CHECK(form("47911.21258", "47911.21259").starts_with("form = \"spreadsheet_day\""));
  CHECK(form("0.0", "0.5").starts_with("form = \"elapsed_s\""));
}

TEST_CASE("encodings are found, and what is no table says so") {
  CHECK(sketch("time,P\xE4 [mbar]\n2031-03-04T05:06:07Z,1\n2031-03-04T05:06:08Z,1\n")
            .find("encoding = \"latin-1\"") != std::string::npos);
  CHECK(sketch("").find("the log is empty") != std::string::npos);
  CHECK(sketch("one line\n").find("no table was found") != std::string::npos);
}
