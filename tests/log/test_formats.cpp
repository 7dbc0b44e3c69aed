// Every kind of export that is accepted: the same three rows, written each way.
#include <fmt/format.h>
#include <zlib.h>
#include <zstd.h>

#include <cmath>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

// 2031-03-04 05:06:07, :08, :09 UTC; 1.5, 2.5, 1234.25 Pa.
void check_rows(const Outcome& log) {
  for (const std::string& failure : log.failures) MESSAGE(failure);
  REQUIRE(log.opened);
  CHECK(log.failures.empty());
  CHECK(log.said == std::vector<std::string>{});
  REQUIRE(log.time.size() == 3);
  CHECK(to_rfc3339(log.time[0]) == "2031-03-04T05:06:07Z");
  CHECK(to_rfc3339(log.time[2]) == "2031-03-04T05:06:09Z");
  CHECK(log.values.at("ion.pressure") == std::vector<double>{1.5, 2.5, 1234.25});
}

const std::string plain =
    "time,ion.pressure "
    "[Pa]\n2031-03-04T05:06:07Z,1.5\n2031-03-04T05:06:08Z,2.5\n2031-03-04T05:06:09Z,1234.25\n";

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
    text.replace(at, from.size(), to);
  return text;
}

std::string utf16(const std::string& ascii, bool big, bool mark) {
  std::string out = mark ? (big ? "\xFE\xFF" : "\xFF\xFE") : "";
  for (const char c : ascii) out += big ? std::string{'\0', c} : std::string{c, '\0'};
  return out;
}

std::string gzipped(const std::string& text) {
  z_stream z{};
  REQUIRE(deflateInit2(&z, 6, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY) == Z_OK);
  std::string in = text;
  std::string out(deflateBound(&z, text.size()) + 64, '\0');
  z.next_in = reinterpret_cast<Bytef*>(in.data());
  z.avail_in = static_cast<uInt>(in.size());
  z.next_out = reinterpret_cast<Bytef*>(out.data());
  z.avail_out = static_cast<uInt>(out.size());
  REQUIRE(deflate(&z, Z_FINISH) == Z_STREAM_END);
  out.resize(out.size() - z.avail_out);
  deflateEnd(&z);
  return out;
}

std::string zstd_packed(const std::string& text) {
  std::string out(ZSTD_compressBound(text.size()), '\0');
  out.resize(ZSTD_compress(out.data(), out.size(), text.data(), text.size(), 3));
  return out;
}

plan::ChannelMap timed(plan::TimeForm form, const std::string& format = "", const std::string& zone = "") {
  plan::ChannelMap map = some_map();
  map.time_form = form;
  map.time_format = format;
  map.zone = zone;
  return map;
}

std::string with_times(const std::string& a, const std::string& b, const std::string& c) {
  return fmt::format("time,ion.pressure [Pa]\n{},1.5\n{},2.5\n{},1234.25\n", a, b, c);
}

}  // namespace

TEST_CASE("line ends: LF, CRLF, lone CR, blank lines") {
  check_rows(read(plain));
  check_rows(read(replaced(plain, "\n", "\r\n")));
  check_rows(read(replaced(plain, "\n", "\r")));
  check_rows(read(replaced(plain, "\n", "\n\n")));
}

TEST_CASE("delimiters: found without a map, stated with one") {
  for (const char* d : {";", "\t"}) {
    check_rows(read(replaced(plain, ",", d)));
    plan::ChannelMap map = some_map();
    map.delimiter = *d;
    check_rows(read(replaced(plain, ",", d), map));
  }
}

TEST_CASE("encodings: byte-order marks, UTF-16, Latin-1") {
  check_rows(read("\xEF\xBB\xBF" + plain));
  for (const bool big : {false, true}) {
    check_rows(read(utf16(plain, big, true)));
    plan::ChannelMap map = some_map();
    map.encoding = "utf-16";
    check_rows(read(utf16(plain, big, false), map));
  }
  plan::ChannelMap latin = some_map();
  latin.encoding = "latin-1";
  latin.columns = {column("K\xC3\xBChler", "cold.temperature")};
  const Outcome log = read(
      "time,K\xFChler [\xB0"
      "C]\n2031-03-04T05:06:07Z,20\n",
      latin);
  REQUIRE(log.opened);
  CHECK(log.values.at("cold.temperature").at(0) == 293.15);
}

