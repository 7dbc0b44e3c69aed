// The table of faults. Sizes are common practice in plants that coat with magnetrons.
#include "rehearse/faults.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace vacuary::rehearse {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double day_s = 86400;

// 0 before, 1 within, straight flanks of `edge_s` inside [0, lasts].
double trapezoid(double since_s, double lasts_s, double edge_s) {
  const double edge = std::min(edge_s, lasts_s / 2);
  const double in = edge > 0 ? since_s / edge : 1;
  const double out = edge > 0 ? (lasts_s - since_s) / edge : 1;
  return std::clamp(std::min(in, out), 0.0, 1.0);
}

bool within(double since_s, double lasts_s) { return since_s < lasts_s; }

void trip(const Placed& f, double since_s, double, Disturbance& d) {
  d.supply_off |= within(since_s, f["lasts"]);
  const double after_s = since_s - f["lasts"];
  if (after_s >= 0) {
    d.power_gain *= std::clamp(after_s / std::max(f["ramp"], 0.1), 0.0, 1.0);
    d.voltage_gain *= after_s < 20 ? 1.05 : 1 + 0.05 * std::exp(-(after_s - 20) / 5);
  }
}

void arc_burst(const Placed& f, double since_s, double, Disturbance& d) {
  if (within(since_s, f["lasts"])) {
    d.arcs_per_s += f["rate"];
    d.power_gain *= 1 - f["loss"];
    d.voltage_noise_v = std::max(d.voltage_noise_v, f["noise"]);
  }
}

void wet_load(const Placed& f, double since_s, double, Disturbance& d) {
  d.vapour_pa = f["plateau"];
  d.liquid_s = f["holds"];
  d.outgassing_gain *= since_s >= 0 ? f["factor"] : 1;
}

void leak(const Placed& f, double since_s, double, Disturbance& d) {
  d.air_pa_m3_s += f["size"] * std::clamp(since_s / std::max(f["grows"], 0.1), 0.0, 1.0);
}

// Air once per turn, in a pulse a quarter of a turn wide; the angle only moves while it turns.
void shaft_seal(const Placed& f, double, double turned_rad, Disturbance& d) {
  if (turned_rad != 0) {
    const double pulse = std::max(0.0, std::cos(turned_rad));
    d.air_pa_m3_s += f["size"] * pulse * pulse;
  }
}

void argon_sag(const Placed& f, double since_s, double, Disturbance& d) {
  if (within(since_s, f["lasts"])) {
    d.flow_gain[f.device] *= 1 - f["depth"] * trapezoid(since_s, f["lasts"], f["edge"]);
  }
}

void unconditioned(const Placed& f, double, double, Disturbance& d) {
  d.oxide_v = f["below"];
  d.oxide_s = f["recovers"] / 3;  // 95 % recovered after `recovers`
}

void water_weep(const Placed& f, double, double, Disturbance& d) {
  d.oxide_stays_v += f["below"];
  d.water_with_power_pa_m3_s += f["size"];
}

void stall(const Placed& f, double since_s, double, Disturbance& d) {
  d.stalled |= within(since_s, f["lasts"]);
}

void slip(const Placed& f, double since_s, double, Disturbance& d) {
  if (within(since_s, f["lasts"])) {
    d.slip_share += f["by"] / (2 * pi);
  }
}

void half_shutter(const Placed& f, double, double, Disturbance& d) {
  d.open_at_most = std::min(d.open_at_most, f["open"]);
}

void cryo_warm(const Placed& f, double since_s, double, Disturbance& d) {
  const double share = std::clamp(since_s / f["takes"], 0.0, 1.0);
  d.cryo_gain *= std::pow(f["factor"], -share);
  d.cryo_k += share * 8;  // 12 K to 20 K
}

void late_switch(const Placed& f, double, double, Disturbance& d) {
  d.switch_late_s = std::max(d.switch_late_s, f["by"]);
}

void frozen(const Placed& f, double since_s, double, Disturbance& d) {
  if (within(since_s, f["lasts"])) {
    d.frozen.push_back(f.device_name);
  }
}

void clock_step(const Placed& f, double, double, Disturbance& d) { d.clock_s += f["by"]; }

void range_jump(const Placed& f, double since_s, double, Disturbance& d) {
  if (within(since_s, f["lasts"])) {
    d.gauge_gain[f.device] *= f["factor"];
  }
}

void zero_offset(const Placed& f, double, double, Disturbance& d) { d.gauge_zero_pa[f.device] += f["by"]; }

