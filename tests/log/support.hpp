// Small verbs for the tests of the log reader: write a log, read it, look at what survived and
// what was said.
#pragma once

#include <doctest/doctest.h>

#include <map>
#include <string>
#include <vector>

#include "log/log.hpp"

namespace vacuary::log::test {

// A file in a folder of this process's own, removed at its end. Overwrites a file of that name.
[[nodiscard]] std::filesystem::path write(const std::string& name, const std::string& bytes);

struct Outcome {
  bool opened = false;
  std::vector<std::string> failures;  // messages of errors, "rule: message"
  std::vector<std::string> warnings;
  Header header;
  std::vector<Instant> time;
  std::vector<std::uint64_t> line;
  std::vector<int> file;                                  // that the line is of
  std::map<std::string, std::vector<double>> values;      // by channel name
  std::map<std::string, std::vector<std::string>> texts;  // the text at each row
  std::vector<std::size_t> breaks;
  std::vector<std::uint64_t> figures;  // their bits, of all parts of all blocks
  std::vector<Event> events;
  std::string after;              // what Reader::diagnostics() said, as printed
  std::vector<std::string> said;  // "line 3: gap: 12 s without a row ..."
  Tally tally;
  std::size_t blocks = 0;
};

[[nodiscard]] Outcome read_files(const std::vector<std::filesystem::path>& files,
                                 const plan::ChannelMap& map = {}, const Options& options = {});
[[nodiscard]] Outcome read(const std::string& bytes, const plan::ChannelMap& map = {},
                           const Options& options = {});

// What was read and said, to the last bit, as text: equal texts mean equal outcomes.
[[nodiscard]] std::string fingerprint(const Outcome& outcome);

// A map as channels.toml would give it: the flag that a file stands behind it is set.
[[nodiscard]] plan::ChannelMap some_map();
[[nodiscard]] plan::Column column(const std::string& header, const std::string& channel,
                                  const std::string& unit = "");

}  // namespace vacuary::log::test

namespace doctest {
template <>
struct StringMaker<std::vector<std::string>> {
  static String convert(const std::vector<std::string>& lines) {
    std::string all;
    for (const std::string& line : lines) all += "\n    " + line;
    return all.c_str();
  }
};
}  // namespace doctest
