// What stands between plant and log: each device reads in its own rhythm, with its own range,
// gain, zero, noise and resolution, and keeps its last reading until the next.
#pragma once

#include <string>
#include <vector>

#include "rehearse/machine.hpp"

namespace vacuary::rehearse {

class Instruments {
 public:
  // All must outlive the instruments.
  Instruments(const plan::Plan& plan, const Plant& plant, std::uint64_t seed);

  // Looks at the plant; to be called at every tick.
  void observe(const Machine& machine, const Disturbance& d);

  [[nodiscard]] std::string header() const;              // of all columns, with a line break
  [[nodiscard]] std::string row(std::int64_t stamp_ns);  // one row; clears latched pulses
  // The same for a log on change: only cells that have moved by more than their deadband since they
  // were last written, "nan" for a reading that is gone; empty when there is nothing to write.
  [[nodiscard]] std::string row_of_changes(std::int64_t stamp_ns);

 private:
  // A column: a number rounded to `quantum` (0: to three significant digits), or a text.
  struct Column {
    std::string header;
    double quantum = 0;
    bool text = false;
    bool has_value = false;
    double value = 0;
    std::string word = {};
    // As last written in a log on change.
    bool written = false, written_has_value = false;
    double written_value = 0;
    std::string written_word = {};
  };
  // Columns [first, first + count) that read together every `period_ms`.
  struct Device {
    std::string name;
    std::int64_t period_ms = 100;
    std::int64_t next_ms = 0;
    std::size_t first = 0;
    void (Instruments::*read)(const Machine&, const Disturbance&, std::size_t index,
                              std::size_t first) = nullptr;
    std::size_t index = 0;  // in the chamber's list of such things
    Random noise;
  };

  void add(const std::string& device, std::int64_t period_ms, std::size_t index,
           void (Instruments::*read)(const Machine&, const Disturbance&, std::size_t, std::size_t),
           std::vector<Column> columns);
  void add_gauges();
  void add_gas_and_supplies();
  void add_cathodes_and_optic();
  void add_rest();

  void read_gauge(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first);
  void read_flow(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first);
  void read_supply(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first);
  void read_cathode(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first);
  void read_optic(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first);
  void read_optic_temperature(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first);
  void read_pump(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first);
  void read_plant(const Machine& m, const Disturbance& d, std::size_t index, std::size_t first);
  void set(std::size_t column, double value);
  [[nodiscard]] static bool moved(const Column& column);
  [[nodiscard]] static std::string cell(const Column& column);

  const plan::Plan* plan_;
  const Plant* plant_;
  std::uint64_t seed_;
  std::vector<Column> columns_;
  std::vector<Device> devices_;
  std::vector<bool> ion_on_;
  Random* noise_ = nullptr;  // of the device that reads just now
  std::size_t noise_step_ = 0;
  double last_turns_ = 0;
  std::size_t index_column_ = 0;
  bool has_index_ = false;
};

}  // namespace vacuary::rehearse
