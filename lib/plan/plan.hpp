// Front door of `plan`: chamber, optic, recipe and channel-map text to resolved, immutable values
// that remember where they were written. No TOML type leaves this room, and no derived physics
// enters it.
//
// The formats are described in schemas/README.md, with a JSON Schema for each and the sample plant
// in recipes/tarn-ridge.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/base.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::plan {

// A value as the user gave it: resolved quantity, the unit it was written in, where it stands.
// A default has an empty `at.source`. `at` covers the value's text, quotes included.
template <class Q>
struct Given {
  Q value{};
  Unit unit;
  Region at;
};
struct GivenText {
  std::string value;
  Region at;
};

template <class Q>
using Maybe = std::optional<Given<Q>>;
using MaybeText = std::optional<GivenText>;

// One file as received: its bytes and their hash go into the record.
struct File {
  std::filesystem::path path;
  std::shared_ptr<const Source> source;
};

// ---------------------------------------------------------------- chamber

struct Surface {
  GivenText name;
  GivenText material;
  Given<Area> area;
  Given<MolarFlux> outgassing_1h;  // at one hour of pumping, at the chamber's gas temperature
  Given<Ratio> exponent;           // q(t) = q_1h (t / 1 h)^-exponent
};

struct SpeedStage {           // one row of a pump's speed table
  Given<Pressure> below;      // the speed holds below this pressure, down to the next row
  Given<PumpingSpeed> speed;  // effective at the chamber
};

struct SpeciesSpeed {
  GivenText gas;              // "H2O", "N2", "Ar", "O2", "air"
  Given<PumpingSpeed> speed;  // at the pump's mouth, per pump
};

enum class PumpKind { roughing, cryo, turbo };

struct Pump {
  GivenText name;
  PumpKind kind = PumpKind::roughing;
  Given<Count> number;               // how many alike, default 1
  std::vector<SpeedStage> stages;    // roughing: descending in `below`
  std::vector<SpeciesSpeed> speeds;  // high vacuum
  Maybe<Area> valve_bore;            // free area of the valve in front of each
  Maybe<Ratio> valve_transmission;   // its transmission probability
  Maybe<Pressure> ultimate;          // lowest pressure it reaches alone
  Maybe<Pressure> crossover_max;     // high vacuum: open the valve only below this
  Maybe<Pressure> crossover_min;     // roughing: below this oil or particles stream back
  Maybe<WrittenFlow> oxygen_max;     // more oxygen than this is not allowed through it
  Maybe<Energy> crossover_capacity;  // pressure-volume one pump takes in a gulp ("300 mbar L")
};

enum class GaugeKind { thermal, capacitance, ion };  // ion: hot or cold cathode
enum class GaugeReads { true_pressure, nitrogen_equivalent };

struct GasFactor {
  GivenText gas;
  Given<Ratio> relative_sensitivity;  // reading = true pressure * this, nitrogen = 1
};

struct Gauge {
  GivenText name;
  GaugeKind kind = GaugeKind::thermal;
  GaugeReads reads = GaugeReads::nitrogen_equivalent;
  Given<Pressure> low, high;   // usable range
  Given<Ratio> accuracy;       // standard uncertainty, of reading
  Maybe<Pressure> zero_drift;  // standard uncertainty of the zero (capacitance)
  Maybe<Pressure> off_above;   // must be switched off above this (ion)
  std::vector<GasFactor> gas_factors;
};

struct GasLine {
  GivenText name;  // "argon"
  GivenText gas;   // "Ar"
  Given<WrittenFlow> full_scale;
  Given<Ratio> accuracy;  // standard uncertainty, of full scale
};

struct Supply {
  GivenText name;
  Given<Power> power_max;
  Given<Voltage> voltage_max;
  Given<Current> current_max;
  Maybe<PowerRamp> ramp_max;
  Given<Ratio> power_accuracy;  // standard uncertainty, of reading: power and energy
};

struct ShieldPoint {  // open width of the trim shield along the radius
  Given<Length> radius;
  Given<Length> opening;  // full width across the cathode line
};

struct Calibration {                          // film per energy, measured
  Given<ThicknessPerEnergy> film_per_energy;  // turn-averaged, at `radius`
  Given<Ratio> uncertainty;                   // standard, relative
  Given<Length> radius;
  Given<Pressure> pressure;
  Given<Voltage> voltage;
  Given<Voltage> voltage_band;  // claims hold within voltage +/- band
  GivenText gas;
  Given<Energy> energy_used;  // target energy used when it was measured
  GivenText shield;           // name of the shield it was measured with; empty: without one
  GivenText target_serial;
  GivenText date;  // YYYY-MM-DD
  // Of the atoms that the gas scatters, the share that still lands at `radius`, relative to those
  // that fly straight (s of the film map's diffuse part). 0: none, as long as nobody measured it.
  Given<Ratio> diffuse_share;
  Given<Ratio> diffuse_share_uncertainty;  // standard
};

