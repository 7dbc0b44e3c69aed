// Kernels over columns of doubles in four lanes, which every instruction set can keep: the same bits
// with each. Included once for each set, inside its namespace; VACUARY_LANES says what the set may use.
// No contraction, no libm; what is odd in the last rows is padded with rows that count for nothing.

using Lanes = double __attribute__((vector_size(32)));
using Truth = std::int64_t __attribute__((vector_size(32)));
constexpr std::size_t lanes = 4;

// to[i] = gain * ((from[i] + unit_offset) * factor) + offset; bits of those that are not finite.
// Up to 64 values; both arrays have room for as many.
VACUARY_LANES inline std::uint64_t linear(const double* from, std::size_t n, const Linear& by, double* to) {
  Lanes finite = {};  // 0 as long as all are
  std::size_t i = 0;
  for (; i + lanes <= n; i += lanes) {
    Lanes x;
    std::memcpy(&x, from + i, sizeof x);
    x = by.gain * ((x + by.unit_offset) * by.factor) + by.offset;
    std::memcpy(to + i, &x, sizeof x);
    finite += x * 0.0;
  }
  bool all = true;
  for (std::size_t k = 0; k < lanes; ++k) all = all && finite[k] == 0;
  for (; i < n; ++i) {
    to[i] = by.gain * ((from[i] + by.unit_offset) * by.factor) + by.offset;
    all = all && to[i] * 0.0 == 0;
  }
  if (all) return 0;
  std::uint64_t bits = 0;
  for (i = 0; i < n; ++i) bits |= static_cast<std::uint64_t>(!(to[i] * 0.0 == 0)) << i;
  return bits;
}

struct FigureLanes {
  Lanes least, greatest;
  Lanes sum = {}, integral = {}, lost = {}, covered = {}, outside = {};
  Truth good = {};
};

VACUARY_LANES inline void figure_rows(const double* now, const double* before, const double* dt,
                                      const Bounds& bounds, FigureLanes& f) {
  Lanes x, w, s;
  std::memcpy(&x, now, sizeof x);
  std::memcpy(&w, before, sizeof w);
  std::memcpy(&s, dt, sizeof s);
  const Lanes none = {};
  f.least = x < f.least ? x : f.least;
  f.greatest = x > f.greatest ? x : f.greatest;
  const Truth good = x == x;
  f.good -= good;
  f.sum += good ? x : none;
  const Truth out = (x < bounds.low) | (x > bounds.high);
  f.outside += out ? s : none;
  // Neumaier's sum with the error term of Knuth's two-sum, which needs no comparison.
  const Lanes area = 0.5 * (x + w) * s;
  const Truth known = area == area;
  const Lanes term = known ? area : none;
  const Lanes next = f.integral + term;
  const Lanes part = next - f.integral;
  f.lost += (f.integral - (next - part)) + (term - part);
  f.integral = next;
  f.covered += known ? s : none;
}

// Rows [0, n) of one channel; dt_s[i]: time since the row before, 0 where that does not count.
VACUARY_LANES inline void figures(const double* values, const double* dt_s, std::size_t n,
                                  const Bounds& bounds, Figures& out) {
  FigureLanes f;
  for (std::size_t k = 0; k < lanes; ++k) {
    f.least[k] = __builtin_inf();
    f.greatest[k] = -__builtin_inf();
  }
  const double nan = __builtin_nan("");
  double now[lanes], before[lanes], dt[lanes];
  const auto pad = [&](std::size_t from, std::size_t to) {
    for (std::size_t k = 0; k < lanes; ++k) {
      const std::size_t i = from + k;
      now[k] = i < to ? values[i] : nan;
      before[k] = i < to && i > 0 ? values[i - 1] : nan;
      dt[k] = i < to && i > 0 ? dt_s[i] : 0;
    }
  };
  pad(0, 1);
  figure_rows(now, before, dt, bounds, f);
  std::size_t i = 1;
  for (; i + lanes <= n; i += lanes) figure_rows(values + i, values + i - 1, dt_s + i, bounds, f);
  if (i < n) {
    pad(i, n);
    figure_rows(now, before, dt, bounds, f);
  }
  out = {};
  double least = f.least[0], greatest = f.greatest[0], lost = 0;
  for (std::size_t k = 0; k < lanes; ++k) {
    least = f.least[k] < least ? f.least[k] : least;
    greatest = f.greatest[k] > greatest ? f.greatest[k] : greatest;
    out.good += static_cast<std::uint64_t>(f.good[k]);
    out.sum += f.sum[k];
    const double next = out.integral + f.integral[k];
    const double part = next - out.integral;
    lost += (out.integral - (next - part)) + (f.integral[k] - part);
    out.integral = next;
    lost += f.lost[k];
    out.covered_s += f.covered[k];
    out.outside_s += f.outside[k];
  }
  out.integral += lost;
  out.least = out.good > 0 ? least : nan;
  out.greatest = out.good > 0 ? greatest : nan;
  out.first = values[0];
  out.last = values[n - 1];
}
