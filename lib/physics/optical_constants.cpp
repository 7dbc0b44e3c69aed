#include "physics/optical_constants.hpp"

#include <array>
#include <cmath>
#include <cstdint>

namespace vacuary::physics {
namespace {

using Complex = std::complex<double>;

constexpr std::string_view rakic_model = "Rakic et al., Appl. Opt. 37, 5271 (1998), model";
constexpr std::string_view johnson_silver = "Johnson and Christy, Phys. Rev. B 6, 4370 (1972)";
constexpr std::string_view johnson_transition = "Johnson and Christy, Phys. Rev. B 9, 5056 (1974)";
constexpr std::string_view malitson = "Malitson, J. Opt. Soc. Am. 55, 1205 (1965)";
constexpr std::string_view luke = "Luke et al., Opt. Lett. 40, 4823 (2015)";

struct Oscillator {
  double f, gamma_ev, omega_ev;
};
struct Metal {
  std::string_view symbol;
  double plasma_ev, f0, gamma0_ev;
  std::array<Oscillator, 5> oscillators;  // unused ones are zero
};

constexpr std::array<Metal, 4> metals{{
    {"Al",
     14.98,
     0.523,
     0.047,
     {{{0.227, 0.333, 0.162}, {0.050, 0.312, 1.544}, {0.166, 1.351, 1.808}, {0.030, 3.382, 3.473}, {}}}},
    {"Ag",
     9.01,
     0.845,
     0.048,
     {{{0.065, 3.886, 0.816},
       {0.124, 0.452, 4.481},
       {0.011, 0.065, 8.185},
       {0.840, 0.916, 9.083},
       {5.646, 2.419, 20.29}}}},
    {"Cr",
     10.75,
     0.168,
     0.047,
     {{{0.151, 3.175, 0.121}, {0.150, 1.305, 0.543}, {1.149, 2.676, 1.970}, {0.825, 1.335, 8.775}, {}}}},
    {"Ni",
     15.92,
     0.096,
     0.048,
     {{{0.100, 4.511, 0.174}, {0.135, 1.334, 0.582}, {0.106, 2.178, 1.597}, {0.729, 6.292, 6.089}, {}}}},
}};

struct Row {
  double nm;
  Index index;
};

// Rows of the sources between 350 and 1400 nm; two digits in n as printed there.
constexpr std::array<Row, 19> silver{{{354.2, {0.10, 1.419}},
                                      {367.9, {0.07, 1.657}},
                                      {381.5, {0.05, 1.864}},
                                      {397.4, {0.05, 2.070}},
                                      {413.3, {0.05, 2.275}},
                                      {430.5, {0.04, 2.462}},
                                      {450.9, {0.04, 2.657}},
                                      {471.4, {0.05, 2.869}},
                                      {495.9, {0.05, 3.093}},
                                      {520.9, {0.05, 3.324}},
                                      {548.6, {0.06, 3.586}},
                                      {582.1, {0.05, 3.858}},
                                      {616.8, {0.06, 4.152}},
                                      {659.5, {0.05, 4.483}},
                                      {704.5, {0.04, 4.838}},
                                      {756.0, {0.03, 5.242}},
                                      {821.1, {0.04, 5.727}},
                                      {892.0, {0.04, 6.312}},
                                      {984.0, {0.04, 6.992}}}};
constexpr std::array<Row, 19> chromium{{{354, {1.84, 2.64}},
                                        {368, {1.87, 2.69}},
                                        {381, {1.92, 2.74}},
                                        {397, {2.00, 2.83}},
                                        {413, {2.08, 2.93}},
                                        {431, {2.19, 3.04}},
                                        {451, {2.33, 3.14}},
                                        {471, {2.51, 3.24}},
                                        {496, {2.75, 3.30}},
                                        {521, {2.94, 3.33}},
                                        {549, {3.18, 3.33}},
                                        {582, {3.22, 3.30}},
                                        {617, {3.17, 3.30}},
                                        {659, {3.09, 3.34}},
                                        {704, {3.05, 3.39}},
                                        {756, {3.08, 3.42}},
                                        {821, {3.20, 3.48}},
                                        {892, {3.30, 3.52}},
                                        {984, {3.41, 3.57}}}};
constexpr std::array<Row, 19> nickel{{{354, {1.74, 2.32}},
                                      {368, {1.70, 2.40}},
                                      {381, {1.72, 2.48}},
                                      {397, {1.72, 2.57}},
                                      {413, {1.70, 2.69}},
                                      {431, {1.71, 2.82}},
                                      {451, {1.73, 2.95}},
                                      {471, {1.78, 3.09}},
                                      {496, {1.82, 3.25}},
                                      {521, {1.85, 3.42}},
                                      {549, {1.92, 3.61}},
                                      {582, {1.96, 3.80}},
                                      {617, {1.99, 4.02}},
                                      {659, {1.99, 4.26}},
                                      {704, {2.06, 4.50}},
                                      {756, {2.13, 4.73}},
                                      {821, {2.26, 4.97}},
                                      {892, {2.40, 5.23}},
                                      {984, {2.48, 5.55}}}};

// None outside the rows: a table is not carried on past its ends.
std::optional<Index> interpolate(const std::array<Row, 19>& rows, double nm) {
  if (nm < rows.front().nm || nm > rows.back().nm) return std::nullopt;
  std::size_t j = 1;
  while (nm > rows[j].nm) ++j;
  const double f = (nm - rows[j - 1].nm) / (rows[j].nm - rows[j - 1].nm);
  const Index &a = rows[j - 1].index, &b = rows[j].index;
  return Index{a.n + f * (b.n - a.n), a.k + f * (b.k - a.k)};
}

void add(std::vector<NamedIndex>& list, std::string_view source, const std::optional<Index>& index) {
  if (index) list.push_back({source, *index});
}

}  // namespace

std::optional<Index> lorentz_drude(std::string_view metal, Length wavelength) {
  constexpr double hc_ev_m = 6.62607015e-34 * 299792458.0 / constants::elementary_charge_c;
  constexpr Complex i{0, 1};
  const double w = hc_ev_m / wavelength.value();
  for (const Metal& m : metals) {
    if (m.symbol != metal) continue;
    const double wp2 = m.plasma_ev * m.plasma_ev;
    Complex e = 1.0 - m.f0 * wp2 / (w * (w - i * m.gamma0_ev));  // (O4)
    for (const Oscillator& o : m.oscillators)
      e += o.f * wp2 / (o.omega_ev * o.omega_ev - w * w + i * w * o.gamma_ev);
    const Complex n = std::sqrt(e);
    return Index{n.real(), std::abs(n.imag())};
  }
  return std::nullopt;
}

Index lorentz_drude_aluminium(Length wavelength) { return *lorentz_drude("Al", wavelength); }

std::optional<Index> sellmeier(std::string_view material, Length wavelength) {
  struct Term {
    double b, c_um;
  };
  constexpr std::array<Term, 3> silica{
      {{0.6961663, 0.0684043}, {0.4079426, 0.1162414}, {0.8974794, 9.896161}}};
  constexpr std::array<Term, 3> nitride{{{3.0249, 0.1353406}, {40314, 1239.842}, {0, 0}}};
  const std::array<Term, 3>* terms = material == "SiO2" ? &silica : material == "Si3N4" ? &nitride : nullptr;
  if (terms == nullptr) return std::nullopt;
  const double um2 = wavelength.value() * wavelength.value() * 1e12;
  double n2 = 1;
  for (const Term& t : *terms) n2 += t.b * um2 / (um2 - t.c_um * t.c_um);  // (O5)
  return Index{std::sqrt(n2), 0};
}

std::vector<NamedIndex> published_constants(std::string_view material, Length wavelength) {
  std::vector<NamedIndex> list;
  const double nm = wavelength.value() * 1e9;
  add(list, rakic_model, lorentz_drude(material, wavelength));
  if (material == "Al" && nm >= 400 && nm <= 1000) {
    for (const NamedIndex& table : aluminium_tables(wavelength)) {
      if (table.source != rakic_model) list.push_back(table);
    }
  }
  if (material == "Ag") add(list, johnson_silver, interpolate(silver, nm));
  if (material == "Cr") add(list, johnson_transition, interpolate(chromium, nm));
  if (material == "Ni") add(list, johnson_transition, interpolate(nickel, nm));
  add(list, material == "SiO2" ? malitson : luke, sellmeier(material, wavelength));
  return list;
}

std::optional<Length> opaque_thickness(Index film, Index substrate, Length wavelength, Ratio within) {
  constexpr double most_nm = 10000;
  const double bulk = bulk_reflectance(film).value();
  const auto differs = [&](double nm) {
    const double r =
        stack({{film, Length::from_value(nm * 1e-9)}}, substrate, wavelength).reflectance.value();
    return std::abs(r - bulk) > within.value();
  };
  if (differs(most_nm)) return std::nullopt;
  // Down from thick to the last thickness that differs, in steps of half a nanometre below 1 um.
  double nm = most_nm;
  while (nm > 1000 && !differs(nm - 10)) nm -= 10;
  while (nm > 0.5 && !differs(nm - 0.5)) nm -= 0.5;
  return Length::from_value(nm * 1e-9);
}

}  // namespace vacuary::physics
