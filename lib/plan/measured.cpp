#include "plan/measured.hpp"

#include "plan/tables.hpp"

namespace vacuary::plan {
namespace {

const char* const place_help = "where on the optic, or which witness";

const Section<MeasuredReflectance>& reflectance_section() {
  static const Section<MeasuredReflectance> section =
      Section<MeasuredReflectance>("a reflectance", "Reflectance at one wavelength.")
          .quantity(&MeasuredReflectance::wavelength, "wavelength", Need::required, domain::positive,
                    "wavelength of the light")
          .quantity(&MeasuredReflectance::value, "value", Need::required, domain::share,
                    "share of the light that comes back")
          .quantity(&MeasuredReflectance::uncertainty, "uncertainty", Need::required, domain::positive_share,
                    "standard uncertainty of that, absolute: \"0.3 %\" is 0.003")
          .text(&MeasuredReflectance::place, "place", place_help);
  return section;
}

const Section<MeasuredThickness>& thickness_section() {
  static const Section<MeasuredThickness> section =
      Section<MeasuredThickness>("a thickness", "Thickness of the film, measured at a step or by weighing.")
          .quantity(&MeasuredThickness::value, "value", Need::required, domain::positive, "thickness")
          .quantity(&MeasuredThickness::uncertainty, "uncertainty", Need::required, domain::positive,
                    "standard uncertainty of that")
          .text(&MeasuredThickness::place, "place", place_help)
          .quantity(&MeasuredThickness::radius, "radius", domain::not_negative,
                    "distance of that place from the optic's axis; left out: anywhere on the clear area")
          .quantity(&MeasuredThickness::angle, "angle", domain::any,
                    "its angle from the fiducial mark; left out: anywhere round the turn")
          .check([](MeasuredThickness& value, const Node&, Reader& reader) {
            if (!value.angle || value.radius) return;
            reader.complain("missing-key", value.angle->at, "'angle' says nothing without 'radius'",
                            "say how far from the optic's axis it was measured");
          });
  return section;
}

const Section<MeasuredTarget>& target_section() {
  static const Section<MeasuredTarget> section =
      Section<MeasuredTarget>("a target", "Mass a target lost, weighed before and after this run alone.")
          .text(&MeasuredTarget::cathode, "cathode", Need::required, "the cathode it was on, by name")
          .quantity(&MeasuredTarget::lost, "lost", Need::required, domain::positive, "mass lost")
          .quantity(&MeasuredTarget::uncertainty, "uncertainty", Need::required, domain::positive,
                    "standard uncertainty of that");
  return section;
}

const Section<MeasuredTape>& tape_section() {
  static const Section<MeasuredTape> section =
      Section<MeasuredTape>("a tape test", "Whether tape takes the film off (ISO 9211-4).")
          .choice(&MeasuredTape::result, "result", Need::required,
                  {{"passed", "the film stayed"}, {"failed", "film came off"}}, "what happened")
          .text(&MeasuredTape::place, "place", place_help);
  return section;
}

void check_measured(Measured& measured, const Node& table, Reader& reader) {
  if (!measured.reflectance.empty() || !measured.thickness.empty() || !measured.tape.empty() ||
      !measured.targets.empty())
    return;
  reader.complain("missing-key", table.at, "nothing was measured",
                  "add [[reflectance]], [[thickness]], [[tape]] or [[target]]");
}

}  // namespace

const Section<Measured>& measured_section() {
  static const Section<Measured> section =
      Section<Measured>("measurements", "What was measured on the film after the run.")
          .format()
          .field(Section<Measured>::make(Shape::day, "date", Need::required, "the day of the measurements"),
                 [](Measured& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (auto day = reader.day(node, info.key)) value.date = std::move(*day);
                 })
          .text(&Measured::by, "by", Need::required, "who measured")
          .text(&Measured::instrument, "instrument", Need::required, "with what, and when it was calibrated")
          .tables(&Measured::reflectance, "reflectance", Need::optional, reflectance_section(),
                  "reflectance, once per wavelength and place")
          .tables(&Measured::thickness, "thickness", Need::optional, thickness_section(),
                  "thickness of the film, once per place")
          .tables(&Measured::tape, "tape", Need::optional, tape_section(), "tape tests")
          .tables(&Measured::targets, "target", Need::optional, target_section(), "targets that were weighed")
          .check(check_measured);
  return section;
}

Result<Measured> load_measured(const std::filesystem::path& path, const ReadSource& read) {
  auto source = read(path);
  if (!source.has_value()) return source.diagnostics();
  Document document = read_document(source.value());
  Measured measured;
  measured.file = {path, source.value()};
  Reader reader;
  reader.broken = document.broken;
  reader.diagnostics = std::move(document.diagnostics);
  if (read_format(reader, document.root, "vacuary-measured")) {
    measured_section().fill(measured, document.root, reader);
  }
  sort_by_place(reader.diagnostics);
  if (has_errors(reader.diagnostics)) return std::move(reader.diagnostics);
  return Result<Measured>(std::move(measured), std::move(reader.diagnostics));
}

}  // namespace vacuary::plan
