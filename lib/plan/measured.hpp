// What was measured on the optic or its witness after the run: reflectance, thickness, adhesion. It goes into
// a new revision of the run (lib/record) and into trends: films age, and when to recoat is asked of these.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "plan/plan.hpp"

namespace vacuary::plan {

struct MeasuredReflectance {
  Given<Length> wavelength;
  Given<Ratio> value;        // 0 to 1, normal incidence unless `place` says otherwise
  Given<Ratio> uncertainty;  // standard, absolute
  MaybeText place;           // "witness 3", "r 0.8 m, 120 degrees from the mark"
};
struct MeasuredThickness {
  Given<Length> value;
  Given<Length> uncertainty;  // standard
  MaybeText place;
};
enum class TapeResult { passed, failed };
struct MeasuredTape {
  TapeResult result = TapeResult::failed;
  MaybeText place;
};

struct Measured {
  File file;
  GivenText date;  // YYYY-MM-DD
  GivenText by, instrument;
  std::vector<MeasuredReflectance> reflectance;
  std::vector<MeasuredThickness> thickness;
  std::vector<MeasuredTape> tape;
};

// Rules as of load().
[[nodiscard]] Result<Measured> load_measured(const std::filesystem::path& path,
                                             const ReadSource& read = read_from_disk);

}  // namespace vacuary::plan
