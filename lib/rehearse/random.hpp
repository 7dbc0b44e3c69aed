// Random numbers that are the same on every machine: the standard's engine, our own transforms
// (the standard leaves its distributions to the library).
#pragma once

#include <cstdint>
#include <random>
#include <string_view>

namespace vacuary::rehearse {

// One stream per purpose, so that a fault in one device leaves the noise of all others as it was.
class Random {
 public:
  Random(std::uint64_t seed, std::string_view stream, std::uint64_t index = 0);

  [[nodiscard]] double uniform();                         // [0, 1)
  [[nodiscard]] double uniform(double low, double high);  // [low, high)
  [[nodiscard]] double normal();                          // mean 0, standard deviation 1
  [[nodiscard]] std::uint64_t poisson(double mean);

 private:
  std::mt19937_64 engine_;
  double spare_ = 0;
  bool has_spare_ = false;
};

}  // namespace vacuary::rehearse
