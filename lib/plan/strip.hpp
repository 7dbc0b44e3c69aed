// Witness strips and test shots: film measured along the radius after whole turns of the optic.
//
// One file, TOML or CSV, holds the exposures that belong together (with the shield, without it, at
// another pressure), each with what the plant did and what was measured where. schemas/README.md
// describes both forms.
#pragma once

#include <string>
#include <vector>

#include "plan/plan.hpp"

namespace vacuary::plan {

struct StripPoint {
  Given<Length> radius;       // from the optic's axis, within the clear area
  Given<Length> thickness;    // measured
  Given<Length> uncertainty;  // standard, of this point alone
};

// One shot of the cathode over a strip on the optic's surface.
struct Exposure {
  Region at;
  GivenText name;    // empty: it has none
  GivenText shield;  // the cathode's shield by name; empty: the shield was out
  GivenText target_serial;
  GivenText gas;
  GivenText date;             // YYYY-MM-DD
  Given<Energy> energy;       // into the plasma while the shutter was open
  Given<Energy> energy_used;  // by the target before it
  Given<Pressure> pressure;   // true total pressure
  Given<Voltage> voltage;     // mean
  Given<Count> turns;         // of the optic under the open shutter, at least one
  std::vector<StripPoint> points;
};

struct Strip {
  File file;
  GivenText name;
  GivenText cathode;               // by name; left out: the chamber's only one
  Given<Ratio> gauge_uncertainty;  // standard, of the thickness gauge's scale: common to all points
  Given<Ratio> energy_repeat;  // standard, how far energies of two exposures may be off against each other
  std::vector<Exposure> exposures;  // at least one, each with at least one point
};

// Loads a strip and holds it against the plan: rules as for load(). A name that ends in .csv is read as
// CSV (RFC 4180, comma): one row a point, a header of keys with their units, `thickness [nm]`; rows that
// agree in everything but the point are one exposure. A plan without an optic has no place for a strip
// (missing-key).
[[nodiscard]] Result<Strip> load_strip(const std::filesystem::path& path, const Plan& plan,
                                       const ReadSource& read = read_from_disk);

}  // namespace vacuary::plan
