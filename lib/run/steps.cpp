#include "run/steps.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

namespace vacuary::run {
namespace {

using plan::StepKind;

constexpr std::size_t most_unknown = 20;
constexpr double on_share = 0.05;  // of the setpoint: power is on
constexpr double off_for_s = 60;   // without shutter and gas to tell, power off this long ends a film
constexpr double vent_pa = 10;     // a vessel without gas above this is being let up
constexpr std::size_t rise_rows = 3;

std::string folded(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (std::isspace(static_cast<unsigned char>(c)) == 0)
      out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  return out;
}

}  // namespace

Steps::Steps(const plan::Plan& plan, const plan::ChannelMap& map, const Roles& roles)
    : plan_(plan), map_(map), roles_(roles), from_column_(roles.step >= 0) {}

void Steps::text(const std::string& text, Instant time, LogLine line) {
  const auto named = map_.step_names.find(text);
  const std::string wanted = folded(named == map_.step_names.end() ? text : named->second);
  current_ = -1;
  for (std::size_t i = 0; i < plan_.recipe.steps.size(); ++i) {
    if (folded(plan_.recipe.steps[i].name.value) == wanted) current_ = static_cast<int>(i);
  }
  if (current_ >= 0 || wanted.empty() || unknown_.size() >= most_unknown) return;
  const auto same = [&](const UnknownStep& unknown) { return unknown.text == text; };
  if (std::none_of(unknown_.begin(), unknown_.end(), same)) unknown_.push_back({text, time, line});
}

int Steps::of(const Row& row) {
  if (!from_column_) current_ = infer(row);
  return current_;
}

const CathodeRoles* Steps::cathode(std::size_t step) const {
  const plan::Step& of = plan_.recipe.steps[step];
  for (const CathodeRoles& roles : roles_.cathodes) {
    if (of.cathode && roles.cathode->name.value == of.cathode->value) return &roles;
  }
  return nullptr;
}

bool Steps::powered(const Row& row, std::size_t step) const {
  const CathodeRoles* roles = cathode(step);
  if (roles == nullptr) return false;
  const plan::Step& of = plan_.recipe.steps[step];
  const double setpoint_w = of.power ? of.power->value.value() : roles->supply->power_max.value.value();
  double power_w = row.at(roles->power);
  if (std::isnan(power_w)) power_w = row.at(roles->voltage) * row.at(roles->current);
  return power_w > on_share * setpoint_w;
}

bool Steps::any_power(const Row& row) const {
  const SupplyRoles& glow = roles_.glow;
  if (glow.supply != nullptr && (row.at(glow.current) > on_share * glow.supply->current_max.value.value() ||
                                 row.at(glow.power) > on_share * glow.supply->power_max.value.value())) {
    return true;
  }
  for (std::size_t i = 0; i < plan_.recipe.steps.size(); ++i) {
    if (powered(row, i)) return true;
  }
  return false;
}

// Kinds that show themselves; the others are what is left when these are over.
bool Steps::stands_out(std::size_t step) const {
  const StepKind kind = plan_.recipe.steps[step].kind;
  return kind == StepKind::plasma_clean || kind == StepKind::presputter || kind == StepKind::sputter ||
         kind == StepKind::vent;
}

bool Steps::begins(std::size_t step, const Row& row) const {
  const plan::Step& of = plan_.recipe.steps[step];
  const SupplyRoles& glow = roles_.glow;
  const CathodeRoles* roles = cathode(step);
  const bool shutter = roles != nullptr && roles->open >= 0;
  const double open = shutter ? row.at(roles->open) : no_value;
  switch (of.kind) {
    case StepKind::plasma_clean:
      return row.gas_mol_s > 0 &&
             (glow.supply == nullptr || (glow.current < 0 && glow.power < 0) || any_power(row));
    case StepKind::presputter:
      return powered(row, step) && !(open > 0.5);
    case StepKind::sputter: {
      const bool conditioned = shutter ? open > 0.5 : of.rotation ? row.at(roles_.speed) > 0 : true;
      return powered(row, step) && conditioned;
    }
    case StepKind::vent:
      return row.gas_mol_s <= 0 && !any_power(row) && row.pressure_pa > vent_pa && rises_ >= rise_rows;
    case StepKind::rate_of_rise:
      return row.gas_mol_s <= 0 && !any_power(row) && rises_ >= rise_rows;
    case StepKind::pumpdown:
    case StepKind::hold:
      break;
  }
  // Pumpdown and hold begin where a step that stands out has ended.
  if (current_ < 0) return true;
  const auto now = static_cast<std::size_t>(current_);
  if (!stands_out(now)) return false;
  if (plan_.recipe.steps[now].kind == StepKind::plasma_clean) return row.gas_mol_s <= 0 && !any_power(row);
  const CathodeRoles* was = cathode(now);
  if (powered(row, now)) return false;
  const bool gas_off = row.gas_mol_s <= 0;
  const bool shut = was != nullptr && was->open >= 0 && row.at(was->open) < 0.5;
  return gas_off || (plan_.recipe.steps[now].kind == StepKind::sputter && shut) || unpowered_s_ > off_for_s;
}

int Steps::infer(const Row& row) {
  unpowered_s_ = any_power(row) ? 0 : unpowered_s_ + row.dt_s;
  if (row.pressure_pa < lowest_pa_ || std::isnan(lowest_pa_)) lowest_pa_ = row.pressure_pa;
  rises_ = row.pressure_pa > 1.3 * lowest_pa_ ? rises_ + 1 : 0;
  const auto first = static_cast<std::size_t>(current_ + 1);
  for (std::size_t i = first; i < plan_.recipe.steps.size(); ++i) {
    // A step that shows itself may be reached past others that the log does not show; what is
    // left over comes next or not at all.
    const bool next = i == first;
    if (!next && !stands_out(i)) continue;
    if (!begins(i, row)) continue;
    lowest_pa_ = row.pressure_pa;
    rises_ = 0;
    return static_cast<int>(i);
  }
  return current_;
}

}  // namespace vacuary::run
