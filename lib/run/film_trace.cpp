#include "run/film_trace.hpp"

#include <algorithm>
#include <cmath>

#include "run/row.hpp"

namespace vacuary::run {
namespace {

FilmPiece joined(const FilmPiece& a, const FilmPiece& b) {
  FilmPiece both = a;
  both.end = b.end;
  both.to_rad = b.to_rad;
  both.film_m = a.film_m + b.film_m;
  const double weight = both.film_m > 0 ? b.film_m / both.film_m : 0.5;
  both.pressure_pa = a.pressure_pa + weight * (b.pressure_pa - a.pressure_pa);
  return both;
}

bool neighbours(const FilmPiece& a, const FilmPiece& b) {
  return a.step == b.step && a.cathode == b.cathode && a.end == b.start && a.to_rad == b.from_rad;
}

}  // namespace

bool FilmTrace::joins(const FilmPiece& a, const FilmPiece& b) const {
  return neighbours(a, b) && std::abs(b.to_rad - a.from_rad) <= most_rad_ &&
         seconds(a.start, b.end) <= most_s_;
}

void FilmTrace::add(const FilmPiece& piece) {
  if (!pieces_.empty() && joins(pieces_.back(), piece)) {
    pieces_.back() = joined(pieces_.back(), piece);
    return;
  }
  if (pieces_.size() == most_pieces) halve();
  if (pieces_.size() < most_pieces) pieces_.push_back(piece);  // else it is all gaps: nothing to tell
}

void FilmTrace::halve() {
  most_rad_ *= 2;
  most_s_ *= 2;
  std::vector<FilmPiece> fewer;
  for (std::size_t i = 0; i < pieces_.size();) {
    const bool pair = i + 1 < pieces_.size() && neighbours(pieces_[i], pieces_[i + 1]);
    fewer.push_back(pair ? joined(pieces_[i], pieces_[i + 1]) : pieces_[i]);
    i += pair ? 2 : 1;
  }
  pieces_ = std::move(fewer);
}

double FilmTrace::usual_m_rad(int step) const {
  struct Rate {
    double m_rad, rad;
  };
  std::vector<Rate> rates;
  double all_rad = 0;
  for (const FilmPiece& piece : pieces_) {
    const double rad = std::abs(piece.to_rad - piece.from_rad);
    if (piece.step != step || !(rad > 0) || !(piece.film_m > 0)) continue;
    rates.push_back({piece.film_m / rad, rad});
    all_rad += rad;
  }
  std::sort(rates.begin(), rates.end(), [](const Rate& a, const Rate& b) { return a.m_rad < b.m_rad; });
  double passed = 0;
  for (const Rate& rate : rates) {
    passed += rate.rad;
    if (passed >= all_rad / 2) return rate.m_rad;
  }
  return no_value;
}

}  // namespace vacuary::run
