// First channel maps for unknown exports: what each column is; units are never guessed.
#include "log/sketching.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

TEST_CASE("units: at the end of a header they are marked, single letters only told, none is made up") {
  const std::string map = sketch(
      "time,P1_mbar,Pump A,Level,Q / sccm,P2 [Pax\n2031-03-04T05:06:07Z,1,2,3,4,5\n"
      "2031-03-04T05:06:08Z,1,2,3,4,5\n");
  CHECK(map.find("unit = \"[Pax\"") == std::string::npos);  // half a bracket makes no unit of it
  CHECK(map.find("unit = \"Pa\"") == std::string::npos);
  CHECK(map.find("unit = \"mbar\"  # CONFIRM: taken from the end of the header") != std::string::npos);
  CHECK(map.find("unit = \"sccm\"  # CONFIRM") != std::string::npos);
  CHECK(map.find("# unit = \"A\"") != std::string::npos);
  CHECK(map.find("\nunit = \"A\"") == std::string::npos);
  CHECK(map.find("# header = \"Level\"\n# channel = \"level.\"\n# unit = \"\"") != std::string::npos);
}

TEST_CASE("columns named as channels: an unknown unit is asked for, a number for \"no value\" is shown") {
  const std::string map = sketch(
      "time,ion.pressure [torr],pirani.pressure [mbar]\n2031-03-04T05:06:07Z,1e-5,-999\n"
      "2031-03-04T05:06:08Z,1e-5,3\n");
  CHECK(
      map.find(
          "# unit = \"\"  # STATE: \"torr\" in the log is no unit of it known here; did you mean 'Torr'?") !=
      std::string::npos);
  CHECK(map.find("header = \"pirani.pressure\"\nchannel = \"pirani.pressure\"\n# unit: \"mbar\" by the log "
                 "itself\n# bad_values = [-999]") != std::string::npos);
}

TEST_CASE("what looks like numbers and does not read as one is no state") {
  const std::string map =
      sketch(",,Ion P,Note\n2031-03-04T05:06:07Z,1,1e-5 mbr,101 325\n2031-03-04T05:06:08Z,2,2e-5 mbr,1\n");
  CHECK(map.find("STATE: its cells, such as \"1e-5 mbr\", begin like numbers") != std::string::npos);
  CHECK(map.find(".state") == std::string::npos);
}

TEST_CASE("columns named as channels: texts and numbers for \"no value\" are asked for") {
  const auto cell = [](int i, const char* odd, int at) { return i == at ? odd : "1.5"; };
  const std::string text =
      "time,ion.pressure [mbar],argon.flow [sccm],supply.arcs,supply.state\n" + rows(20, [&](int i) {
        const char* arcs = i == 3 ? "-9999" : i == 8 ? "9.9e37" : i == 9 ? "Bad" : "0";
        return fmt::format("{},{},{},{}", i == 4 ? "OVER" : cell(i, "---", 7), cell(i, "n/a", 5), arcs,
                           i == 2 ? "---" : "on");
      });
  const std::string map = sketch(text);
  CHECK(holds(map,
              "header = \"ion.pressure\"\nchannel = \"ion.pressure\"\n# unit: \"mbar\" by the log itself\n"
              "bad_texts = [\"OVER\", \"---\"]  # CONFIRM: that these mean \"no value\"\n"));
  CHECK(holds(map, "bad_texts = [\"n/a\"]  # CONFIRM"));
  CHECK(holds(map,
              "header = \"supply.arcs\"\nchannel = \"supply.arcs\"\nbad_texts = [\"Bad\"]  # CONFIRM: that "
              "these mean \"no value\"\n# bad_values = [-9999, 9.9e+37]  # STATE whether"));
  CHECK(!holds(map, "supply.state"));
  const Outcome read = read_with_its_sketch(text, {{"# bad_values", "bad_values"}});
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.tally.count[static_cast<std::size_t>(Oddity::unreadable_cell)] == 0);
  CHECK(read.tally.count[static_cast<std::size_t>(Oddity::bad_value)] == 6);
  CHECK(!holds(sketch("time,ion.pressure [mbar]\n" + rows(5, [](int) { return "1.5"; })), "[[column]]"));
}

