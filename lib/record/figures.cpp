#include "record/figures.hpp"

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

bool read_figure(std::string_view text, Figure& figure) {
  std::vector<std::string> words(1);
  for (const char ch : text) {
    if (ch != ' ') {
      words.back() += ch;
    } else if (!words.back().empty()) {
      words.emplace_back();
    }
  }
  if (words.back().empty()) words.pop_back();
  if (words.size() != 3 && words.size() != 4) return false;
  const auto number = [](const std::string& word, double& value) {
    const auto parsed = std::from_chars(word.data(), word.data() + word.size(), value);
    return parsed.ec == std::errc{} && parsed.ptr == word.data() + word.size() && std::isfinite(value);
  };
  double uncertainty = 0;
  if (!number(words[1], figure.value) || (words.size() == 4 && !number(words[3], uncertainty))) return false;
  figure.name = words[0];
  figure.unit = words[2];
  figure.expanded_uncertainty = words.size() == 4 ? std::optional<double>(uncertainty) : std::nullopt;
  return true;
}

}  // namespace vacuary::record
