// First channel maps for unknown exports: how numbers are written.
#include <cmath>

#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

// Rows whose numbers stand in quotation marks.
std::string quoted(std::vector<std::string> numbers) {
  return "time,P [Pa]\n" + rows(static_cast<int>(numbers.size()), [&numbers](int i) {
           return "\"" + numbers[static_cast<std::size_t>(i)] + "\"";
         });
}

std::string parted(std::vector<std::string> numbers) {
  std::string text = "time;P [Pa]\n";
  for (std::size_t i = 0; i < numbers.size(); ++i)
    text += fmt::format("2031-03-04T00:00:0{}Z;{}\n", i, numbers[i]);
  return text;
}

}  // namespace

TEST_CASE("a number that begins with 0 shows that its comma is no mark between thousands") {
  for (const char* first : {"0,308", "00,308", "-0,308"}) {
    const std::string map = sketch(parted({first, "1,234", "2,345", "12,345"}));
    CHECK_MESSAGE(holds(map, "decimal = \",\"  # CONFIRM\n"), map);
    CHECK(!holds(map, "thousands"));
  }
  // Where others do have thousands it is read by no map, and that is told.
  const std::string map = sketch(parted({"0,308", "1,234.5", "2,345.5", "12,345.5"}));
  CHECK(holds(map, "thousands = \",\"  # CONFIRM\n"));
  CHECK(holds(map, "# not read: 1 cell that looks like a number and is none, such as \"0,308\"\n"));
}

TEST_CASE("where nothing shows whether a comma is a decimal or parts thousands, it is asked for") {
  for (const std::string& text : {quoted({"1,234", "2,345", "999"}), parted({"1,234", "2,345", "999"})}) {
    const std::string map = sketch(text);
    CHECK_MESSAGE(holds(map,
                        "# decimal = \",\"  # STATE whether \"1,234\" is a little more than 1: then take the "
                        "'#' away; or 1234: then\n# thousands = \",\"  # take this '#' away\n"),
                  map);
    CHECK(!holds(map, "\ndecimal"));
    CHECK(!holds(map, "\nthousands"));
    const std::pair<std::string, std::string> device = {"p.pressure\"", "ion.pressure\""};
    const auto first = [&](const Stated& stated) {
      return read_with_its_sketch(text, stated).values.at("ion.pressure").front();
    };
    CHECK(first({device, {"# decimal", "decimal"}}) == 1.234);
    CHECK(first({device, {"# thousands", "thousands"}}) == 1234);
    CHECK(std::isnan(first({device})));  // unanswered it is no number
  }
}
