// Text to faults, faults to their place in a plan, and the help that lists them.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "quantity/quantity.hpp"
#include "rehearse/faults.hpp"

namespace vacuary::rehearse {

namespace {

Diagnostic bad(std::string message, std::string remedy) {
  Diagnostic d;
  d.rule = "bad-fault";
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  return d;
}

std::string trimmed(std::string_view text) {
  while (!text.empty() && std::isspace(static_cast<unsigned char>(text.front())) != 0) {
    text.remove_prefix(1);
  }
  while (!text.empty() && std::isspace(static_cast<unsigned char>(text.back())) != 0) {
    text.remove_suffix(1);
  }
  return std::string(text);
}

// "200s" to "200 s": on a command line nobody types the blank that plan files ask for.
std::string spaced(const std::string& text) {
  std::size_t i = 0;
  const auto is_digit = [&](std::size_t at) {
    return at < text.size() && std::isdigit(static_cast<unsigned char>(text[at])) != 0;
  };
  if (i < text.size() && (text[i] == '+' || text[i] == '-')) {
    ++i;
  }
  while (is_digit(i) || (i < text.size() && text[i] == '.')) {
    ++i;
  }
  if (i < text.size() && (text[i] == 'e' || text[i] == 'E')) {
    const bool sign = i + 1 < text.size() && (text[i + 1] == '-' || text[i + 1] == '+');
    std::size_t digits = i + (sign ? 2 : 1);
    if (is_digit(digits)) {
      while (is_digit(digits)) {
        ++digits;
      }
      i = digits;
    }
  }
  if (i == 0 || i >= text.size() || text[i] == ' ' || text[i] == '%') {
    return text;
  }
  return text.substr(0, i) + " " + text.substr(i);
}

// The value of `text` as `kind`, SI; a flow as throughput at the usual references (Pa m3/s).
std::variant<double, TextProblem> number_of(const std::string& text, Kind kind) {
  const auto take = [&](auto parsed) -> std::variant<double, TextProblem> {
    if (const auto* problem = std::get_if<TextProblem>(&parsed)) {
      return *problem;
    }
    return std::get<0>(parsed).value.value();
  };
  switch (kind) {
    case Kind::duration:
      return take(parse<Duration>(text));
    case Kind::pressure:
      return take(parse<Pressure>(text));
    case Kind::voltage:
      return take(parse<Voltage>(text));
    case Kind::frequency:
      return take(parse<Frequency>(text));
    case Kind::angle:
      return take(parse<Angle>(text));
    case Kind::ratio:
      return take(parse<Ratio>(text));
    case Kind::count:
      return take(parse<Count>(text));
    default:
      break;
  }
  auto parsed = parse<WrittenFlow>(text);
  if (const auto* problem = std::get_if<TextProblem>(&parsed)) {
    return *problem;
  }
  const GasReference reference = GasReference::usual();
  return throughput(std::get<0>(parsed).value.resolve(reference), reference.gas_temperature).pa_m3_per_s();
}

const FaultRow* row_of(const std::string& name) {
  for (const FaultRow& row : fault_table()) {
    if (row.kind.name == name) {
      return &row;
    }
  }
  return nullptr;
}

Diagnostic unknown_fault(const std::string& name) {
  std::vector<std::string> names;
  for (const FaultKind& kind : fault_kinds()) {
    names.push_back(kind.name);
  }
  const auto near = nearest(name, names);
  return bad(
      fmt::format("there is no fault '{}'", name),
      near ? fmt::format("did you mean '{}'?", *near) : fmt::format("one of: {}", fmt::join(names, ", ")));
}

const SettingKind* setting_of(const FaultKind& kind, const std::string& name) {
  for (const SettingKind& setting : kind.settings) {
    if (setting.name == name) {
      return &setting;
    }
  }
  return nullptr;
}

Diagnostic unknown_setting(const FaultKind& kind, const std::string& name) {
  std::vector<std::string> names;
  for (const SettingKind& setting : kind.settings) {
    names.push_back(setting.name);
  }
  const auto near = nearest(name, names);
  return bad(fmt::format("fault '{}' has no setting '{}'", kind.name, name),
             near ? fmt::format("did you mean '{}'?", *near)
                  : fmt::format("its settings: {}", fmt::join(names, ", ")));
}

std::optional<Diagnostic> check_value(const FaultKind& kind, const SettingKind& setting,
                                      const std::string& text) {
  if (!setting.kind) {
    return text.empty() ? std::optional(
                              bad(fmt::format("setting '{}' of fault '{}' is empty", setting.name, kind.name),
                                  "give a name"))
                        : std::nullopt;
  }
  const auto number = number_of(text, *setting.kind);
  if (const auto* problem = std::get_if<TextProblem>(&number)) {
    return bad(
        fmt::format("setting '{}' of fault '{}': {}", setting.name, kind.name, problem->message),
        problem->remedy.empty() ? fmt::format("write it as in '{}'", setting.otherwise) : problem->remedy);
  }
  const double value = std::get<double>(number);
  if (value < setting.low_si || value > setting.high_si) {
    return bad(fmt::format("setting '{}' of fault '{}' is {}, beyond what makes sense", setting.name,
                           kind.name, text),
               fmt::format("choose a value nearer to the usual {}", setting.otherwise));
  }
  return std::nullopt;
}

void read_setting(const FaultKind& kind, const std::string& part, Fault& fault, Diagnostics& complaints) {
  const std::size_t equals = part.find('=');
  if (equals == std::string::npos) {
    complaints.push_back(bad(fmt::format("'{}' of fault '{}' is not a setting", part, kind.name),
                             "write settings as name=value, separated by commas"));
    return;
  }
  const std::string name = trimmed(std::string_view(part).substr(0, equals));
  std::string value = trimmed(std::string_view(part).substr(equals + 1));
  const SettingKind* setting = setting_of(kind, name);
  if (setting == nullptr) {
    complaints.push_back(unknown_setting(kind, name));
    return;
  }
  if (fault.settings.count(name) != 0) {
    complaints.push_back(
        bad(fmt::format("setting '{}' of fault '{}' is given twice", name, kind.name), "give it once"));
    return;
  }
  value = setting->kind ? spaced(value) : value;
  if (auto complaint = check_value(kind, *setting, value)) {
    complaints.push_back(std::move(*complaint));
    return;
  }
  fault.settings[name] = value;
}

}  // namespace

Result<Fault> parse_fault(std::string_view text) {
  const std::size_t colon = text.find(':');
  Fault fault;
  fault.name = trimmed(text.substr(0, colon));
  const FaultRow* row = row_of(fault.name);
  if (row == nullptr) {
    return unknown_fault(fault.name);
  }
  Diagnostics complaints;
  if (colon != std::string_view::npos) {
    std::string_view rest = text.substr(colon + 1);
    while (true) {
      const std::size_t comma = rest.find(',');
      read_setting(row->kind, trimmed(rest.substr(0, comma)), fault, complaints);
      if (comma == std::string_view::npos) {
        break;
      }
      rest.remove_prefix(comma + 1);
    }
  }
  if (!complaints.empty()) {
    return complaints;
  }
  return fault;
}

std::string fault_help() {
  std::string help =
      "A fault is NAME or NAME:setting=value,setting=value. Several may be given, each with --fault.\n";
  for (const FaultKind& kind : fault_kinds()) {
    help += fmt::format("\n{}  ({})\n  {}\n", kind.name, name(kind.nature), kind.help);
    for (const SettingKind& setting : kind.settings) {
      const std::string from = setting.name == "at" ? fmt::format(", after {}", kind.during) : "";
      help += fmt::format("    {:<9} {:<14} {}{}\n", setting.name,
                          setting.otherwise.empty() ? "(a name)" : setting.otherwise, setting.help, from);
    }
  }
  return help;
}

// ---------------------------------------------------------------- place

namespace {

std::optional<std::size_t> anchor_step(const std::vector<plan::Step>& steps, Anchor anchor) {
  const auto first = [&](plan::StepKind kind) -> std::optional<std::size_t> {
    for (std::size_t i = 0; i < steps.size(); ++i) {
      if (steps[i].kind == kind) {
        return i;
      }
    }
    return std::nullopt;
  };
  if (anchor == Anchor::film) {
    return first(plan::StepKind::sputter);
  }
  if (anchor == Anchor::target) {
    const auto target = first(plan::StepKind::presputter);
    return target ? target : first(plan::StepKind::sputter);
  }
  if (anchor == Anchor::run) {
    return steps.empty() ? std::nullopt : std::optional<std::size_t>(0);
  }
  std::optional<std::size_t> base;
  const std::size_t film = first(plan::StepKind::sputter).value_or(steps.size());
  for (std::size_t i = 0; i < film; ++i) {
    if (steps[i].kind == plan::StepKind::pumpdown) {
      base = i;
    }
  }
  return base;
}

std::optional<Diagnostic> find_step(const FaultRow& row, const plan::Plan& plan, Placed& placed) {
  const auto given = placed.given.settings.find("step");
  if (given == placed.given.settings.end()) {
    const auto step = anchor_step(plan.recipe.steps, row.anchor);
    if (!step) {
      return bad(
          fmt::format("fault '{}' counts from {}, and this recipe has none", row.kind.name, row.kind.during),
          "name a step of the recipe with step=NAME");
    }
    placed.step = *step;
    return std::nullopt;
  }
  std::vector<std::string> names;
  for (std::size_t i = 0; i < plan.recipe.steps.size(); ++i) {
    names.push_back(plan.recipe.steps[i].name.value);
    if (names.back() == given->second) {
      placed.step = i;
      return std::nullopt;
    }
  }
  const auto near = nearest(given->second, names);
  return bad(
      fmt::format("fault '{}': this recipe has no step '{}'", row.kind.name, given->second),
      near ? fmt::format("did you mean '{}'?", *near) : fmt::format("its steps: {}", fmt::join(names, ", ")));
}

std::vector<std::string> device_names(FaultRow::Device device, const plan::Chamber& chamber,
                                      bool for_default) {
  std::vector<std::string> names;
  const bool gauges = device != FaultRow::Device::gas_line;
  for (const plan::Gauge& gauge : chamber.gauges) {
    const bool fits = !for_default || device == FaultRow::Device::any ||
                      (device == FaultRow::Device::ion_gauge) == (gauge.kind == plan::GaugeKind::ion);
    const bool capacitance = device != FaultRow::Device::capacitance_gauge || !for_default ||
                             gauge.kind == plan::GaugeKind::capacitance;
    // A name that does not fit keeps its place in the list, but matches nothing.
    names.push_back(gauges && fits && capacitance ? gauge.name.value : "");
  }
  if (!gauges) {
    names.clear();
  }
  if (device == FaultRow::Device::gas_line || device == FaultRow::Device::any) {
    for (const plan::GasLine& line : chamber.gas_lines) {
      names.push_back(line.name.value);
    }
  }
  if (device == FaultRow::Device::any) {
    for (const plan::Supply& supply : chamber.supplies) {
      names.push_back(supply.name.value);
    }
    for (const plan::Cathode& cathode : chamber.cathodes) {
      names.push_back(cathode.name.value);
    }
    names.emplace_back("optic");
  }
  return names;
}

std::optional<Diagnostic> find_device(const FaultRow& row, const plan::Chamber& chamber, Placed& placed) {
  if (row.device == FaultRow::Device::none) {
    return std::nullopt;
  }
  std::string wanted;
  for (const char* key : {"gauge", "line", "device"}) {
    const auto given = placed.given.settings.find(key);
    wanted = given != placed.given.settings.end() ? given->second : wanted;
  }
  const std::vector<std::string> names = device_names(row.device, chamber, wanted.empty());
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (!names[i].empty() && (wanted.empty() || names[i] == wanted)) {
      placed.device = i;
      placed.device_name = names[i];
      return std::nullopt;
    }
  }
  if (wanted.empty()) {
    return bad(fmt::format("fault '{}' finds no device in this chamber to be on", row.kind.name),
               "choose another fault");
  }
  const auto near = nearest(wanted, names);
  return bad(fmt::format("fault '{}': this chamber has no '{}' for it to be on", row.kind.name, wanted),
             near && !near->empty() ? fmt::format("did you mean '{}'?", *near)
                                    : fmt::format("one of: {}", fmt::join(names, ", ")));
}

}  // namespace

