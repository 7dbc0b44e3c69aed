// The film as it was laid, row by row along the optic's turning, kept short: what a deviation did
// to the glass is read back from it.
//
// Rows are joined into pieces of at most a small angle and a short time. A run with more pieces than
// `most_pieces` has its neighbours joined in pairs and goes on at twice the size, so that memory is
// bounded; at the start a piece is half a degree or two seconds.
#pragma once

#include <cstddef>
#include <vector>

#include "base/time.hpp"

namespace vacuary::run {

struct FilmPiece {
  Instant start, end;
  double from_rad = 0, to_rad = 0;  // unwrapped angle of the optic under the cathode, as optic.angle reads
  double film_m = 0;                // mean over the clear area
  double pressure_pa = 0;
  int step = -1;
  int cathode = 0;
};

class FilmTrace {
 public:
  void add(const FilmPiece& piece);
  [[nodiscard]] const std::vector<FilmPiece>& pieces() const { return pieces_; }
  // Film per angle while nothing disturbs: of the pieces of one step, the median weighted with their
  // angle. No value when the step did not turn.
  [[nodiscard]] double usual_m_rad(int step) const;

  static constexpr std::size_t most_pieces = 16384;

 private:
  void halve();
  [[nodiscard]] bool joins(const FilmPiece& a, const FilmPiece& b) const;
  std::vector<FilmPiece> pieces_;
  double most_rad_ = 0.5 * 3.14159265358979323846 / 180;
  double most_s_ = 2;
};

}  // namespace vacuary::run