TEST_CASE("compressed: gzip and zstd, several members one after another") {
  check_rows(read(gzipped(plain)));
  check_rows(read(zstd_packed(plain)));
  check_rows(read(gzipped(plain.substr(0, 40)) + gzipped(plain.substr(40))));
  check_rows(read(zstd_packed(plain.substr(0, 40)) + zstd_packed(plain.substr(40))));
  check_rows(read(zstd_packed(utf16(plain, false, true))));
}

TEST_CASE("compressed: cut short, damaged and without end") {
  const std::string rows = plain + std::string(100000, '\n');
  for (const std::string& packed : {gzipped(rows), zstd_packed(rows)}) {
    const Outcome cut = read(packed.substr(0, packed.size() - 3));
    CHECK(cut.failures ==
          std::vector<std::string>{"unreadable-log: the compressed log ends in the middle of its data"});
    Options options;
    options.largest_decompressed = 90000;
    const Outcome endless = read(packed, {}, options);
    CHECK(endless.failures ==
          std::vector<std::string>{"unreadable-log: the compressed log unpacks to more than 90000 bytes"});
  }
  std::string packed = gzipped(plain);
  packed[packed.size() - 6] = static_cast<char>(packed[packed.size() - 6] ^ 1);  // in its checksum
  const Outcome damaged = read(packed);
  REQUIRE(damaged.failures.size() == 1);
  CHECK(damaged.failures[0].starts_with("unreadable-log: the compressed log is damaged"));
}

TEST_CASE("RFC 4180 section 2: each rule") {
  const auto texts = [](const std::string& rows) {
    return read("time,plant.state,plant.alarm\n" + rows).texts;
  };
  const std::string t = "2031-03-04T05:06:07Z,";
  // 2.1 and 2.2: records on lines of their own, the last with or without a line break
  CHECK(texts(t + "aaa,bbb\r\n")["plant.alarm"] == std::vector<std::string>{"bbb"});
  // 2.5: cells may or may not be in quotation marks
  CHECK(texts(t + "\"aaa\",\"bbb\"\r\n")["plant.state"] == std::vector<std::string>{"aaa"});
  // 2.6: line breaks, commas and quotation marks in quoted cells
  CHECK(texts(t + "\"b\r\nbb\",ccc\r\n")["plant.state"] == std::vector<std::string>{"b\r\nbb"});
  CHECK(texts(t + "\"a,a\",ccc\r\n")["plant.state"] == std::vector<std::string>{"a,a"});
  // 2.7: a quotation mark in a quoted cell is written twice
  CHECK(texts(t + "\"b\"\"bb\",ccc\r\n")["plant.state"] == std::vector<std::string>{"b\"bb"});
}

TEST_CASE("a stray quotation mark costs its own row, not the rest") {
  std::string text = "time,plant.state,ion.pressure [Pa]\n";
  for (int s = 0; s < 300; ++s)
    text += fmt::format("2031-03-04T05:{:02}:{:02}Z,{},1\n", s / 60, s % 60, s == 50 ? "\"on" : "on");
  const Outcome log = read(text);
  CHECK(log.time.size() == 300);
  CHECK(log.texts.at("plant.state")[50] == "\"on");
}

TEST_CASE("numbers: decimal comma and thousands marks") {
  plan::ChannelMap map = some_map();
  map.delimiter = ';';
  map.decimal_comma = true;
  map.thousands = '.';
  check_rows(read(replaced(replaced(replaced(plain, ",", ";"), "1234.25", "1.234,25"), ".5", ",5"), map));
  map.decimal_comma = false;
  map.thousands = ' ';
  for (const char* mark : {" ", "\xC2\xA0", "\xE2\x80\xAF", "\xE2\x80\x89"})
    check_rows(read(replaced(replaced(plain, ",", ";"), "1234.25", fmt::format("1{}234.25", mark)), map));
  map.thousands = '\'';
  for (const char* mark : {"'", "\xE2\x80\x99"})
    check_rows(read(replaced(replaced(plain, ",", ";"), "1234.25", fmt::format("1{}234.25", mark)), map));
  map.encoding = "latin-1";
  map.thousands = ' ';
  check_rows(read(replaced(replaced(plain, ",", ";"), "1234.25",
                           "1\xA0"
                           "234.25"),
                  map));
}

TEST_CASE("preamble, footer and a line of units") {
  plan::ChannelMap map = some_map();
  map.preamble_lines = 3;
  map.footer_lines = 2;
  map.units_line = true;
  const std::string body = replaced(plain, "ion.pressure [Pa]\n", "ion.pressure\n,[Pa]\n");
  check_rows(read("Plant export\n\nOperator: \"x\n" + body + "-- end\n3 rows\n", map));
  check_rows(read("Plant export\n\nOperator: x\n" + body + "-- end\n3 rows", map));
}

