// Columns of an unknown export that hold numbers of a device and are none of its readings: what was set, and
// the least, the greatest or the spread over a time whose mean stands beside them.
#include <algorithm>
#include <array>
#include <cctype>
#include <set>

#include "log/sketch.hpp"

namespace vacuary::log {
namespace {

using Words = std::vector<std::string>;

// "SupplyPower_SP" to supply, power, sp.
Words words_of(const std::string& header) {
  Words out(1);
  char before = ' ';
  for (const char c : header) {
    const auto u = static_cast<unsigned char>(c);
    const bool part = std::isalnum(u) != 0 || u >= 0x80;
    const bool begins = std::isupper(u) != 0 && std::islower(static_cast<unsigned char>(before)) != 0;
    if ((!part || begins) && !out.back().empty()) out.emplace_back();
    if (part) out.back() += static_cast<char>(u < 0x80 ? std::tolower(u) : u);
    before = c;
  }
  if (out.back().empty()) out.pop_back();
  return out;
}

template <std::size_t N>
bool is_one_of(const std::string& word, const std::array<const char*, N>& words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

constexpr std::array set_words = {"setpoint", "setpoints", "setvalue", "sp",       "soll",     "sollwert",
                                  "consigne", "consigna",  "setpt",    "setpunkt", "impostato"};
constexpr std::array set_ends = {"point", "value", "pt"};  // of "set point"
constexpr std::array extreme_words = {"min",    "max",      "minimum", "maximum", "std",
                                      "stddev", "stdev",    "dev",     "sigma",   "rms",
                                      "least",  "greatest", "kleinst", "maximal", "minimal"};
constexpr std::array reading_words = {"act",  "actual",  "pv",       "ist",      "istwert", "value",
                                      "wert", "avg",     "average",  "mean",     "mittel",  "mittelwert",
                                      "mid",  "moyenne", "media",    "promedio", "reading", "readback",
                                      "rb",   "meas",    "measured", "monitor",  "mon"};

// What is left of a header when the words that say which of a device's numbers it is are taken out.
struct Parts {
  std::set<std::string> base;
  bool is_set = false, may_be_set = false, is_extreme = false;
};
Parts parts_of(const std::string& header) {
  Parts out;
  const Words words = words_of(header);
  for (std::size_t i = 0; i < words.size(); ++i) {
    const std::string& word = words[i];
    const bool at_end = i == 0 || i + 1 == words.size();
    if (is_one_of(word, set_words)) {
      out.is_set = true;
    } else if (word == "set" && i + 1 < words.size() && is_one_of(words[i + 1], set_ends)) {
      out.is_set = true;
      ++i;
    } else if (word == "set" && at_end) {
      out.may_be_set = true;
    } else if (is_one_of(word, extreme_words)) {
      out.is_extreme = true;
    } else if (!is_one_of(word, reading_words)) {
      out.base.insert(word);
    }
  }
  return out;
}

}  // namespace

std::vector<Role> roles_of(const std::vector<std::string>& headers) {
  std::vector<Parts> all;
  for (const std::string& header : headers) all.push_back(parts_of(header));
  const auto has_reading = [&all](const Parts& one) {
    return !one.base.empty() && std::any_of(all.begin(), all.end(), [&one](const Parts& each) {
      return each.base == one.base && !each.is_set && !each.may_be_set && !each.is_extreme;
    });
  };
  std::vector<Role> out;
  for (const Parts& one : all) {
    const bool set = one.is_set || (one.may_be_set && has_reading(one));
    out.push_back(set                                  ? Role::set_value
                  : one.is_extreme && has_reading(one) ? Role::beside_mean
                                                       : Role::reading);
  }
  return out;
}

}  // namespace vacuary::log
