// Film that the chamber's quartz crystals took on while the optic was coated.
//
// A crystal's thickness (physics/quartz.hpp) is read just before film is laid and just after; what lies
// between grew meanwhile, gaps of the log included. Frequencies wander with the crystal's temperature in
// the beam: 20 Hz at either end (common practice for AT cut, no source). The film's density is that of the
// table and cancels as long as the tooling factor was found with the same.
#pragma once

#include <vector>

#include "run/film.hpp"

namespace vacuary::run {

class CrystalMeter {
 public:
  CrystalMeter(const plan::Plan& plan, const log::Header& header);
  // After the film meter has seen the row.
  void take(const Stretch& rows, const FilmMeter& film);
  // One a crystal whose cathode laid film and whose frequency is in the log.
  [[nodiscard]] std::vector<CrystalFilm> finish(const FilmMeter& film, const Roles& roles) const;

 private:
  struct One {
    const plan::Crystal* crystal = nullptr;
    const plan::Cathode* cathode = nullptr;
    int frequency = -1;          // column
    double last_hz = no_value;   // newest reading
    double start_hz = no_value;  // before the film that is being laid
    bool laying = false;
    std::vector<std::pair<double, double>> stretches;  // frequency before and after, Hz
    std::string trouble;                               // why it says nothing
  };
  static void laying_row(One& one, double hz, bool lays);

  std::vector<One> crystals_;
  double film_m_ = 0;
};

}  // namespace vacuary::run