TEST_CASE("all texts among numbers are listed, what the reader knows by itself is not") {
  const auto text = [](int words) {
    return "time,P [Pa]\n" + rows(200, [words](int i) {
             if (i == 3) return std::string("inf");
             if (i == 4) return std::string("NaN");
             return i < 100 || i >= 100 + words
                        ? std::string("1")
                        : fmt::format("fault {}", static_cast<char>('A' + (i - 100) % 26)) +
                              std::string(static_cast<std::size_t>(i - 100) / 26, '!');
           });
  };
  const std::string nine = sketch(text(9));
  CHECK(holds(nine, "\"fault H\", \"fault I\"]  # CONFIRM: that these mean \"no value\"\n"));
  CHECK(!holds(nine, "inf"));
  CHECK(!holds(nine, "NaN"));
  CHECK(holds(sketch(text(80)), "]  # CONFIRM: that these mean \"no value\"; there are others\n"));
}

TEST_CASE("cells that look like numbers and are none are told of, and are no texts for \"no value\"") {
  const std::string text = "time;P [Pa];ion.pressure [mbar];Q [sccm]\n" + [] {
    std::string out;
    for (int i = 0; i < 20; ++i)
      out += fmt::format("2031-03-04T05:06:{:02}Z;{};{};{}\n", i,
                         i == 4   ? "1.2.3"
                         : i == 5 ? "OFF"
                                  : "1.5",
                         i == 7 || i == 8 ? "12,5" : "2.5", i == 3 ? "5 scm" : "7.5");
    return out;
  }();
  const std::string map = sketch(text);
  CHECK(holds(map,
              "bad_texts = [\"OFF\"]  # CONFIRM: that these mean \"no value\"\n"
              "# not read: 1 cell that looks like a number and is none, such as \"1.2.3\"\n"));
  CHECK(holds(map,
              "channel = \"ion.pressure\"\n# unit: \"mbar\" by the log itself\n"
              "# not read: 2 cells that look like numbers and are none, such as \"12,5\"\n"));
  CHECK(holds(map, "such as \"5 scm\"\n"));
  CHECK(map.find("bad_texts", map.find("bad_texts") + 1) == std::string::npos);
  CHECK(!holds(map, "STATE: its cells"));
  // Wherever it stands, one damaged cell makes no column of times.
  const std::string middle =
      sketch("time,P [Pa]\n" + rows(21, [](int i) { return i == 10 ? "1.2.3" : "1"; }));
  CHECK(holds(middle, "channel = \"p.pressure\""));
  CHECK(!holds(middle, "seems to hold times"));
}

TEST_CASE("a column of numbers that mostly do not read is no state, whatever else is in it") {
  const std::string map = sketch("time,Ion,ion.pressure [mbar],Off [mbar]\n" + rows(30, [](int i) {
                                   const std::string bad = i < 12 ? "OFF" : fmt::format("1e-{} mbr", i);
                                   return fmt::format("{0},{0},{1}", bad, i < 20 ? "OFF" : "1e-5");
                                 }));
  CHECK(!holds(map, ".state"));
  CHECK(holds(
      map,
      "# [[column]]\n# STATE: its cells, such as \"1e-12 mbr\", begin like numbers and do not read as one: "
      "see the decimal and\n# thousands marks of [file], or export them without units and in another "
      "form\n# header = \"Ion\"\n# bad_texts = [\"OFF\"]"));
  CHECK(holds(
      map,
      "channel = \"ion.pressure\"\n# unit: \"mbar\" by the log itself\nbad_texts = [\"OFF\"]  # CONFIRM: "
      "that these mean \"no value\"\n# STATE: its cells, such as \"1e-12 mbr\""));
  // A gauge that is off most of the time is one all the same.
  CHECK(holds(map, "channel = \"off.pressure\""));
  // Words that begin with a number are words where the column is of words.
  const std::string steps = sketch(
      "time,Step,Note\n" + rows(30, [](int i) { return i < 15 ? "1 pump,90 nm film" : "2 coat,two coats"; }));
  CHECK(holds(steps, "\"1 pump\" = \"\", \"2 coat\" = \"\""));
}