struct Cathode {
  GivenText name;
  GivenText supply;    // a Supply by name
  GivenText material;  // "Al"
  GivenText target_serial;
  Given<Length> target_length, target_width, target_thickness;
  Given<Length> racetrack_inner, racetrack_outer;  // radial extent of the racetrack on the optic
  Given<Length> racetrack_half_width;              // straights this far either side of the centre line
  Given<Length> throw_distance;                    // target face to the vertex tangent plane along its line
  bool follows_surface = false;                    // tilted to follow the glass along its line
  Given<Ratio> emission_exponent;                  // cos^n
  Given<Angle> azimuth;  // of its line, from where optic.angle is read, in the sense of the marks
  // Standard uncertainties of the geometry as built, which shape the film.
  Given<Length> throw_uncertainty, racetrack_uncertainty;  // of its ends
  Given<Ratio> emission_exponent_uncertainty;
  Given<Length> shield_opening_uncertainty, shield_height_uncertainty;
  Given<PowerDensity> power_density_max;  // over the whole target face
  Given<Energy> energy_rated, energy_used;
  Given<Ratio> rate_loss_over_life;  // film per energy falls by this share, linearly, over the rated energy
  Given<PressureLength> p0d0;        // Keller-Simmons transport
  Given<Ratio> usable_target;        // share of the target's mass that may be sputtered
  GivenText shield;                  // empty: no trim shield, and no points
  Maybe<Length> shield_height;       // above the glass; there when the shield is
  std::vector<ShieldPoint> shield_opening;
  Calibration calibration;
};

// A quartz crystal that film slows down, fixed in the vessel. It sees the standing beam and not the turn, so
// its tooling factor holds the duty: how little of a turn any place of the optic spends under the beam.
struct Crystal {
  GivenText name;
  GivenText cathode;          // whose film it sees, by name
  Given<Frequency> unloaded;  // before any film
  Given<Ratio> tooling;       // turn-averaged film at the calibration's radius over film on the crystal
  Given<Ratio> tooling_uncertainty;  // standard, relative
  Maybe<Ratio> z_ratio;  // acoustic impedance of quartz over that of the film; none: of the material
};

struct GlowElectrode {
  GivenText supply;
  Given<Area> area;
  GivenText material;
};

// What is normal for this chamber, from its own past runs. Each key is of use alone.
struct History {
  Maybe<Ratio> exponent;            // the pressure falls as t^-exponent from 1 h to 10 h of pumping
  Maybe<Pressure> pressure_1h;      // after an hour of pumping
  Maybe<Pressure> base_pressure;    // what a run waits for ...
  Maybe<Duration> base_time;        // ... and how long after pumping start it is there
  Maybe<PressureRate> rise;         // of the closed vessel
  Maybe<PumpingSpeed> argon_speed;  // high vacuum, throttle open: flow over pressure
  Given<Ratio> spread;              // standard deviation of each of these from run to run, relative
};

struct Chamber {
  File file;
  GivenText name;
  Given<Volume> volume;
  GasReference reference;  // resolved: standard_flow and gas_temperature keys
  Given<Temperature> gas_temperature;
  std::vector<Surface> surfaces;
  Maybe<MolarFlow> leak_limit;
  std::vector<Pump> pumps;
  std::vector<Gauge> gauges;
  std::vector<GasLine> gas_lines;
  std::vector<Supply> supplies;
  std::vector<Cathode> cathodes;
  std::vector<Crystal> crystals;
  std::optional<GlowElectrode> glow;
  Maybe<AngularSpeed> rotation_min, rotation_max;  // both or none; none: the optic cannot turn
  Maybe<Ratio> plasma_desorption;                  // water in the discharge over water without it
  std::optional<History> history;                  // none: nobody says what is normal
  std::vector<GivenText> safety;                   // notes shown with every report
};

// ---------------------------------------------------------------- optic

struct Film {
  GivenText material;
  Given<Length> thickness, tolerance;  // mean over the clear area: thickness +/- tolerance
  Maybe<Ratio> uniformity;             // (max - min)/(max + min) over the clear area
  Given<MassDensity> density;
  struct Reflectance {
    Given<Length> wavelength;
    Given<Ratio> at_least;
  };
  std::vector<Reflectance> reflectance;
  Maybe<Length> native_oxide;  // that grows on it in air; none: clean metal
  Maybe<Length> roughness;     // rms, in the band that scatters light; none: smooth
  struct Overcoat {
    GivenText material;  // "SiO2", "Si3N4"
    Given<Length> thickness;
  };
  std::vector<Overcoat> overcoats;  // from the metal outwards; no oxide grows under one
};

enum class Rotation { clockwise, counterclockwise };  // seen from the coated side

struct Optic {
  File file;
  GivenText name;
  Given<Length> inner_radius, outer_radius;  // of the clear area
  Given<Length> radius_of_curvature;         // positive: concave towards the cathode
  Given<Ratio> conic_constant;
  GivenText glass;
  Given<MassDensity> glass_density;
  Given<ThermalConductivity> conductivity;
  Given<SpecificHeat> heat_capacity;
  Given<TemperatureDifference> allowed_difference;
  Given<Length> face_thickness;  // solid: the whole; face sheet: the sheet
  bool face_sheet = false;
  GivenText fiducial;                           // where angle 0 is: "notch at the north pad"
  Rotation sense = Rotation::counterclockwise;  // in which marked angles grow
  Film film;
};