void splice_jump(const Placed& f, double, double, Disturbance& d) { d.gauge_gain[f.device] *= f["factor"]; }

void gap(const Placed& f, double since_s, double, Disturbance& d) {
  d.no_rows |= within(since_s, f["lasts"]);
}

const char* during(Anchor anchor) {
  switch (anchor) {
    case Anchor::run:
      return "the start of the run";
    case Anchor::base:
      return "the start of the last pumpdown before the film";
    case Anchor::target:
      return "the start of the first pre-sputter";
    case Anchor::film:
      return "the start of the first film step";
  }
  return "";
}

SettingKind at(const char* otherwise) {
  return {"at", Kind::duration, otherwise, 0, 3 * day_s, "when it begins"};
}
SettingKind lasts(const char* otherwise) {
  return {"lasts", Kind::duration, otherwise, 0.1, day_s, "for how long"};
}
SettingKind in_step() {
  return {"step", std::nullopt, "", 0, 0, "another step of the recipe to count from, by name"};
}
SettingKind device(const char* name, const char* help) { return {name, std::nullopt, "", 0, 0, help}; }

using Device = FaultRow::Device;

FaultRow row(const char* name, Nature nature, Anchor anchor, Device on,
             void (*act)(const Placed&, double, double, Disturbance&), const char* help,
             std::vector<SettingKind> settings) {
  settings.push_back(in_step());
  return {{name, nature, help, during(anchor), std::move(settings)}, anchor, on, act};
}

std::vector<FaultRow> process_rows() {
  return {
      row("trip", Nature::process, Anchor::film, Device::none, trip,
          "the supply of the cathode drops out and comes back on a ramp, its voltage high for 20 s",
          {at("200 s"),
           lasts("4 s"),
           {"ramp", Kind::duration, "8 s", 0, 600, "back to full power in this time"}}),
      row("argon-sag", Nature::process, Anchor::film, Device::gas_line, argon_sag,
          "the flow of a gas sags; the discharge goes out near 0.1 Pa",
          {at("300 s"),
           lasts("3 min"),
           {"depth", Kind::ratio, "30 %", 0.005, 1, "share of the flow that is missing"},
           {"edge", Kind::duration, "10 s", 0, 3600, "time it takes to fall and to come back"},
           device("line", "which gas line")}),
      row("leak", Nature::process, Anchor::base, Device::none, leak, "air leaks in, from then on",
          {at("20 min"),
           {"size", Kind::flow, "1e-3 mbar L/s", 1e-9, 100, "of the leak when fully grown"},
           {"grows", Kind::duration, "10 min", 0, day_s, "time it takes to grow"}}),
      row("arc-burst", Nature::process, Anchor::film, Device::none, arc_burst,
          "arcs: the counter runs, power is lost, the voltage is noisy",
          {at("200 s"),
           lasts("60 s"),
           {"rate", Kind::frequency, "40 Hz", 0.1, 1000, "arcs per time"},
           {"loss", Kind::ratio, "5 %", 0, 0.9, "share of the power that is lost"},
           {"noise", Kind::voltage, "40 V", 0, 300, "of the voltage, standard deviation"}}),
      row("wet-load", Nature::process, Anchor::run, Device::none, wet_load,
          "liquid water holds the pressure up, then wet walls outgas more than usual",
          {at("0 s"),
           {"plateau", Kind::pressure, "20 mbar", 50, 5000, "vapour pressure of the water"},
           {"holds", Kind::duration, "15 min", 0, day_s, "time to pump the liquid off"},
           {"factor", Kind::count, "5", 1, 100, "outgassing over the usual afterwards"}}),
      row("shaft-seal", Nature::process, Anchor::target, Device::none, shaft_seal,
          "the seal of the rotating shaft leaks once per turn, only while turning",
          {at("0 s"), {"size", Kind::flow, "3 mbar L/s", 1e-9, 100, "at the worst angle"}}),
      row("unconditioned", Nature::process, Anchor::target, Device::none, unconditioned,
          "the target is oxidised deeper than usual: voltage low, recovering slowly, film thin meanwhile",
          {at("0 s"),
           {"below", Kind::voltage, "120 V", 1, 300, "how much the voltage starts low"},
           {"recovers", Kind::duration, "15 min", 1, day_s, "at full power, to 95 %"}}),
      row("water-weep", Nature::process, Anchor::target, Device::none, water_weep,
          "the cathode's cooling water weeps: voltage low and never recovering, pressure steps with power",
          {at("0 s"),
           {"below", Kind::voltage, "100 V", 1, 300, "how much the voltage stays low"},
           {"size", Kind::flow, "0.5 mbar L/s", 1e-9, 100, "water while the power is on"}}),
      row("stall", Nature::process, Anchor::film, Device::none, stall,
          "the optic stands still while the drive reports its commanded speed", {at("200 s"), lasts("10 s")}),
      row("slip", Nature::process, Anchor::film, Device::none, slip,
          "the optic lags its drive: the index pulse comes later every turn",
          {at("0 s"), lasts("1 h"), {"by", Kind::angle, "3 deg", 1e-4, pi, "lag gained per turn"}}),
      row("half-shutter", Nature::process, Anchor::film, Device::none, half_shutter,
          "the shutter does not open all the way",
          {at("0 s"), {"open", Kind::ratio, "50 %", 0, 0.99, "how far it opens"}}),
      row("cryo-warm", Nature::process, Anchor::film, Device::none, cryo_warm,
          "the second stage of a cryopump warms from 12 K to 20 K and pumps less",
          {at("0 s"),
           {"takes", Kind::duration, "20 min", 1, day_s, "time to warm"},
           {"factor", Kind::count, "3", 1, 100, "pressure over the usual when warm"}}),
  };
}

