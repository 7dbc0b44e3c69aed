// A log made by hand on the sample plant, a few verbs at a time: set what the plant does, let it
// run, skip rows, and read the account.
#pragma once

#include <algorithm>

#include "run/blocks.hpp"

namespace vacuary::run::test {

inline constexpr double turn_rad = 2 * 3.14159265358979323846;
inline constexpr double sccm_mol_s = 101325e-6 / 60 / (8.31446261815324 * 273.15);

inline const plan::Plan& sample_plan() {
  static const plan::Plan plan =
      plan::load(std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/aluminium-90nm.toml").value();
  return plan;
}
inline const plan::ChannelMap& sample_map() {
  static const plan::ChannelMap map =
      plan::load_channels(std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/channels.toml",
                          sample_plan())
          .value();
  return map;
}

// All SI. What is public is what the next rows will say.
struct Hand {
  double power_w = 15e3, voltage_v = 480, open = 1, speed_rad_s = 0.5 * turn_rad / 60;
  double argon_mol_s = 250 * sccm_mol_s, manometer_pa = 0.30, ion_pa = no_reading();
  double arcs_per_s = 0;
  double cryo_k = 12, index_lag_rad = 0;  // the index comes at this angle of the encoder
  bool index = false, turning = true, frozen_supply = false, frozen_optic = false;
  double wobble = 0;                  // relative, deterministic, so that readings differ from row to row
  std::vector<std::string> left_out;  // channels that the log does not have

  static double no_reading() { return std::numeric_limits<double>::quiet_NaN(); }

  Hand& step(const std::string& name) {
    step_ = name;
    return *this;
  }
  // Rows every `every_s` for `for_s`.
  Hand& run(double for_s, double every_s = 1) {
    const auto rows = static_cast<int>(std::lround(for_s / every_s));
    for (int i = 0; i < rows; ++i) {
      put();
      pass(every_s);
    }
    return *this;
  }
  // Time goes by, the plant goes on, nobody writes.
  Hand& skip(double for_s) {
    pass(for_s);
    breaks_.push_back(rows_.size());
    return *this;
  }
  Hand& clock_jumps(double by_s) {
    t_s_ += by_s;
    breaks_.push_back(rows_.size());
    return *this;
  }

  [[nodiscard]] PlainLog log() const {
    static const std::vector<std::string> names = {
        "manometer.pressure",    "ion.pressure",           "argon.flow",
        "cathode-supply.power",  "cathode-supply.voltage", "cathode-supply.current",
        "cathode-supply.energy", "cathode.open",           "optic.angle",
        "optic.speed",           "cathode-supply.arcs",    "optic.index",
        "cryo.temperature"};
    PlainLog log;
    for (const std::string& name : names) {
      if (is_left_out(name)) continue;
      log::ChannelInfo info;
      info.channel = plan::parse_channel(name).value();
      info.header = name;
      info.unit = usual_unit(plan::kind_of(info.channel.what));
      log.header.channels.push_back(info);
      log.block.values.emplace_back();
    }
    log.block.texts.resize(log.header.channels.size());
    if (!is_left_out("run.step")) {
      log::ChannelInfo info;
      info.channel = {"run", plan::What::step};
      info.text = true;
      log.header.channels.push_back(info);
      log.block.values.emplace_back();
      log.block.texts.push_back(texts_);
    }
    for (std::size_t r = 0; r < rows_.size(); ++r) {
      log.block.time.push_back(
          Instant{1'930'370'400'000'000'000 + static_cast<std::int64_t>(std::llround(rows_[r][0] * 1e9))});
      log.block.line.push_back(r + 2);
      std::size_t column = 0;
      for (std::size_t c = 0; c < names.size(); ++c) {
        if (!is_left_out(names[c])) log.block.values[column++].push_back(rows_[r][c + 1]);
      }
    }
    log.block.breaks = breaks_;
    log.header.file = "hand.csv";
    return log;
  }
  [[nodiscard]] Account account(std::size_t rows = 1000) const {
    return account_of(sample_plan(), sample_map(), log(), rows);
  }
  [[nodiscard]] double now_s() const { return t_s_; }
  [[nodiscard]] double energy_j() const { return energy_j_; }

 private:
  [[nodiscard]] bool is_left_out(const std::string& name) const {
    return std::find(left_out.begin(), left_out.end(), name) != left_out.end();
  }
  void put() {
    if (texts_.empty() || texts_.back().text != step_) texts_.push_back({rows_.size(), step_});
    const auto n = static_cast<double>(rows_.size());
    const auto w = [&](double value, double phase) {
      return value * (1 + wobble * std::sin(1.7 * n + phase));
    };
    std::vector<double> row = {t_s_,
                               w(manometer_pa, 1),
                               w(ion_pa, 2),
                               w(argon_mol_s, 3),
                               w(power_w, 4),
                               w(voltage_v, 5),
                               voltage_v > 0 ? w(power_w, 4) / w(voltage_v, 5) : 0,
                               energy_j_,
                               open,
                               std::fmod(angle_rad_, turn_rad),
                               w(speed_rad_s, 6),
                               arcs_,
                               std::fmod(angle_rad_ - index_lag_rad + turn_rad, turn_rad) < 0.06 ? 1.0 : 0.0,
                               cryo_k};
    if (frozen_optic && !rows_.empty())
      std::copy(rows_.back().begin() + 9, rows_.back().begin() + 11, row.begin() + 9);
    if (frozen_supply && !rows_.empty())
      std::copy(rows_.back().begin() + 4, rows_.back().begin() + 8, row.begin() + 4);
    rows_.push_back(row);
  }
  void pass(double s) {
    t_s_ += s;
    energy_j_ += power_w * s;
    if (turning) angle_rad_ += speed_rad_s * s;
    arcs_ += arcs_per_s * s;
  }

  double t_s_ = 0, energy_j_ = 0, angle_rad_ = 0, arcs_ = 0;
  std::string step_ = "coat";
  std::vector<std::vector<double>> rows_;
  std::vector<log::TextChange> texts_;
  std::vector<std::size_t> breaks_;
};

inline std::vector<const Deviation*> all_of(const Account& account, const std::string& rule) {
  std::vector<const Deviation*> found;
  for (const Deviation& d : account.deviations) {
    if (d.rule == rule) found.push_back(&d);
  }
  return found;
}
inline const Deviation* one_of(const Account& account, const std::string& rule) {
  const auto found = all_of(account, rule);
  return found.size() == 1 ? found.front() : nullptr;
}
inline double since_start_s(const Account& account, Instant t) {
  return static_cast<double>(t.ns - account.log.start.ns) * 1e-9;
}
inline std::string rules_of(const Account& account) {
  std::string text;
  for (const Deviation& d : account.deviations) text += d.rule + " (" + d.channel + ") ";
  return text;
}

}  // namespace vacuary::run::test