// ---------------------------------------------------------------- recipe

enum class StepKind { pumpdown, rate_of_rise, plasma_clean, presputter, sputter, hold, vent };
[[nodiscard]] const char* name(StepKind kind);

struct GasFlow {
  GivenText line;  // a GasLine by name
  Given<MolarFlow> flow;
};

// A bound on a channel while the step is under way (after `settle`).
struct Limit {
  GivenText channel;  // "<device>.<what>", see channel.hpp
  // Bounds in the channel's own SI unit; the Given keeps the unit. Either may be missing.
  std::optional<double> low_si, high_si;
  Unit unit;
  Region low_at, high_at, at;
  Given<Duration> may_last;  // an excursion no longer than this is not a deviation; default 0 s
};

enum class EndKind { time, pressure, energy, turns, angle, thickness };

struct End {
  EndKind kind = EndKind::time;
  Region at;
  Maybe<Duration> time;
  Maybe<Pressure> pressure;
  Maybe<Energy> energy;
  Maybe<Count> turns;
  Maybe<Angle> angle;
  Maybe<Length> thickness;  // by film per energy; said so in every output
};

struct Step {
  GivenText name;  // unique in the recipe
  StepKind kind = StepKind::hold;
  Region kind_at, at;  // at: the [[step]] header
  End end;
  Given<Duration> longest;
  // Setpoints. Which may and must stand in which kind is decided by the loader's field tables.
  Maybe<Pressure> pressure;  // wanted working pressure
  std::vector<GasFlow> gas;
  Maybe<Ratio> throttle;         // share of the full effective pumping speed, all gases
  std::vector<GivenText> pumps;  // pumps in use by name; pumpdown: in order
  MaybeText cathode;
  Maybe<Power> power;
  Maybe<Duration> ramp;    // power ramp at the step's start, inside the step
  Maybe<Voltage> voltage;  // glow
  Maybe<Current> current;  // glow
  Maybe<AngularSpeed> rotation;
  Maybe<VoltageRate> settled;    // presputter: conditioned when the voltage moves less
  Maybe<Temperature> dew_point;  // vent: of the room, the optic must be warmer
  Maybe<Duration> settle;        // limits apply after this long into the step
  std::vector<Limit> limits;
};

struct SigningRole {
  GivenText role;
};
enum class SigningOrder { listed, any };

struct Recipe {
  File file;
  GivenText name, revision, author;
  GivenText chamber_path;  // relative to the recipe file
  MaybeText optic_path;    // must be there when a step lays film
  std::vector<Step> steps;
  std::vector<SigningRole> sign;
  SigningOrder sign_order = SigningOrder::listed;  // in which they must sign
  Maybe<Duration> downtime;                        // window the whole run must fit
  Maybe<Duration> clean_to_film_max;
  Maybe<Ratio> water_per_metal_max;  // plant policy: turn-averaged ratio
  // How the optic lies on its drive: what optic.angle reads when the fiducial mark stands under the
  // line from which azimuths count. Readings grow with the optic's marked angles.
  Given<Angle> angle_at_mark, angle_at_mark_uncertainty;
};

// ---------------------------------------------------------------- all of it

struct Plan {
  Recipe recipe;
  Chamber chamber;
  std::optional<Optic> optic;  // none: a recipe that lays no film (no sputter step)
};

// Where the text of a plan file comes from: the disk, or memory in tests.
using ReadSource = std::function<Result<std::shared_ptr<const Source>>(const std::filesystem::path& path)>;
[[nodiscard]] Result<std::shared_ptr<const Source>> read_from_disk(const std::filesystem::path& path);

// Loads a recipe and the chamber and optic it names. All complaints of a file at once when its
// syntax is sound; best effort after a syntax error. Rules used here: `syntax`, `unknown-key`,
// `missing-key`, `wrong-type`, `bad-quantity`, `out-of-domain` (a radius of -1 m), `bad-name`,
// `unknown-format`, `unknown-reference`, `duplicate-name`, `unreadable-file`.
// References between files (gas line, cathode, pump, supply, gauge, limit channels) are resolved
// here: a Plan without errors has none that dangle.
[[nodiscard]] Result<Plan> load(const std::filesystem::path& recipe_path,
                                const ReadSource& read = read_from_disk);

// Lookups by name; nullptr when there is none (cannot happen in a Plan that loaded without errors).
[[nodiscard]] const GasLine* gas_line(const Chamber& chamber, const std::string& name);
[[nodiscard]] const Cathode* cathode(const Chamber& chamber, const std::string& name);
[[nodiscard]] const Supply* supply(const Chamber& chamber, const std::string& name);
[[nodiscard]] const Pump* pump(const Chamber& chamber, const std::string& name);
[[nodiscard]] const Gauge* gauge(const Chamber& chamber, const std::string& name);

}  // namespace vacuary::plan
