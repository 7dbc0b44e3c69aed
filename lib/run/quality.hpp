// What a film is worth besides its thickness, from the log: residual gas against metal over time, how
// long places waited between passes, conditioning by voltage, the clean, heat, target life, reflectance.
//
// Residual gas before the film is what the gauge shows just before the film's gas is let in, counted as
// water. While the film grows it is that, times full speed over throttled speed, times the desorption
// of the chamber file; between before and after the film it is taken linear in time. One pass, bounded.
#pragma once

#include <array>
#include <map>

#include "run/watch.hpp"

namespace vacuary::run {

// What a clean film as thick as this one can have, over its whole interval; none: no constants at that
// wavelength, or no thickness.
[[nodiscard]] std::optional<model::FilmReflectance> film_reflectance(const plan::Optic& optic,
                                                                     const Film& film, Length wavelength);

class QualityMeter {
 public:
  explicit QualityMeter(const Scene& scene);
  // After the film meter has seen the rows.
  void take(const Stretch& rows);
  // Deviations too: clean-to-film-too-long, water-in-film, glass-heated, target-worn-out.
  [[nodiscard]] FilmQuality finish(const Film& film, Findings& findings) const;

 private:
  struct Span {
    int step = -1;
    Instant from, to;
    double film_m = 0, turned_rad = 0, growing_s = 0;
  };
  struct Burn {  // a pre-sputter
    Instant start, end;
    bool any = false;
    double first_v = no_value, last_v = no_value, last_pa = no_value, burnt_s = 0;
    Recent recent{60, 120};
  };
  struct Glow {
    double charge_c = 0, energy_j = 0, burnt_s = 0, pressure_pa_s = 0, pressure_s = 0, voltage_v_s = 0;
    Instant end;
    std::string gas;
  };
  static constexpr std::size_t places = 180;  // of the optic's angle

  void use_target(const Stretch& rows);
  void residue_rows(const Stretch& rows, const plan::Step& step);
  void film_rows(const Stretch& rows, const plan::Step& step);
  void film_row(const Row& row);
  void passes(const Row& row, double moved_rad);
  void span(const Row& row, double moved_rad, double grown_m);
  void burn_rows(const Stretch& rows, const plan::Step& step);
  void glow_rows(const Stretch& rows, const plan::Step& step);

  [[nodiscard]] std::optional<ResidualFound> residual(const Film& film) const;
  [[nodiscard]] std::optional<Waiting> waiting(const std::optional<ResidualFound>& gas) const;
  [[nodiscard]] std::vector<Conditioning> conditioning() const;
  [[nodiscard]] std::vector<CleanFound> cleans() const;
  [[nodiscard]] std::vector<Heated> heated(const Film& film) const;
  [[nodiscard]] std::vector<TargetLife> targets() const;
  [[nodiscard]] std::vector<ReflectanceFound> reflectance(const Film& film) const;
  void tell(const FilmQuality& quality, Findings& findings) const;

  const Scene& scene_;
  std::vector<Span> spans_;
  double last_film_m_ = 0, last_angle_rad_ = no_value;
  bool laying_ = false;
  std::optional<Instant> first_film_, last_film_;
  std::map<int, double> laid_s_;  // by step
  int laid_in_ = -1;              // the step that was in use last, and its entry
  double* laid_here_s_ = nullptr;
  double laying_above_w_ = no_value;
  // Passes: when each place had its last metal, and the longest it waited.
  std::array<double, places> last_s_, longest_s_;
  double angle_rad_ = 0, turn_s_ = no_value;
  const CathodeRoles* beam_of_ = nullptr;
  double beam_half_rad_ = 0;
  bool angle_logged_ = false;
  std::map<int, Burn> burns_;
  std::map<int, Glow> glows_;
  // Residual gas without any let in, on the high-vacuum pumps.
  double before_pa_ = no_value, after_pa_ = no_value;
  Instant before_at_, after_at_;
  double no_gas_s_ = 0;
  // Target.
  struct Used {
    double power_j = 0, first_j = no_value, last_j = no_value;
    bool backward = false;
  };
  std::map<const CathodeRoles*, Used> used_;
};

}  // namespace vacuary::run