TEST_CASE("columns that differ by their units only are both described and read") {
  const std::string text =
      "time,P1 [mbar],P1 [Pa],Flow (sccm),Flow (%),P1 (front),ion.pressure [Pa],P2 [Pa]\n" +
      rows(10, [](int) { return "2.5,3.5,120,60,on,4.5,5.5"; });
  const std::string map = sketch(text);
  CHECK(holds(map, "header = \"P1 [mbar]\"\nchannel = \"p1.pressure\""));
  CHECK(holds(map, "header = \"P1 [Pa]\"\nchannel = \"p1_2.pressure\""));
  CHECK(holds(map, "header = \"Flow (sccm)\"\nchannel = \"flow.flow\""));
  // A ratio that no shutter's name explains is not taken for a shutter's.
  CHECK(holds(
      map,
      "# [[column]]  # STATE what it is (\"%\" in the log does not say of what), then take the '#' away\n"
      "# header = \"Flow (%)\"\n# channel = \"flow.\"\n# unit: \"%\" by the log itself\n"));
  CHECK(holds(map, "header = \"P1 (front)\"\n"));
  CHECK(holds(map, "header = \"P2\"\n"));
  CHECK(!holds(map, "two columns"));
  const Outcome read =
      read_with_its_sketch(text, {{"p1.pressure", "pirani.pressure"},
                                  {"p1_2.pressure", "manometer.pressure"},
                                  {"p2.pressure", "chamber.pressure"},
                                  {"flow.flow", "argon.flow"},
                                  {"# [[column]]  # STATE what it is (\"%\"", "[[column]]  # (\"%\""},
                                  {"# header = \"Flow (%)\"", "header = \"Flow (%)\""},
                                  {"# channel = \"flow.\"", "channel = \"cathode.open\""}});
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.values.at("pirani.pressure").front() == doctest::Approx(250).epsilon(1e-12));
  CHECK(read.values.at("manometer.pressure").front() == doctest::Approx(3.5).epsilon(1e-12));
  CHECK(read.values.at("ion.pressure").front() == doctest::Approx(4.5).epsilon(1e-12));
  CHECK(read.values.at("chamber.pressure").front() == doctest::Approx(5.5).epsilon(1e-12));
  CHECK(read.values.at("cathode.open").front() == doctest::Approx(0.6).epsilon(1e-12));
  CHECK(read.values.at("argon.flow").front() > 0);
  CHECK(read.texts.at("p1_front.state").front() == "on");
}

TEST_CASE("a ratio is a shutter's only by its name") {
  const std::string map =
      sketch("time,Shutter 1 [%],Throttle [%],Valve_ppm\n" + rows(5, [](int) { return "50,50,50"; }));
  CHECK(holds(map, "header = \"Shutter 1\"\nchannel = \"shutter_1.open\""));
  CHECK(holds(map, "# header = \"Throttle\"\n# channel = \"throttle.\"\n"));
  CHECK(!holds(map, "\nchannel = \"valve"));
}

TEST_CASE("a column without brackets is no other column's name") {
  const std::string text =
      "time,Flow (sccm),Flow\n" + rows(10, [](int i) { return i < 2 ? "1.5,on" : "1.2.3,on"; });
  const Outcome read = read_with_its_sketch(text);
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.texts.at("flow.state").back() == "on");
  CHECK(read.header.channels.size() == 1);
}