TEST_CASE("time forms") {
  using plan::TimeForm;
  check_rows(
      read(with_times("2031-03-04 06:06:07+01:00", "2031-03-04t05:06:08z", "2031-03-04T05:06:09.000Z")));
  check_rows(read(with_times("2031-03-04 06:06:07", "2031-03-04T06:06:08", "2031-03-04 06:06:09.0"),
                  timed(TimeForm::local, "", "Europe/Berlin")));
  check_rows(read(with_times("04-Mar-2031 05:06:07", "4-MAR-2031 05:06:08", "04-March-2031 5:06:09"),
                  timed(TimeForm::local, "%d-%b-%Y %H:%M:%S", "UTC")));
  check_rows(read(with_times("3/4/31 12:06:07 AM", "3/4/31 12:06:08 am", "3/4/31 12:06:09 AM"),
                  timed(TimeForm::local, "%m/%d/%y %I:%M:%S %p", "-05:00")));
  check_rows(
      read(with_times("04.03.2031 05:06:07 +0000", "04.03.2031 05:06:08 +00:00", "04.03.2031 06:06:09 +0100"),
           timed(TimeForm::local, "%d.%m.%Y %H:%M:%S %z")));
  check_rows(read(with_times("04.03.2031 05:06:7 0", "04.03.2031 05:06:8 000", "04.03.2031 05:06:9 0"),
                  timed(TimeForm::local, "%d.%m.%Y %H:%M:%S %L", "UTC")));
  check_rows(read(with_times("2031-063T05:06:07", "2031-063T05:06:08", "2031-063T05:06:09"),
                  timed(TimeForm::local, "%Y-%jT%H:%M:%S", "UTC")));
  check_rows(read(with_times("1930367167", "1930367168.0", "1.930367169e9"), timed(TimeForm::epoch_s)));
  check_rows(read(with_times("1930367167000", "1930367168000", "1930367169000"), timed(TimeForm::epoch_ms)));
  check_rows(read(with_times("1930367167000000", "1930367168000000", "1930367169000000"),
                  timed(TimeForm::epoch_us)));
  // 2031-03-04 is day 47911 of the spreadsheets' count from 1899-12-30
  check_rows(read(with_times("47911.2125810185", "47911.2125925926", "47911.2126041667"),
                  timed(TimeForm::spreadsheet_day, "", "UTC")));
  plan::ChannelMap elapsed = timed(TimeForm::elapsed_s);
  elapsed.start = Instant{std::int64_t{1930367160} * 1'000'000'000};
  check_rows(read(with_times("7", "8.000", "9"), elapsed));
}

TEST_CASE("time forms: other counts, clocks that run on, offsets of whole hours, months in other languages") {
  using plan::TimeForm;
  check_rows(read(with_times("1930367167000000000", "1930367168000000000", "1930367169000000000"),
                  timed(TimeForm::epoch_ns)));
  const auto elapsed = [](TimeForm form, const char* start) {
    plan::ChannelMap map = timed(form);
    map.start.emplace();
    REQUIRE(from_rfc3339(start, *map.start));
    return map;
  };
  check_rows(
      read(with_times("7000", "8000.0", "9e3"), elapsed(TimeForm::elapsed_ms, "2031-03-04T05:06:00Z")));
  check_rows(read(with_times("0.05", "0.0666666666667", "0.08333333333333333"),
                  elapsed(TimeForm::elapsed_min, "2031-03-04T05:06:04Z")));
  check_rows(read(with_times("5", "5.000277777777777778", "5.000555555555555556"),
                  elapsed(TimeForm::elapsed_h, "2031-03-04T00:06:07Z")));
  for (const char* hour : {"29:", "1.05:", "1 05:", "1d 5:", "1d05:"}) {
    const std::string at = std::string(hour) + "06:";
    check_rows(read(with_times(at + "07", at + "08.000", at + "9"),
                    elapsed(TimeForm::elapsed_clock, "2031-03-03T00:00:00Z")));
  }
  for (const char* odd :
       {"1:2", "0:60:00", "0:00:60", "1.24:00:00", "-1:00:00", ":00:00", "1:00:00x", "1e1:00:00"}) {
    const Outcome log =
        read(with_times("0:00:00", odd, "0:00:02"), elapsed(TimeForm::elapsed_clock, "2031-03-04T05:06:07Z"));
    CHECK_MESSAGE(log.tally.count[static_cast<std::size_t>(Oddity::unreadable_time)] == 1, odd);
  }
  check_rows(read(with_times("2031-03-04 05:06:07+00", "2031-03-04 06:06:08+01", "2031-03-04 05:06:09 UTC"),
                  timed(TimeForm::local, "%F %T %z")));
  for (const char* month : {"Mar", "mars", "M\xC3\xA4rz", "M\xC3\x84R.", "marzo", "MARCH"}) {
    const std::string date = fmt::format("Di. 04 {} 2031 05:06:", month);
    check_rows(read(with_times(date + "07", date + "08", date + "09"),
                    timed(TimeForm::local, "%a %d %b %Y %T", "UTC")));
  }
}

// MJD = JD - 2400000.5 (IAU 1997, resolution B1); J2000.0 is JD 2451545.0, 2000-01-01 12:00.
TEST_CASE("time forms: Julian dates and days since a start") {
  using plan::TimeForm;
  const plan::ChannelMap mjd = timed(TimeForm::mjd), jd = timed(TimeForm::julian_date);
  check_rows(read(with_times("62929.21258101851852", "62929.21259259259259", "62929.21260416666667"), mjd));
  check_rows(
      read(with_times("2462929.71258101851852", "2462929.71259259259259", "2462929.71260416666667"), jd));
  plan::ChannelMap days = timed(TimeForm::elapsed_d);
  days.start.emplace();
  REQUIRE(from_rfc3339("2031-03-01T00:00:00Z", *days.start));
  check_rows(read(with_times("3.21258101851852", "3.21259259259259", "3.21260416666667"), days));
  const Outcome epoch = read(with_times("2451545", "2451545.25", "2451545.5"), jd);
  REQUIRE(epoch.time.size() == 3);
  CHECK(to_rfc3339(epoch.time[0]) == "2000-01-01T12:00:00Z");
  CHECK(to_rfc3339(epoch.time[2]) == "2000-01-02T00:00:00Z");
  const Outcome modified = read(with_times("51544.5", "51544.75", "51545"), mjd);
  REQUIRE(modified.time.size() == 3);
  CHECK(to_rfc3339(modified.time[0]) == "2000-01-01T12:00:00Z");
  for (const char* odd : {"-1", "2451545.2x", ".5", "", "1e9", "99999999999999999999",
                          "9000000000000000000.5", "2451545.5e3"}) {
    const Outcome log = read(with_times("2451545", odd, "2451545.5"), jd);
    CHECK_MESSAGE(log.tally.count[static_cast<std::size_t>(Oddity::unreadable_time)] == 1, odd);
  }
}

TEST_CASE("a time in several columns, in any order of these") {
  plan::ChannelMap map = timed(plan::TimeForm::local, "%Y %m %d %H %M %S", "UTC");
  map.time_column.clear();
  map.time_columns = {"Year", "Month", "Day", "Hour", "Minute", "Second"};
  check_rows(
      read("Year,Month,Day,Hour,Minute,Second,ion.pressure [Pa]\n2031,3,4,5,6,7,1.5\n"
           "2031,03,04,05,06,08,2.5\n2031,3,4,5,6,9.000,1234.25\n",
           map));
  check_rows(
      read("Second,Minute,Day,Hour,ion.pressure [Pa],Month,Year\n7,6,4,5,1.5,3,2031\n8,6,4,5,2.5,3,2031\n"
           "9,6,4,5,1234.25,3,2031\n",
           map));
  const Outcome none = read(plain, map);
  CHECK(none.failures ==
        std::vector<std::string>{"missing-column: the channel map's time column 'Year' is not in the log"});
}

// The months' usual abbreviations in five languages, by CLDR (from memory).
TEST_CASE("names of months") {
  const char* const names[12][5] = {{"Jan", "ene", "janv.", "J\xC3\xA4n", "gen"},
                                    {"Feb", "feb", "f\xC3\xA9vr.", "Feb", "feb"},
                                    {"Mar", "mar", "mars", "M\xC3\xA4r", "mar"},
                                    {"Apr", "abr", "avr.", "Apr", "apr"},
                                    {"May", "may", "mai", "Mai", "mag"},
                                    {"Jun", "jun", "juin", "Jun", "giu"},
                                    {"Jul", "jul", "juil.", "Jul", "lug"},
                                    {"Aug", "ago", "ao\xC3\xBBt", "Aug", "ago"},
                                    {"Sep", "sept", "sept.", "Sep", "set"},
                                    {"Oct", "oct", "oct.", "Okt", "ott"},
                                    {"Nov", "nov", "nov.", "Nov", "nov"},
                                    {"Dec", "dic",
                                     "d\xC3\xA9"
                                     "c.",
                                     "Dez", "dic"}};
  for (int month = 1; month <= 12; ++month) {
    for (const char* name : names[month - 1]) {
      const Outcome log = read(fmt::format("time,ion.pressure [Pa]\n04-{}-2031 05:06:07,1\n", name),
                               timed(plan::TimeForm::local, "%d-%b-%Y %T", "UTC"));
      REQUIRE_MESSAGE(log.time.size() == 1, name);
      CHECK_MESSAGE(to_rfc3339(log.time[0]) == fmt::format("2031-{:02}-04T05:06:07Z", month), name);
    }
  }
}

TEST_CASE("cells apart by a vertical bar") {
  plan::ChannelMap map = some_map();
  map.delimiter = '|';
  check_rows(read(replaced(plain, ",", "|"), map));
  check_rows(read(replaced(plain, ",", "|")));
}

TEST_CASE("date and time in two columns") {
  plan::ChannelMap map = timed(plan::TimeForm::local, "%d/%m/%Y %H:%M:%S", "UTC");
  map.date_column = "Date";
  map.time_column = "Time";
  check_rows(
      read("Date,ion.pressure "
           "[Pa],Time\n04/03/2031,1.5,05:06:07\n04/03/2031,2.5,05:06:08\n04/03/2031,1234.25,05:06:09\n",
           map));
}

TEST_CASE("long format: rows of time, channel, value") {
  plan::ChannelMap map = some_map();
  map.long_form = true;
  map.time_column = "t";
  map.long_channel_column = "tag";
  map.long_value_column = "val";
  map.columns = {column("P", "ion.pressure", "Pa"), column("F", "argon.flow", "sccm"),
                 column("S", "plant.state")};
  const Outcome log = read(
      "t,tag,val\n2031-03-04T05:06:07Z,P,1.5\n2031-03-04T05:06:07Z,F,100\n2031-03-04T05:06:07Z,S,on\n"
      "2031-03-04T05:06:08Z,P,2.5\n2031-03-04T05:06:08Z,other,2\n2031-03-04T05:06:08Z,F,200\n"
      "2031-03-04T05:06:09Z,S,off\n2031-03-04T05:06:09Z,P,1234.25\n2031-03-04T05:06:09Z,F,300\n",
      map);
  check_rows(log);
  CHECK(log.texts.at("plant.state") == std::vector<std::string>{"on", "on", "off"});
  // 100 sccm is 100 x 1.68875e-3 Pa m3/s at 0 degC (kinetic theory), so p Q / R T in mol/s
  CHECK(log.values.at("argon.flow")[0] ==
        doctest::Approx(100 * 1.68875e-3 / (8.314462618 * 273.15)).epsilon(1e-5));
}

TEST_CASE(
    "long format: rows of one stamp become one row wherever the text is cut; tags nobody named are said") {
  plan::ChannelMap map = some_map();
  map.long_form = true;
  map.time_column = "t";
  map.long_channel_column = "tag";
  map.long_value_column = "val";
  map.columns = {column("P", "ion.pressure", "Pa"), column("F", "argon.flow", "sccm"),
                 column("S", "plant.state")};
  map.ignore = {{"heater", {}}};
  std::string text = "t,tag,val\n";
  const Instant start{1930367167000000000};
  for (std::int64_t s = 0; s < 9000; ++s) {
    const std::string stamp = to_rfc3339(Instant{start.ns + s * 1'000'000'000});
    for (const char* cell : {"P,1.5", "F,100", "S,on", "heater,20"}) text += stamp + "," + cell + "\n";
    if (s > 8000) text += stamp + ",late,1\n";
  }
  const Outcome log = read(text, map);
  CHECK(log.time.size() == 9000);
  CHECK(log.tally.count[static_cast<std::size_t>(Oddity::repeated_stamp)] == 0);
  CHECK(log.tally.unmapped == std::vector<std::string>{"late"});
}

TEST_CASE(
    "long format: rows of one stamp are one row also where a tag parts date and time, or in quotation "
    "marks") {
  plan::ChannelMap map = some_map();
  map.long_form = true;
  map.time_form = plan::TimeForm::local;
  map.time_format = "%Y-%m-%d %H:%M:%S";
  map.zone = "UTC";
  map.date_column = "day";
  map.time_column = "clock";
  map.long_channel_column = "tag";
  map.long_value_column = "val";
  map.columns = {column("P", "ion.pressure", "Pa"), column("F", "argon.flow", "sccm")};
  for (const std::string mark : {"", "\""}) {
    std::string text = "day,tag,clock,val\n";
    for (int s = 0; s < 12000; ++s) {
      const std::string clock = fmt::format("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60);
      for (const char* tag : {"P", "F"})
        text += fmt::format("{0}2031-03-04{0},{0}{1}{0},{0}{2}{0},{0}1{0}\n", mark, tag, clock);
    }
    const Outcome log = read(text, map);
    REQUIRE(log.opened);
    CHECK(log.time.size() == 12000);
    CHECK(log.tally.count[static_cast<std::size_t>(Oddity::repeated_stamp)] == 0);
  }
}

TEST_CASE("long format: a channel's value stands no longer than its own usual distance and a half") {
  plan::ChannelMap map = some_map();
  map.long_form = true;
  map.time_column = "t";
  map.long_channel_column = "tag";
  map.long_value_column = "val";
  map.columns = {column("P", "ion.pressure", "Pa"), column("F", "argon.flow", "sccm")};
  std::string text = "t,tag,val\n";
  for (int s = 0; s < 40; ++s) {
    text += fmt::format("2031-03-04T05:06:{:02}Z,P,1\n", s);
    if (s % 2 == 0 && s < 20) text += fmt::format("2031-03-04T05:06:{:02}Z,F,1\n", s);
  }
  const Outcome log = read(text, map);
  CHECK(log.time.size() == 40);
  CHECK_FALSE(std::isnan(log.values.at("argon.flow")[21]));
  CHECK(std::isnan(log.values.at("argon.flow")[22]));
}

TEST_CASE("several files of one run, named in any order") {
  const auto second =
      write("b.csv", "ion.pressure [mbar],time\n0.025,2031-03-04T05:06:08Z\n12.3425,2031-03-04T05:06:09Z\n");
  const auto first = write("a.csv", "time,ion.pressure [Pa]\n2031-03-04T05:06:07Z,1.5\n");
  plan::ChannelMap map;
  map.time_column = "time";
  const Outcome log = read_files({second, first}, map);
  check_rows(log);
  CHECK(log.header.files.size() == 2);
  CHECK(log.breaks == std::vector<std::size_t>{1});
  CHECK(log.line == std::vector<std::uint64_t>{2, 2, 3});
}

TEST_CASE("units, gain, offset, states, logarithmic scale and step names") {
  plan::ChannelMap map = some_map();
  map.step_column = "Phase";
  map.step_names = {{"P1", "coat"}};
  plan::Column gauge = column("U", "ion.pressure");
  gauge.logarithmic = plan::Column::Logarithmic{2, -10, unit("mbar", Kind::pressure)};
  plan::Column shutter = column("Shutter", "al.open");
  shutter.states = {{"OPEN", 1}, {"CLOSED", 0}};
  plan::Column power = column("P", "supply.power", "kW");
  power.gain = 1.02;
  power.offset_si = -5;
  map.columns = {gauge, shutter, power};
  const Outcome log = read(
      "time,U,Shutter,P,Phase\n2031-03-04T05:06:07Z,2.5,OPEN,15,P1\n2031-03-04T05:06:08Z,4,CLOSED,0,P2\n",
      map);
  REQUIRE(log.opened);
  CHECK(log.values.at("ion.pressure")[0] == doctest::Approx(1e-3).epsilon(1e-14));
  CHECK(log.values.at("ion.pressure")[1] == doctest::Approx(1).epsilon(1e-14));
  CHECK(log.values.at("al.open") == std::vector<double>{1, 0});
  CHECK(log.values.at("supply.power") == std::vector<double>{1.02 * 15000 - 5, -5});
  CHECK(log.texts.at("run.step") == std::vector<std::string>{"coat", "P2"});
}

TEST_CASE("only the wanted channels are read") {
  Options options;
  options.wanted = {"argon.flow", "run.step"};
  const Outcome log =
      read("time,ion.pressure,argon.flow [sccm],run.step\n2031-03-04T05:06:07Z,x,1,coat\n", {}, options);
  REQUIRE(log.opened);
  CHECK(log.header.channels.size() == 2);
  CHECK(log.said.empty());
}