Result<std::vector<Placed>> place(const std::vector<Fault>& faults, const plan::Plan& plan) {
  std::vector<Placed> all;
  Diagnostics complaints;
  for (const Fault& fault : faults) {
    const FaultRow* row = row_of(fault.name);
    if (row == nullptr) {
      complaints.push_back(unknown_fault(fault.name));
      continue;
    }
    Placed placed;
    placed.kind = &row->kind;
    placed.act = row->act;
    placed.given = fault;
    for (const auto& [name, text] : fault.settings) {
      const SettingKind* setting = setting_of(row->kind, name);
      auto complaint = setting == nullptr ? std::optional(unknown_setting(row->kind, name))
                                          : check_value(row->kind, *setting, text);
      if (complaint) {
        complaints.push_back(std::move(*complaint));
      }
    }
    for (auto complaint : {find_step(*row, plan, placed), find_device(*row, plan.chamber, placed)}) {
      if (complaint) {
        complaints.push_back(std::move(*complaint));
      }
    }
    if (!complaints.empty()) {
      continue;
    }
    for (const SettingKind& setting : row->kind.settings) {
      if (setting.kind) {
        const auto given = fault.settings.find(setting.name);
        const std::string& text = given != fault.settings.end() ? given->second : setting.otherwise;
        placed.number[setting.name] = std::get<double>(number_of(text, *setting.kind));
        placed.given.settings[setting.name] = text;
      }
    }
    if (!placed.device_name.empty()) {
      placed.given.settings["device"] = placed.device_name;
    }
    all.push_back(std::move(placed));
  }
  if (has_errors(complaints)) {
    return complaints;
  }
  return all;
}

}  // namespace vacuary::rehearse