TEST_CASE("two columns that are one channel by name: the second is another device's, which is to be stated") {
  const std::string text =
      "time,Ion gauge [mbar],ion.pressure [mbar],ion.pressure [Pa],optic.speed [rpm],optic.speed "
      "[deg/s],Pump [rpm]\n" +
      rows(10, [](int) { return "9,2.5,3.5,1,6,90000"; });
  const std::string map = sketch(text);
  CHECK(holds(
      map,
      "header = \"ion.pressure [Pa]\"\nchannel = \"ion_2.pressure\"  # STATE which device it is: another "
      "column is ion.pressure\n"));
  CHECK(holds(map, "ignore = [\"optic.speed [deg/s]\"]  # CONFIRM"));
  CHECK(holds(map,
              "# [[column]]  # STATE what it is (another column is optic.speed), then take the '#' away\n"
              "# header = \"Pump\"\n# channel = \"\"\n# unit: \"rpm\" by the log itself\n"));
  const Outcome read = read_with_its_sketch(
      text, {{"ion_2.pressure", "pirani.pressure"}, {"ion_gauge.pressure", "manometer.pressure"}});
  CHECK(read.failures == std::vector<std::string>{});
  CHECK(read.values.at("ion.pressure").front() == doctest::Approx(250).epsilon(1e-12));
  CHECK(read.values.at("pirani.pressure").front() == doctest::Approx(3.5).epsilon(1e-12));
  CHECK(read.values.at("optic.speed").front() == doctest::Approx(0.10471975511965977).epsilon(1e-12));
}

TEST_CASE("turns per minute are the optic's speed, however they are written") {
  for (const char* unit : {"1/min", "min-1", "min^-1", "U/min", "rpm", "min\u207B\u00B9"}) {
    CAPTURE(unit);
    const std::string text = fmt::format("time,Drehzahl [{}]\n", unit) + rows(5, [](int) { return "60"; });
    CHECK(holds(sketch(text), "channel = \"optic.speed\"  # CONFIRM: that it is the optic which turns\n"));
    const Outcome read = read_with_its_sketch(text);
    CHECK(read.failures == std::vector<std::string>{});
    CHECK(read.values.at("optic.speed").front() == doctest::Approx(6.283185307179586).epsilon(1e-12));
  }
}

TEST_CASE("a volume per time is no gas flow until a person says that standard gas is meant") {
  const std::string text = "time,Argon [l/min],oxygen.flow [l/min],Water [m3/h],N2 [ln/min],Ar [slm]\n" +
                           rows(5, [](int) { return "2,3,4,5,6"; });
  const std::string map = sketch(text);
  CHECK(holds(
      map,
      "# [[column]]  # STATE whether standard gas flows here, which \"l/min\" in the log does not say; if "
      "so,\n"
      "# take the '#' away and give its unit. Water, or gas at its own pressure, is no channel: leave this\n"
      "# header = \"Argon [l/min]\"\n# channel = \"argon.flow\""));
  CHECK(holds(map, "# unit = \"\"  # did you mean 'slm', standard litre per minute?"));
  CHECK(holds(map,
              "header = \"oxygen.flow [l/min]\"\nchannel = \"oxygen.flow\"\n"
              "# unit = \"\"  # STATE: \"l/min\" in the log is no unit of it known here; did you mean 'slm', "
              "standard litre per minute?"));
  CHECK(
      holds(map, "\"ln/min\" in the log is no unit known here; did you mean 'slm'? Normal gas is at 0 degC"));
  CHECK(holds(map, "header = \"Ar\"\nchannel = \"ar.flow\""));
  CHECK(!holds(map, "ignore"));
  // Nothing is read of what was not stated, and what was is read in its unit.
  const std::string named = "time,oxygen.flow [l/min]\n" + rows(5, [](int) { return "3"; });
  REQUIRE(read_with_its_sketch(named).failures.size() == 1);
  CHECK(holds(read_with_its_sketch(named).failures[0],
              "bad-unit: the unit of 'oxygen.flow' is not understood"));
  const Outcome read = read_with_its_sketch(
      text, {{"# [[column]]  # STATE whether standard", "[[column]]  # whether standard"},
             {"# header = \"Argon [l/min]\"\n# channel = ", "header = \"Argon [l/min]\"\nchannel = "},
             {"# unit = \"\"  # did", "unit = \"slm\"  # did"},
             {"# unit = \"\"  # STATE", "unit = \"slm\"  # STATE"},
             {"ar.flow", "nitrogen.flow"}});
  CHECK(read.failures == std::vector<std::string>{});
  const double slm = read.values.at("oxygen.flow").front() / 3;
  CHECK(slm == doctest::Approx(101325e-3 / 60 / (8.31446261815324 * 273.15)).epsilon(1e-12));
  CHECK(read.values.at("argon.flow").front() == doctest::Approx(2 * slm).epsilon(1e-12));
}

