// The tables of the recipe file.
#include <fmt/format.h>

#include <algorithm>

#include "plan/kind.hpp"
#include "plan/tables.hpp"

namespace vacuary::plan {
namespace {

const Section<GasFlow>& gas_flow_section() {
  static const Section<GasFlow> section =
      Section<GasFlow>("a gas flow", "Gas let in during a step.")
          .text(&GasFlow::line, "line", Need::required, "a gas line of the chamber, by name")
          .quantity(&GasFlow::flow, "flow", Need::required, domain::positive, "how much of it");
  return section;
}

// Bounds are quantities of whatever kind the channel has.
FieldInfo bound_field(const char* key, const char* help) {
  return Section<Limit>::make(Shape::channel_value, key, Need::optional, help);
}

template <std::optional<double> Limit::*Value, Region Limit::*At>
void set_bound(Limit& limit, const Node& node, const FieldInfo& info, Reader& reader) {
  const auto channel = parse_channel(limit.channel.value);
  if (!channel || is_text(channel->what)) return;  // complained about already
  const auto value = reader.si_value(node, info.key, kind_of(channel->what));
  if (!value) return;
  limit.*Value = value->si;
  limit.*At = node.at;
  limit.unit = value->unit;
}

void check_limit(Limit& limit, const Node& table, Reader& reader) {
  limit.at = table.at;
  if (limit.low_si && limit.high_si && !(*limit.low_si < *limit.high_si)) {
    reader.complain("out-of-domain", limit.low_at, "'low' must be less than 'high'", "correct one of the two",
                    limit.high_at, "'high' is set here");
  }
}

void set_limit_channel(Limit& limit, const Node& node, const FieldInfo& info, Reader& reader) {
  auto given = reader.text(node, info.key);
  if (!given) return;
  const auto channel = reader.channel(*given, info.key);
  if (!channel) return;
  limit.channel = std::move(*given);
  if (is_text(channel->what)) {
    reader.complain("bad-name", node.at,
                    fmt::format("'{}' is text and cannot have limits", limit.channel.value),
                    "limits are for channels that are numbers");
  }
}

const Section<Limit>& limit_section() {
  static const Section<Limit> section =
      Section<Limit>("a limit", "A bound on a channel while the step is under way.")
          .field(Section<Limit>::make(Shape::channel, "channel", Need::required,
                                      "what is watched: \"<device>.<what>\", such as \"chamber.pressure\""),
                 set_limit_channel)
          .field(bound_field("low", "the channel must not be below this"),
                 set_bound<&Limit::low_si, &Limit::low_at>)
          .field(bound_field("high", "the channel must not be above this"),
                 set_bound<&Limit::high_si, &Limit::high_at>)
          .quantity(&Limit::may_last, "may_last", Need::optional, domain::not_negative,
                    "an excursion no longer than this is not a deviation")
          .otherwise("0 s")
          .any_of({"low", "high"})
          .check(check_limit);
  return section;
}

void set_end_kind(End& end, const Node& table, Reader&) {
  end.at = table.at;
  if (end.pressure) end.kind = EndKind::pressure;
  if (end.energy) end.kind = EndKind::energy;
  if (end.turns) end.kind = EndKind::turns;
  if (end.angle) end.kind = EndKind::angle;
  if (end.thickness) end.kind = EndKind::thickness;
}

const Section<End>& end_section() {
  static const Section<End> section =
      Section<End>("an end", "What ends a step: exactly one of these.")
          .quantity(&End::time, "time", domain::positive, "after this time")
          .quantity(&End::pressure, "pressure", domain::positive, "when the chamber reaches this pressure")
          .quantity(&End::energy, "energy", domain::positive, "when the cathode has been given this energy")
          .quantity(&End::turns, "turns", domain::positive, "after this many turns of the optic")
          .quantity(&End::angle, "angle", domain::positive, "after the optic has turned through this angle")
          .quantity(&End::thickness, "thickness", domain::positive,
                    "when film per energy says the film is this thick")
          .one_of()
          .check(set_end_kind);
  return section;
}

FieldInfo kind_field() {
  FieldInfo info = Section<Step>::make(Shape::choice, "kind", Need::required, "what the step does");
  for (const StepKindEntry* entry : step_kinds()) info.choices.push_back({entry->word, entry->help});
  return info;
}

void set_kind(Step& step, const Node& node, const FieldInfo& info, Reader& reader) {
  const auto index = reader.choice(node, info);
  if (!index) return;
  step.kind = step_kinds()[*index]->kind;
  step.kind_at = node.at;
}

void check_end(const Step& step, const Node& end, Reader& reader) {
  const auto& ends = step_kinds()[static_cast<std::size_t>(step.kind)]->ends;
  for (const Entry& entry : end.entries) {
    if (std::find(ends.begin(), ends.end(), entry.key) != ends.end()) continue;
    if (end_section().info().fields.end() ==
        std::find_if(end_section().info().fields.begin(), end_section().info().fields.end(),
                     [&](const FieldInfo& field) { return field.key == entry.key; })) {
      continue;  // an unknown key, complained about already
    }
    std::string may;
    for (const std::string& key : ends) may += (may.empty() ? "" : " or ") + key;
    reader.complain("unknown-key", entry.key_at,
                    fmt::format("a {} step cannot end by {}", name(step.kind), entry.key),
                    fmt::format("it may end by {}", may));
  }
}

void check_step(Step& step, const Node& table, Reader& reader) {
  step.at = table.at;
  if (step.end.time) in_order(reader, *step.end.time, "time", step.longest, "longest", true);
  if (step.settle) in_order(reader, *step.settle, "settle", step.longest, "longest");
  std::vector<const GivenText*> lines;
  std::vector<const GivenText*> pumps;
  for (const GasFlow& flow : step.gas) lines.push_back(&flow.line);
  for (const GivenText& pump : step.pumps) pumps.push_back(&pump);
  unique_names(reader, lines, "flow from gas line");
  unique_names(reader, pumps, "pump");
  if (step.kind_at.source == nullptr) return;
  apply_variants(reader, table, *step_variants().section, step_variants(), name(step.kind));
  const Entry* end = table.find("end");
  if (end != nullptr && end->node.type == Node::Type::table) check_end(step, end->node, reader);
  const auto& ends = step_kinds()[static_cast<std::size_t>(step.kind)]->ends;
  const bool turns = (step.end.turns && std::find(ends.begin(), ends.end(), "turns") != ends.end()) ||
                     (step.end.angle && std::find(ends.begin(), ends.end(), "angle") != ends.end());
  if (turns && table.find("rotation") == nullptr && !reader.broken) {
    reader.complain("missing-key", step.end.at, "a step that ends by turning needs 'rotation'",
                    "add a line such as rotation = \"0.5 rpm\"");
  }
}

const Section<Step>& step_section() {
  static const Section<Step> section =
      Section<Step>("a step", "One step of the recipe; steps run in the order in which they stand.")
          .text(&Step::name, "name", Need::required, "unique in the recipe")
          .field(kind_field(), set_kind)
          .table(&Step::end, "end", Need::required, end_section(), "what ends the step")
          .quantity(&Step::longest, "longest", Need::required, domain::positive, "the longest it may take")
          .quantity(&Step::pressure, "pressure", domain::positive, "wanted working pressure")
          .tables(&Step::gas, "gas", Need::optional, gas_flow_section(), "gas let in")
          .quantity(&Step::throttle, "throttle", domain::positive_share, "share of the full pumping speed")
          .texts(&Step::pumps, "pumps", "pumps in use, by name, in the order in which they take over")
          .text(&Step::cathode, "cathode", "the cathode, by name")
          .quantity(&Step::power, "power", domain::positive, "power of the cathode")
          .quantity(&Step::ramp, "ramp", domain::not_negative,
                    "rise of the power at the step's start, inside the step")
          .quantity(&Step::voltage, "voltage", domain::positive, "voltage of the glow")
          .quantity(&Step::current, "current", domain::positive, "current of the glow")
          .quantity(&Step::rotation, "rotation", domain::positive, "speed of the optic")
          .quantity(&Step::settled, "settled", domain::positive,
                    "the target is conditioned when its voltage moves less than this")
          .quantity(&Step::dew_point, "dew_point", domain::absolute, "of the room; the optic must be warmer")
          .quantity(&Step::settle, "settle", domain::not_negative,
                    "limits apply after this long into the step")
          .tables(&Step::limits, "limits", Need::optional, limit_section(), "bounds on channels")
          .check(check_step);
  return section;
}

void set_sign(Recipe& recipe, const Node& node, const FieldInfo& info, Reader& reader) {
  if (!reader.is_list(node, info.key)) return;
  for (const Node& item : node.items) {
    if (auto role = reader.text(item, info.key)) recipe.sign.push_back({std::move(*role)});
  }
}

void check_recipe(Recipe& recipe, const Node&, Reader& reader) {
  unique(reader, recipe.steps, &Step::name, "step");
  unique(reader, recipe.sign, &SigningRole::role, "role");
}

}  // namespace

const Variants& step_variants() {
  static const Variants variants = [] {
    Variants made{&step_section().info(), "kind", {}};
    for (const StepKindEntry* entry : step_kinds()) {
      made.words.push_back({entry->word, entry->must, entry->may, entry->ends});
    }
    return made;
  }();
  return variants;
}

const Section<Recipe>& recipe_section() {
  static const Section<Recipe> section =
      Section<Recipe>("a recipe", "What is done to an optic in a chamber, step by step.")
          .format()
          .text(&Recipe::name, "name", Need::required, "what the plant calls it")
          .text(&Recipe::revision, "revision", Need::required, "revision of the recipe")
          .text(&Recipe::author, "author", Need::required, "who answers for it")
          .text(&Recipe::chamber_path, "chamber", Need::required, "the chamber file, relative to this one")
          .text(&Recipe::optic_path, "optic",
                "the optic file, relative to this one; needed when a step lays film")
          .quantity(&Recipe::downtime, "downtime", domain::positive,
                    "window into which the whole run must fit")
          .quantity(&Recipe::clean_to_film_max, "clean_to_film_max", domain::positive,
                    "longest time from the end of the clean to the film")
          .quantity(&Recipe::water_per_metal_max, "water_per_metal_max", domain::positive,
                    "most water molecules per metal atom that arrive, averaged over a turn")
          .quantity(&Recipe::angle_at_mark, "angle_at_mark", Need::optional, domain::any,
                    "what optic.angle reads when the optic's fiducial mark stands under the cathode's line")
          .otherwise("0 deg")
          .quantity(&Recipe::angle_at_mark_uncertainty, "angle_at_mark_uncertainty", Need::optional,
                    domain::not_negative, "its standard uncertainty: how well the optic was set on its drive")
          .otherwise("1 deg")
          .field(Section<Recipe>::make(Shape::texts, "sign", Need::optional, "roles that must sign"),
                 set_sign)
          .choice(&Recipe::sign_order, "sign_order", Need::optional,
                  {{"listed", "each only after those before it in `sign`"}, {"any", "as they come"}},
                  "order in which they sign")
          .otherwise("listed")
          .tables(&Recipe::steps, "step", Need::required, step_section(), "the steps, in order")
          .at_least(1)
          .check(check_recipe);
  return section;
}

}  // namespace vacuary::plan
