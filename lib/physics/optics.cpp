#include "physics/optics.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace vacuary::physics {
namespace {

using Complex = std::complex<double>;
constexpr Complex i_unit{0, 1};

Complex complex_index(Index index) { return {index.n, -index.k}; }

struct Row {
  double nm;
  Index index;
};
struct Table {
  std::string_view source;
  std::array<Row, 6> rows;
};

const std::array<Table, 4>& tables() {
  static const std::array<Table, 4> all{{
      {"Rakic, Appl. Opt. 34, 4755 (1995)",
       {{{400, {0.488, 4.836}},
         {550, {1.015, 6.627}},
         {633, {1.450, 7.539}},
         {670, {1.698, 7.893}},
         {850, {2.588, 8.169}},
         {1000, {1.436, 9.495}}}}},
      {"Rakic et al., Appl. Opt. 37, 5271 (1998), model",
       {{{400, {0.4534, 4.7062}},
         {550, {0.9656, 6.4581}},
         {633, {1.3406, 7.3015}},
         {670, {1.5195, 7.6635}},
         {850, {2.5120, 8.0089}},
         {1000, {1.4781, 9.2825}}}}},
      {"Hagemann et al., J. Opt. Soc. Am. 65, 742 (1975)",
       {{{400, {0.516, 4.833}},
         {550, {0.998, 6.508}},
         {633, {1.376, 7.409}},
         {670, {1.611, 7.775}},
         {850, {2.467, 7.750}},
         {1000, {1.101, 9.293}}}}},
      {"McPeak et al., ACS Photonics 2, 326 (2015)",
       {{{400, {0.375, 4.226}},
         {550, {0.789, 5.852}},
         {633, {1.154, 6.692}},
         {670, {1.365, 7.032}},
         {850, {2.205, 7.188}},
         {1000, {1.127, 8.512}}}}},
  }};
  return all;
}

Index interpolate(const std::array<Row, 6>& rows, double nm) {
  if (nm <= rows.front().nm) return rows.front().index;
  for (std::size_t j = 1; j < rows.size(); ++j) {
    if (nm > rows[j].nm) continue;
    const double f = (nm - rows[j - 1].nm) / (rows[j].nm - rows[j - 1].nm);
    const Index &a = rows[j - 1].index, &b = rows[j].index;
    return {a.n + f * (b.n - a.n), a.k + f * (b.k - a.k)};
  }
  return rows.back().index;
}

}  // namespace

StackResult stack(const std::vector<Layer>& layers, Index substrate, Length wavelength) {
  const Complex ns = complex_index(substrate);
  Complex b = 1, c = ns;
  double absorbed_exponent = 0;  // kept out of B and C so that thick metal does not overflow
  for (auto layer = layers.rbegin(); layer != layers.rend(); ++layer) {
    const Complex n = complex_index(layer->index);
    const Complex d = 2 * std::numbers::pi * layer->thickness.value() / wavelength.value() * n;
    const double growth = std::abs(d.imag());
    // cos d and sin d, each divided by exp(growth).
    const Complex plus = std::exp(i_unit * d - growth), minus = std::exp(-i_unit * d - growth);
    const Complex cosine = (plus + minus) / 2.0, sine = (plus - minus) / (2.0 * i_unit);
    const Complex nb = cosine * b + i_unit * sine / n * c;  // (O1), (O2)
    c = i_unit * n * sine * b + cosine * c;
    b = nb;
    absorbed_exponent += growth;
  }
  const Complex r = (b - c) / (b + c);  // (O3), N_0 = 1
  const double t = 4 * ns.real() / std::norm(b + c) * std::exp(-2 * absorbed_exponent);
  return {Ratio::of(std::norm(r)), Ratio::of(t)};
}

Ratio bulk_reflectance(Index index) {
  const Complex n = complex_index(index);
  return Ratio::of(std::norm((1.0 - n) / (1.0 + n)));
}

std::vector<NamedIndex> aluminium_tables(Length wavelength) {
  std::vector<NamedIndex> result;
  for (const Table& table : tables())
    result.push_back({table.source, interpolate(table.rows, wavelength.value() * 1e9)});
  return result;
}

}  // namespace vacuary::physics
