#include "rehearse/random.hpp"

#include <cmath>

namespace vacuary::rehearse {

namespace {

// FNV-1a over the stream's name, stirred with seed and index (SplitMix64 finaliser).
std::uint64_t stir(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15ULL;
  x = (x ^ (x >> 30U)) * 0xbf58476d1ce4e5b9ULL;
  x = (x ^ (x >> 27U)) * 0x94d049bb133111ebULL;
  return x ^ (x >> 31U);
}

std::uint64_t key(std::uint64_t seed, std::string_view stream, std::uint64_t index) {
  std::uint64_t hash = 0xcbf29ce484222325ULL;
  for (const char c : stream) {
    hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3ULL;
  }
  return stir(stir(seed) ^ stir(hash) ^ (index * 0xd1342543de82ef95ULL));
}

}  // namespace

Random::Random(std::uint64_t seed, std::string_view stream, std::uint64_t index)
    : engine_(key(seed, stream, index)) {}

double Random::uniform() { return static_cast<double>(engine_() >> 11U) * 0x1p-53; }

double Random::uniform(double low, double high) { return low + (high - low) * uniform(); }

// Marsaglia's polar method (SIAM Review 6, 260, 1964).
double Random::normal() {
  if (has_spare_) {
    has_spare_ = false;
    return spare_;
  }
  double u = 0;
  double v = 0;
  double s = 0;
  do {
    u = uniform(-1, 1);
    v = uniform(-1, 1);
    s = u * u + v * v;
  } while (s >= 1 || s == 0);
  const double f = std::sqrt(-2 * std::log(s) / s);
  spare_ = v * f;
  has_spare_ = true;
  return u * f;
}

// Products of uniforms (Knuth, The Art of Computer Programming 2, 3.4.1); for the small means of a
// tenth of a second, and rounded normals beyond.
std::uint64_t Random::poisson(double mean) {
  if (mean > 30) {
    return static_cast<std::uint64_t>(std::max(0.0, std::round(mean + std::sqrt(mean) * normal())));
  }
  const double limit = std::exp(-mean);
  std::uint64_t count = 0;
  for (double product = uniform(); product > limit; product *= uniform()) {
    ++count;
  }
  return count;
}

}  // namespace vacuary::rehearse
