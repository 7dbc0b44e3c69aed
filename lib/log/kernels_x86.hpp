// What the kernels for AVX2 and AVX-512 share. Each function states the instructions it needs, so the
// rest of the program runs on any processor; kernels() asks the processor before it uses them.
#pragma once

#include "log/kernels.hpp"

#if defined(__x86_64__)

#define VACUARY_AVX2 __attribute__((target("avx2,bmi,bmi2,lzcnt,popcnt")))
#define VACUARY_AVX512 __attribute__((target("avx512f,avx512bw,avx512vl,avx2,bmi,bmi2,lzcnt,popcnt")))
#define VACUARY_INLINE __attribute__((always_inline)) inline

namespace vacuary::log {

// numbers_x86.cpp
VACUARY_AVX2 void numbers_avx2(const char* text, const Tile& tile, char point, TileNumbers& out);

}  // namespace vacuary::log

#endif
