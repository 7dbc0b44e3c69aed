// The tables of the strip file, and what the plan has to say to it.
#include "plan/strip.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "plan/strip_csv.hpp"
#include "plan/tables.hpp"

namespace vacuary::plan {
namespace {

const Section<StripPoint>& strip_point_section() {
  static const Section<StripPoint> section =
      Section<StripPoint>("a point of the strip", "Film measured at one radius.")
          .quantity(&StripPoint::radius, "radius", Need::required, domain::not_negative,
                    "distance from the optic's axis")
          .quantity(&StripPoint::thickness, "thickness", Need::required, domain::positive, "film there")
          .quantity(&StripPoint::uncertainty, "uncertainty", Need::required, domain::positive,
                    "standard uncertainty of this point alone")
          .check([](StripPoint& point, const Node&, Reader& reader) {
            in_order(reader, point.uncertainty, "uncertainty", point.thickness, "thickness");
          });
  return section;
}

constexpr Domain one_or_more{1, 1e6, false, "1 or more"};

const Section<Exposure>& exposure_section() {
  static const Section<Exposure> section =
      Section<Exposure>("an exposure", "One shot of the cathode over a strip.")
          .text(&Exposure::name, "name", Need::optional, "what reports call it")
          .text(&Exposure::shield, "shield", Need::optional,
                "the cathode's trim shield by name; left out: the shield was out")
          .text(&Exposure::target_serial, "target_serial", Need::required, "the target's serial number")
          .gas(&Exposure::gas, "gas", "the working gas")
          .field(Section<Exposure>::make(Shape::day, "date", Need::required, "the day of the shot"),
                 [](Exposure& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (auto day = reader.day(node, info.key)) value.date = std::move(*day);
                 })
          .quantity(&Exposure::energy, "energy", Need::required, domain::positive,
                    "energy while the shutter was open")
          .quantity(&Exposure::energy_used, "energy_used", Need::required, domain::not_negative,
                    "energy the target had seen before")
          .quantity(&Exposure::pressure, "pressure", Need::required, domain::positive, "true pressure")
          .quantity(&Exposure::voltage, "voltage", Need::required, domain::positive, "mean cathode voltage")
          .quantity(&Exposure::turns, "turns", Need::required, one_or_more,
                    "turns of the optic under the open shutter")
          .tables(&Exposure::points, "points", Need::required, strip_point_section(), "what was measured")
          .at_least(1)
          .check([](Exposure& exposure, const Node& node, Reader&) { exposure.at = node.at; });
  return section;
}

const Cathode* cathode_of(Strip& strip, const Plan& plan, Reader& reader) {
  if (strip.cathode.value.empty()) {
    if (plan.chamber.cathodes.size() == 1) {
      strip.cathode.value = plan.chamber.cathodes.front().name.value;
      return &plan.chamber.cathodes.front();
    }
    reader.complain("missing-key", {strip.file.source, 0, 0},
                    fmt::format("the chamber has {} cathodes and the strip does not say which it is for",
                                plan.chamber.cathodes.size()),
                    "state 'cathode'");
    return nullptr;
  }
  const Cathode* found = cathode(plan.chamber, strip.cathode.value);
  if (found == nullptr) {
    reader.unknown("unknown-reference", strip.cathode.at,
                   fmt::format("there is no cathode '{}'", strip.cathode.value), strip.cathode.value,
                   names_of(plan.chamber.cathodes));
  }
  return found;
}

void hold_against(const Exposure& exposure, const Cathode& cathode, const Optic& optic, Reader& reader) {
  if (!exposure.shield.value.empty() && exposure.shield.value != cathode.shield.value) {
    const bool none = cathode.shield.value.empty();
    reader.complain(
        "unknown-reference", exposure.shield.at,
        fmt::format("the strip was laid through shield '{}', cathode '{}' has {}", exposure.shield.value,
                    cathode.name.value, none ? "none" : "'" + cathode.shield.value + "'"),
        "put that shield into the chamber file first, or leave 'shield' out if it was taken out",
        none ? cathode.name.at : cathode.shield.at, none ? "the cathode" : "the shield it has");
  }
  if (!exposure.target_serial.value.empty() && exposure.target_serial.value != cathode.target_serial.value) {
    reader.complain(
        "unknown-reference", exposure.target_serial.at,
        fmt::format("the strip was laid by target '{}', cathode '{}' has '{}'", exposure.target_serial.value,
                    cathode.name.value, cathode.target_serial.value),
        "put that target into the chamber file first", cathode.target_serial.at, "the target it has");
  }
  for (const StripPoint& point : exposure.points) {
    if (!stated(point.radius)) continue;
    const bool inside = point.radius.value < optic.inner_radius.value;
    if (!inside && !(point.radius.value > optic.outer_radius.value)) continue;
    reader.complain("out-of-domain", point.radius.at,
                    fmt::format("the point lies {} the optic's clear area",
                                inside ? "inside the hole of" : "beyond the rim of"),
                    "only points on the optic's own surface have a known height: leave this one out",
                    inside ? optic.inner_radius.at : optic.outer_radius.at,
                    inside ? "its inner radius" : "its outer radius");
  }
}

void resolve_strip(Strip& strip, const Plan& plan, Reader& reader) {
  const Cathode* cathode = cathode_of(strip, plan, reader);
  if (!plan.optic) {
    reader.complain("missing-key", plan.recipe.name.at,
                    "the recipe names no optic, so the strip has no surface to lie on",
                    "give a recipe that names its optic");
  }
  if (cathode == nullptr || !plan.optic) return;
  for (const Exposure& exposure : strip.exposures) hold_against(exposure, *cathode, *plan.optic, reader);
}

bool is_csv(const std::filesystem::path& path) {
  std::string extension = path.extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; });
  return extension == ".csv";
}

}  // namespace

const Section<Strip>& strip_section() {
  static const Section<Strip> section =
      Section<Strip>("a strip file", "Film measured along the radius, to calibrate a cathode by.")
          .format()
          .text(&Strip::name, "name", Need::required, "what it is called")
          .text(&Strip::cathode, "cathode", Need::optional,
                "the cathode it is for; left out: the chamber's only one")
          .quantity(&Strip::gauge_uncertainty, "gauge_uncertainty", Need::optional, domain::share,
                    "standard uncertainty of the thickness gauge's scale, common to all points")
          .otherwise("1 %")
          .quantity(&Strip::energy_repeat, "energy_repeat", Need::optional, domain::share,
                    "standard uncertainty of the energies of two exposures against each other")
          .otherwise("0.3 %")
          .tables(&Strip::exposures, "exposure", Need::required, exposure_section(), "the shots")
          .at_least(1);
  return section;
}

Result<Strip> load_strip(const std::filesystem::path& path, const Plan& plan, const ReadSource& read) {
  auto source = read(path);
  if (!source.has_value()) return source.diagnostics();
  const bool csv = is_csv(path);
  Document document =
      csv ? read_strip_csv(source.value(), path.stem().string()) : read_document(source.value());
  Strip strip;
  strip.file = {path, source.value()};
  Reader reader;
  reader.reference = plan.chamber.reference;
  reader.broken = document.broken;
  reader.diagnostics = std::move(document.diagnostics);
  if (csv ? !document.broken : read_format(reader, document.root, "vacuary-strip")) {
    strip_section().fill(strip, document.root, reader);
    resolve_strip(strip, plan, reader);
  }
  Diagnostics all = std::move(reader.diagnostics);
  sort_by_place(all);
  if (has_errors(all)) return all;
  return Result<Strip>(std::move(strip), std::move(all));
}

}  // namespace vacuary::plan
