#include "record/figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

namespace vacuary::record {
namespace {

using Json = nlohmann::json;

constexpr std::size_t most_notes = 4000;  // bytes of text that are indexed for one run

const Json* at(const Json& from, const char* pointer) {
  const Json::json_pointer path(pointer);
  return from.contains(path) ? &from.at(path) : nullptr;
}

std::string text_at(const Json& from, const char* pointer) {
  const Json* value = at(from, pointer);
  return value != nullptr && value->is_string() ? value->get<std::string>() : std::string{};
}

// {value, unit, expanded_uncertainty?, coverage_factor?}; U is brought to k = 2.
std::optional<Figure> figure_at(const Json* value, const char* name) {
  if (value == nullptr || !value->is_object()) return std::nullopt;
  const auto number = [&](const char* key) -> std::optional<double> {
    const auto found = value->find(key);
    if (found == value->end() || !found->is_number()) return std::nullopt;
    return found->get<double>();
  };
  const auto unit = value->find("unit");
  if (!number("value") || unit == value->end() || !unit->is_string()) return std::nullopt;
  Figure figure{name, *number("value"), number("expanded_uncertainty"), unit->get<std::string>()};
  const double k = number("coverage_factor").value_or(2.0);
  if (figure.expanded_uncertainty && k > 0) *figure.expanded_uncertainty *= 2.0 / k;
  return figure;
}

void add(IndexedRun& run, std::optional<Figure> figure) {
  if (figure && std::isfinite(figure->value)) run.figures.push_back(std::move(*figure));
}

void add_note(IndexedRun& run, const std::string& note) {
  if (note.empty() || run.notes.size() + note.size() > most_notes) return;
  if (!run.notes.empty()) run.notes += "; ";
  run.notes += note;
}

// The energy of all film steps, and energy per thickness. The thickness is the report's: where that was
// worked out from the energy, the ratio shows the calibration in use and nothing else.
void add_energy(const Json& report, IndexedRun& run) {
  const Json* parts = at(report, "/film/parts");
  if (parts == nullptr || !parts->is_array()) return;
  Figure total{"film_energy", 0, std::nullopt, ""};
  for (const Json& part : *parts) {
    const std::optional<Figure> energy = figure_at(at(part, "/energy"), "film_energy");
    if (!energy || (!total.unit.empty() && total.unit != energy->unit)) return;
    total.value += energy->value;
    total.unit = energy->unit;
  }
  if (total.unit.empty()) return;
  run.figures.push_back(total);
  const std::optional<Figure> mean = figure_at(at(report, "/film/mean_thickness"), "");
  if (mean && mean->value > 0) {
    run.figures.push_back(
        {"energy_per_thickness", total.value / mean->value, std::nullopt, total.unit + "/" + mean->unit});
  }
}

void add_rises(const Json& report, IndexedRun& run) {
  const Json* rises = at(report, "/vacuum/rises");
  if (rises == nullptr || !rises->is_array() || rises->empty()) return;
  add(run, figure_at(at(rises->back(), "/leak_at_most"), "leak_at_most"));
}

void add_deviations(const Json& report, IndexedRun& run) {
  const Json* deviations = at(report, "/deviations");
  if (deviations == nullptr || !deviations->is_array()) return;
  run.figures.push_back({"deviations", static_cast<double>(deviations->size()), std::nullopt, "count"});
  for (const Json& deviation : *deviations) add_note(run, text_at(deviation, "/rule"));
}

}  // namespace

bool read_report(std::string_view bytes, IndexedRun& run) {
  const Json report = Json::parse(bytes, nullptr, false);
  if (report.is_discarded() || !report.is_object()) return false;
  run.verdict = text_at(report, "/verdict");
  run.recipe = text_at(report, "/recipe/name");
  run.recipe_revision = text_at(report, "/recipe/revision");
  run.author = text_at(report, "/recipe/author");
  run.chamber = text_at(report, "/chamber");
  run.optic = text_at(report, "/optic");
  run.started = text_at(report, "/log/start");
  add(run, figure_at(at(report, "/film/mean_thickness"), "film_thickness"));
  add(run, figure_at(at(report, "/vacuum/base_pressure"), "base_pressure"));
  add(run, figure_at(at(report, "/vacuum/time_to_base"), "pumpdown_time"));
  add_rises(report, run);
  add_energy(report, run);
  if (const Json* reasons = at(report, "/reasons"); reasons != nullptr && reasons->is_array()) {
    for (const Json& reason : *reasons) add_note(run, reason.is_string() ? reason.get<std::string>() : "");
  }
  add_deviations(report, run);
  return true;
}

// "NAME VALUE UNIT [U|- [AT|- [SUBJECT]]]"; the subject is the rest of the line.
bool read_figure(std::string_view text, Figure& figure) {
  const auto word = [&text] {
    text.remove_prefix(std::min(text.find_first_not_of(' '), text.size()));
    const std::size_t end = std::min(text.find(' '), text.size());
    std::string taken(text.substr(0, end));
    text.remove_prefix(end);
    return taken;
  };
  const auto number = [](const std::string& digits, double& value) {
    const auto parsed = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return parsed.ec == std::errc{} && parsed.ptr == digits.data() + digits.size() && std::isfinite(value);
  };
  Figure read;
  read.name = word();
  if (!number(word(), read.value)) return false;
  read.unit = word();
  if (read.unit.empty()) return false;
  const std::string uncertainty = word();
  double u = 0;
  if (!uncertainty.empty() && uncertainty != "-") {
    if (!number(uncertainty, u)) return false;
    read.expanded_uncertainty = u;
  }
  const std::string at = word();
  Instant when;
  if (!at.empty() && at != "-") {
    if (!from_rfc3339(at, when)) return false;
    read.at = at;
  }
  text.remove_prefix(std::min(text.find_first_not_of(' '), text.size()));
  read.subject = std::string(text);
  figure = std::move(read);
  return true;
}

// Twelve digits, of an uncertainty four: no measurement has more, and what arithmetic left in the last bits
// is not written down.
std::string figure_text(const Figure& f) {
  std::string out = fmt::format("{} {:.12g} {}", f.name, f.value, f.unit);
  const bool more = !f.at.empty() || !f.subject.empty();
  if (f.expanded_uncertainty) {
    out += fmt::format(" {:.4g}", *f.expanded_uncertainty);
  } else if (more) {
    out += " -";
  }
  if (more) out += f.at.empty() ? " -" : " " + f.at;
  return f.subject.empty() ? out : out + " " + f.subject;
}

}  // namespace vacuary::record
