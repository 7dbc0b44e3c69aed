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
  // Where on the optic that was, or beside it: the film map says what it is of the mean.
  Maybe<Length> radius;
  Maybe<Angle> angle;  // from the fiducial mark; of use with `radius` only
};
struct MeasuredTarget {  // weighed before and after the run
  GivenText cathode;     // a cathode of the recipe, by name
  Given<Mass> lost;
  Given<Mass> uncertainty;  // standard
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
  std::vector<MeasuredTarget> targets;
};

// Rules as of load().
[[nodiscard]] Result<Measured> load_measured(const std::filesystem::path& path,
                                             const ReadSource& read = read_from_disk);

}  // namespace vacuary::plan
