// How quantities and times are put into words, the same in every form of the report.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "model/model.hpp"
#include "quantity/quantity.hpp"
#include "run/run.hpp"

namespace vacuary::report {

// "6 min 12 s", "4 h 36 min", "2.5 s"
[[nodiscard]] std::string words(Duration duration);
// With its standard uncertainty, k = 2: "4 h 36 min +/- 1 h 10 min"; where that is known to a factor
// only, as an interval: "4 h 7 min (1 h 10 min to 15 h)".
[[nodiscard]] std::string words(const Estimate<Duration>& duration);

// "2031-03-04 05:06:07 UTC", fractions to a tenth of a second where there are any.
[[nodiscard]] std::string words(Instant instant);

// A name of the program as words: "power interruption" for power-interruption.
[[nodiscard]] std::string words(std::string_view name);

// A number of an arbitrary unit as the account gives it: "0.27 Pa"; "" for none.
[[nodiscard]] std::string number(double value, const Unit& unit);

// "2.5 %"
[[nodiscard]] std::string percent(Ratio ratio, int digits = 2);

// The expanded uncertainty of an estimate.
template <class Q>
[[nodiscard]] Q expanded(const Estimate<Q>& estimate, double coverage_factor = 2) {
  return Q::from_value(coverage_factor * estimate.standard_uncertainty.value());
}

[[nodiscard]] inline Ratio expanded(const Estimate<Ratio>& estimate, double coverage_factor = 2) {
  return Ratio::of(coverage_factor * estimate.standard_uncertainty.value());
}

// Text table: columns padded to the widest cell, two blanks between, no trailing blanks. Widths are
// counted in code points. Columns named in `right` are aligned at the right.
class Table {
 public:
  explicit Table(std::vector<std::string> head, std::vector<bool> right = {});
  void add(std::vector<std::string> row);
  [[nodiscard]] bool empty() const { return rows_.size() == 1; }
  [[nodiscard]] std::string text(std::string_view indent) const;
  [[nodiscard]] const std::vector<std::vector<std::string>>& rows() const { return rows_; }
  // A column of numbers: aligned at the right, never broken within a cell.
  [[nodiscard]] bool is_number(std::size_t column) const { return column < right_.size() && right_[column]; }

 private:
  std::vector<std::vector<std::string>> rows_;  // the head first
  std::vector<bool> right_;
};

// `text` broken at blanks to at most `width` code points a line, each line after the first indented.
[[nodiscard]] std::string wrapped(std::string_view text, std::size_t indent, std::size_t width = 100);

// The rows that text and HTML share, so that the two cannot differ.
[[nodiscard]] Table step_table(const run::Account& account);
[[nodiscard]] Table budget_table(const run::Film& film);
[[nodiscard]] Table oddity_table(const run::Account& account);
// The name of a log's file by its index; empty where there is one file only, so that no line needs it.
[[nodiscard]] std::string file_of(int index, const run::Account& account);
// Where the film lies: "thinnest" and what it is, and so on.
struct Said {
  std::string what, text;
};
[[nodiscard]] std::vector<Said> film_map_words(const run::OnOptic& film, Length wanted, Length tolerance);
// Name, from and to, depth, where it is worst.
[[nodiscard]] Table sector_table(const run::OnOptic& film);
// The map as it is seen from the coated side, the fiducial mark at the top; SVG.
[[nodiscard]] std::string film_map_picture(const run::OnOptic& film);

// Estimate, mean, weight, off the mean of all.
[[nodiscard]] Table estimate_table(const run::ThicknessEstimates& estimates);
// "all together 89.2 nm +/- 2.1 nm ... They agree: ..."; where each comes from; why a crystal says nothing.
[[nodiscard]] std::vector<std::string> estimate_sentences(const run::Film& film);
// What was measured of it, against what was wanted and what a clean film can have.
[[nodiscard]] std::vector<std::string> measured_sentences(const run::Account& account);

[[nodiscard]] std::string film_sentence(const run::Film& film);
[[nodiscard]] std::vector<std::string> vacuum_sentences(const run::VacuumHealth& vacuum);
[[nodiscard]] Table normal_table(const run::VacuumHealth& vacuum);
struct VerdictWords {
  std::string said;  // "wet walls: Something wet was closed in ..."
  std::vector<std::string> evidence;
  std::string advice;
};
[[nodiscard]] VerdictWords words(const run::HealthVerdict& verdict);
// Residual gas, clean, conditioning, waiting, heat, target, reflectance: one sentence each.
[[nodiscard]] std::vector<std::string> quality_sentences(const run::FilmQuality& quality);
[[nodiscard]] std::vector<std::string> quality_assumptions(const run::FilmQuality& quality);
// "90.6 to 91.6 %, by 4 published sources"
[[nodiscard]] std::string reflectance_words(const model::FilmReflectance& reflectance);
[[nodiscard]] std::string heating_words(const model::Heating& heating);
struct DeviationWords {
  std::string when, what, measured, effect, advice;
};
[[nodiscard]] DeviationWords words(const run::Deviation& deviation, const run::Account& account);

}  // namespace vacuary::report
