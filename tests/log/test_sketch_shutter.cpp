// First channel maps for unknown exports: what a shutter's words mean.
#include <cmath>

#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

// The lines about a shutter that says these words.
std::string lines_of(const std::vector<std::string>& words, const std::string& name = "Shutter") {
  const std::string map = sketch("time;" + name + ";P [Pa]\n" + [&words] {
    std::string text;
    for (int i = 0; i < 40; ++i)
      text += fmt::format("2031-03-04T05:06:{:02}Z;{};1\n", i,
                          words[static_cast<std::size_t>(i) * words.size() / 40]);
    return text;
  }());
  const std::size_t from = map.find("\n", map.find("header = \"" + name + "\"\n") + 1);
  const std::size_t channel = map.find("channel = ", from);
  const std::size_t next = map.find('\n', channel) + 1;
  return map.substr(next, map.find("\n[[column]]", next) - next);
}

}  // namespace

TEST_CASE("a shutter's words are read by what they mean, in five languages") {
  for (const auto& [open, shut] : {std::pair{"open", "closed"},
                                   {"Position open", "Position closed"},
                                   {"OPEN", "SHUT"},
                                   {"offen", "zu"},
                                   {"auf", "geschlossen"},
                                   {"ge\u00F6ffnet", "Geschlossen"},
                                   {"ouvert", "ferm\u00E9"},
                                   {"ouverte", "fermee"},
                                   {"abierto", "cerrado"},
                                   {"aperto", "chiuso"},
                                   {"S1_OPEN", "S1_CLOSED"},
                                   {"is fully open", "is fully closed"}}) {
    CHECK(
        lines_of({open, shut}) ==
        fmt::format("states = {{ \"{}\" = 1, \"{}\" = 0 }}  # CONFIRM: 1 is open, 0 is shut\n", open, shut));
  }
  CHECK(lines_of({"chiuso", "aperto"}, "Otturatore") ==
        "states = { \"chiuso\" = 0, \"aperto\" = 1 }  # CONFIRM: 1 is open, 0 is shut\n");
}

TEST_CASE("a shutter's word that leaves open what it means is asked for, and has no value before") {
  CHECK(lines_of({"open", "closed", "moving", "not open"}) ==
        "states = { \"open\" = 1, \"closed\" = 0 }  # CONFIRM: 1 is open, 0 is shut\n"
        "# STATE how far it is open at \"moving\", \"not open\" (0 is shut, 1 is open) and put that into "
        "'states', "
        "which has no value for it\n");
  for (const auto& words : {std::vector<std::string>{"on", "off"},
                            {"A", "B"},
                            {"true", "false"},
                            {"nicht offen", "nicht zu"},
                            {"open/closed", "moving"}}) {
    CHECK(lines_of(words) ==
          fmt::format("# states = {{ \"{}\" = , \"{}\" =  }}  # STATE how far it is open at each: 0 is "
                      "shut, 1 is open; then take the '#' away\n",
                      words[0], words[1]));
  }
}

TEST_CASE("a shutter with many words is one all the same, and its words that are not stated are no values") {
  const std::string text =
      "time,Shutter\n" + rows(50, [](int i) {
        constexpr const char* words[] = {"closed", "opening", "open", "closing", "fault"};
        return words[i / 10];
      });
  const Outcome log = read_with_its_sketch(text);
  CHECK(log.failures == std::vector<std::string>{});
  REQUIRE(log.values.contains("cathode.open"));
  CHECK(log.values.at("cathode.open")[0] == 0);
  CHECK(log.values.at("cathode.open")[25] == 1);
  for (const std::size_t row : {15U, 35U, 45U}) CHECK(std::isnan(log.values.at("cathode.open")[row]));
}
