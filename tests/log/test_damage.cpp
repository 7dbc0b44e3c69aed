// A log cut at every length and with every byte flipped: nothing corrupt passes, nothing crashes.
#include <fmt/format.h>

#include <cmath>

#include "log/support.hpp"

using namespace vacuary;
using namespace vacuary::log;
using namespace vacuary::log::test;

namespace {

std::string sound_log() {
  std::string text = "time,ion.pressure [mbar],argon.flow [sccm],run.step\r\n";
  for (int s = 0; s < 12; ++s) {
    text += fmt::format("2031-03-04T05:06:{:02}.250Z,{}e-6,{:.2f},{}\r\n", s, 1.5 + s, 250.0 + s,
                        s < 6 ? "pump" : "\"film, slow\"");
  }
  return text;
}

std::size_t odd_things(const Outcome& log) {
  std::size_t n = log.failures.size() + log.warnings.size();
  for (const std::uint64_t count : log.tally.count) n += count;
  return n;
}

// Row by row the same as in the sound log, or NaN.
bool agrees(const Outcome& part, const Outcome& whole, std::size_t i) {
  if (part.time[i] != whole.time[i]) return false;
  for (const auto& [name, column] : part.values) {
    if (!std::isnan(column[i]) && column[i] != whole.values.at(name)[i]) return false;
  }
  return part.texts.at("run.step")[i] == whole.texts.at("run.step")[i];
}

}  // namespace

TEST_CASE("cut at every length: what is left is what was written") {
  const std::string text = sound_log();
  const Outcome whole = read(text);
  REQUIRE(whole.said.empty());
  REQUIRE(whole.time.size() == 12);
  for (std::size_t n = 0; n < text.size(); ++n) {
    const Outcome part = read(text.substr(0, n));
    if (!part.opened) {
      CHECK_FALSE(part.failures.empty());
      continue;
    }
    for (std::size_t i = 0; i < part.time.size(); ++i)
      CHECK_MESSAGE(agrees(part, whole, i), "cut at ", n, ", row ", i);
    const bool between_rows = text[n - 1] == '\n' || text[n - 1] == '\r';
    CHECK_MESSAGE((between_rows || odd_things(part) > 0), "cut at ", n);
  }
}

TEST_CASE(
    "every byte flipped: a row is dropped or marked, or holds a digit or letter that no reader could know") {
  const std::string text = sound_log();
  const Outcome whole = read(text);
  for (std::size_t i = 0; i < text.size(); ++i) {
    for (const unsigned bit : {0x01U, 0x20U, 0x80U}) {
      std::string damaged = text;
      damaged[i] = static_cast<char>(static_cast<unsigned char>(damaged[i]) ^ bit);
      const Outcome log = read(damaged);
      if (!log.opened) continue;
      CHECK(log.time.size() <= 13);
      const bool lost = log.time.size() != whole.time.size();
      CHECK_MESSAGE((!lost || odd_things(log) > 0), "byte ", i, " bit ", bit);
    }
  }
}