std::vector<FaultRow> instrument_rows() {
  return {
      row("gap", Nature::log, Anchor::film, Device::none, gap, "the logger writes no rows",
          {at("400 s"), lasts("20 s")}),
      row("clock-step", Nature::log, Anchor::film, Device::none, clock_step,
          "the logger's clock is set forward or back",
          {at("400 s"), {"by", Kind::duration, "2 s", -2 * day_s, 2 * day_s, "how far, back if negative"}}),
      row("frozen", Nature::instrument, Anchor::film, Device::any, frozen,
          "every channel of one device repeats its last reading to the digit",
          {at("300 s"), lasts("60 s"), device("device", "a gauge, gas line, supply, 'optic' or a cathode")}),
      row("late-switch", Nature::instrument, Anchor::film, Device::none, late_switch,
          "the shutter's position is reported late; the shutter itself and the count of turns are right",
          {at("0 s"), {"by", Kind::duration, "5 s", 0.1, 600, "how late"}}),
      row("range-jump", Nature::instrument, Anchor::base, Device::ion_gauge, range_jump,
          "a gauge reads on the wrong range",
          {at("2 h"),
           lasts("10 min"),
           {"factor", Kind::count, "5", 0.01, 1000, "reading over the true one"},
           device("gauge", "which gauge")}),
      row("zero-offset", Nature::instrument, Anchor::base, Device::capacitance_gauge, zero_offset,
          "a gauge's zero moves, and stays off from then on",
          {at("1 h"),
           {"by", Kind::pressure, "0.02 Pa", -100, 100, "how far"},
           device("gauge", "which gauge")}),
      row("splice-jump", Nature::instrument, Anchor::run, Device::any_gauge, splice_jump,
          "two gauges disagree where one takes over from the other",
          {at("0 s"),
           {"factor", Kind::count, "1.6", 0.1, 10, "reading of the gauge over the true one"},
           device("gauge", "which gauge")}),
  };
}

}  // namespace

const char* name(Nature nature) {
  switch (nature) {
    case Nature::process:
      return "process";
    case Nature::instrument:
      return "instrument";
    case Nature::log:
      return "log";
  }
  return "";
}

const std::vector<FaultRow>& fault_table() {
  static const std::vector<FaultRow> table = [] {
    std::vector<FaultRow> rows = process_rows();
    for (FaultRow& r : instrument_rows()) {
      rows.push_back(std::move(r));
    }
    return rows;
  }();
  return table;
}

const std::vector<FaultKind>& fault_kinds() {
  static const std::vector<FaultKind> kinds = [] {
    std::vector<FaultKind> all;
    for (const FaultRow& r : fault_table()) {
      all.push_back(r.kind);
    }
    return all;
  }();
  return kinds;
}

Disturbance undisturbed(const plan::Chamber& chamber) {
  Disturbance d;
  d.flow_gain.assign(chamber.gas_lines.size(), 1);
  d.gauge_gain.assign(chamber.gauges.size(), 1);
  d.gauge_zero_pa.assign(chamber.gauges.size(), 0);
  return d;
}

}  // namespace vacuary::rehearse