TEST_CASE("quality columns are seen, each of its column, and their words are asked for") {
  const auto wide = [](const char* good, const char* bad) {
    return fmt::format(
        "time,P1 [Pa],P1 Quality,P12 [Pa],P12 Quality\n2031-03-04T05:06:07Z,1,{0},2,{0}\n"
        "2031-03-04T05:06:08Z,1,{1},2,{0}\n2031-03-04T05:06:09Z,1,{0},2,{0}\n",
        good, bad);
  };
  const std::string map = sketch(wide("Good", "Bad"));
  CHECK(holds(map,
              "good_quality = [\"Good\"]  # CONFIRM: anything else in quality columns is \"no value\", such "
              "as \"Bad\"\n"));
  CHECK(holds(map, "header = \"P1\"\nquality = \"P1 Quality\"  # CONFIRM"));
  CHECK(holds(map, "header = \"P12\"\nquality = \"P12 Quality\"  # CONFIRM"));
  CHECK(holds(sketch(wide("192", "24")), "good_quality = [\"192\"]  # CONFIRM"));
  CHECK(holds(
      sketch(wide("1", "0")),
      "# good_quality = []  # STATE what quality columns say of good values; they hold \"0\", \"1\"\n"));
  const std::string of_one_name =
      "time,P [Pa],Quality,U [V],Quality\n2031-03-04T05:06:07Z,1.5,Good,480,Good\n";
  CHECK(holds(sketch(of_one_name), "header = \"P\"\nquality = \"Quality\"  # CONFIRM"));
  // Before their columns: no map can say which is whose.
  const std::string in_front = "time,Quality,P [Pa],Quality,U [V]\n2031-03-04T05:06:07Z,Good,1.5,Good,480\n";
  CHECK_FALSE(holds(sketch(in_front), "quality = "));
  CHECK(holds(sketch(in_front), "# STATE: two columns are called \"Quality\""));
  std::string text = wide("Good", "Bad");
  for (std::size_t at = 0; (at = text.find("P12", at)) != std::string::npos;) text.replace(at, 3, "Pirani");
  for (std::size_t at = 0; (at = text.find("P1", at)) != std::string::npos;) text.replace(at, 2, "Ion");
  const Outcome log = read_with_its_sketch(text);
  CHECK(log.failures == std::vector<std::string>{});
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::bad_value)] == 1);
  const std::string one =
      sketch("time,P [Pa],T [degC],Quality\n2031-03-04T05:06:07Z,1,20,ok\n2031-03-04T05:06:08Z,1,20,ok\n");
  CHECK(holds(one, "header = \"T\"\nquality = \"Quality\""));
}

TEST_CASE("units that are none here are told by what they may mean") {
  const std::string map = sketch(
      "time,P [micron],T1 [\u00B0"
      "F],S [kVA],T2 [C],T3 [F]\n" +
      rows(9, [](int) { return "1,70,3,20,70"; }));
  CHECK(
      holds(map, "\"micron\" in the log is no unit known here; as a pressure it is mTorr, as a length um)"));
  CHECK(holds(map,
              "\"\u00B0"
              "F\" in the log is no unit known here; Fahrenheit is not read: export it in degC)"));
  CHECK(holds(map, "\"F\" in the log is no unit known here; Fahrenheit is not read: export it in degC)"));
  CHECK(holds(map,
              "\"kVA\" in the log is no unit known here; apparent power says little of what is dissipated: "
              "export it in kW)"));
  CHECK(holds(
      map,
      "# [[column]]  # STATE what it is (\"C\" in the log is a coulomb; of a temperature it is degC), then "
      "take the '#' away\n# header = \"T2 [C]\"\n# channel = \"t2.temperature\"\n# unit = \"degC\"\n"));
  CHECK(!holds(map, "ignore"));
}
