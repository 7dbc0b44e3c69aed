#include "plan/channel.hpp"

#include <array>

namespace vacuary::plan {
namespace {

struct WhatEntry {
  What what;
  const char* word;
  Kind kind;
  bool text;
};

// In the order of What.
constexpr std::array<WhatEntry, 16> whats{{{What::pressure, "pressure", Kind::pressure, false},
                                           {What::flow, "flow", Kind::flow, false},
                                           {What::power, "power", Kind::power, false},
                                           {What::voltage, "voltage", Kind::voltage, false},
                                           {What::current, "current", Kind::current, false},
                                           {What::energy, "energy", Kind::energy, false},
                                           {What::arcs, "arcs", Kind::count, false},
                                           {What::open, "open", Kind::ratio, false},
                                           {What::angle, "angle", Kind::angle, false},
                                           {What::speed, "speed", Kind::angular_speed, false},
                                           {What::index, "index", Kind::count, false},
                                           {What::temperature, "temperature", Kind::temperature, false},
                                           {What::frequency, "frequency", Kind::frequency, false},
                                           {What::state, "state", Kind::count, true},
                                           {What::alarm, "alarm", Kind::count, true},
                                           {What::step, "step", Kind::count, true}}};

const WhatEntry& entry(What what) { return whats.at(static_cast<std::size_t>(what)); }

}  // namespace

const char* name(What what) { return entry(what).word; }

std::optional<What> what_of(const std::string& text) {
  for (const WhatEntry& each : whats) {
    if (text == each.word) return each.what;
  }
  return std::nullopt;
}

Kind kind_of(What what) { return entry(what).kind; }
bool is_text(What what) { return entry(what).text; }

std::string Channel::name() const { return device + "." + plan::name(what); }

std::optional<Channel> parse_channel(const std::string& text) {
  const std::size_t dot = text.rfind('.');
  if (dot == std::string::npos || dot == 0) return std::nullopt;
  const auto what = what_of(text.substr(dot + 1));
  if (!what) return std::nullopt;
  return Channel{text.substr(0, dot), *what};
}

}  // namespace vacuary::plan
