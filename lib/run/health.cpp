#include "run/health.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace vacuary::run {
namespace {

constexpr double leak_margin = 1.5;    // times the leak limit
constexpr double growing = 1.10;       // pressure at the same flow, end over start
constexpr double growth_sure = 4;      // standard uncertainties
constexpr double unusual_sure = 2;     // standard deviations of what is normal ...
constexpr double unusual_least = 1.5;  // ... and at least this factor

const Unit& mbar() { return unit("mbar", Kind::pressure); }
const Unit& litres() { return unit("L/s", Kind::pumping_speed); }

std::string times(double factor) { return fmt::format("{:.2g} times", factor); }

class Judge {
 public:
  Judge(const Scene& scene, const VacuumWatch::Seen& seen, VacuumHealth& health, Findings& findings)
      : scene_(scene), chamber_(scene.plan.chamber), seen_(seen), health_(health), findings_(findings) {}

  void judge() {
    if (seen_.base_step < 0) return;
    describe_walls();
    compare();
    leak();
    shaft_seal();
    const bool pump = weak_pump();
    wet_walls(pump);
    rises();
    if (health_.verdicts.empty()) nothing_wrong();
  }

 private:
  [[nodiscard]] const plan::History* history() const {
    return chamber_.history ? &*chamber_.history : nullptr;
  }
  [[nodiscard]] double rt() const {
    return constants::gas_j_per_mol_k * thermodynamic(chamber_.gas_temperature.value).value();
  }
  [[nodiscard]] double speed(const char* gas) const {
    return model::high_vacuum_speed(chamber_, gas).value();
  }
  [[nodiscard]] std::string flow(double mol_s) const {
    const Unit& shown = chamber_.leak_limit ? chamber_.leak_limit->unit : unit("mbar L/s", Kind::flow);
    return flow_words(scene_, mol_s, shown);
  }
  [[nodiscard]] double planned_1h_pa() const {
    const double water = speed("H2O");
    return water > 0 ? throughput(model::outgassing(chamber_, Duration::from_value(3600)),
                                  chamber_.gas_temperature.value)
                               .pa_m3_per_s() /
                           water
                     : no_value;
  }

  void describe_walls() {
    if (!seen_.fall || !(speed("H2O") > 0)) return;
    const PressureFall::Inflow& f = *seen_.fall;
    const double planned = planned_1h_pa();
    // The width of what is believed is taken as two standard uncertainties either way; gauge and speed on
    // top.
    const double spread = (f.walls_1h_most_pa - f.walls_1h_least_pa) / 4 / f.walls_1h_pa;
    const double u = std::hypot(spread, gauge_uncertainty(f.walls_1h_pa), model::speed_uncertainty);
    WallLoad walls;
    const double mol_s = f.walls_1h_pa * speed("H2O") / rt();
    walls.at_1h = {MolarFlow::from_value(mol_s), MolarFlow::from_value(mol_s * u)};
    walls.over_plan = {Ratio::of(f.walls_1h_pa / planned), Ratio::of(f.walls_1h_pa / planned * u)};
    const double from = model::outgassing(chamber_, Duration::from_value(f.from_s)).value();
    const double to = model::outgassing(chamber_, Duration::from_value(f.to_s)).value();
    walls.exponent = Ratio::of(f.exponent * std::log(from / to) / std::log(f.to_s / f.from_s));
    walls.floor = Pressure::from_value(std::fmax(f.best_pa, 0.0));
    walls.floor_at_least = Pressure::from_value(std::fmax(f.least_pa, 0.0));
    if (f.opened_s) walls.opened = Duration::from_value(*f.opened_s);
    health_.walls = walls;
  }

  [[nodiscard]] double gauge_uncertainty(double pressure_pa) const {
    const auto u = model::gauge_uncertainty(chamber_, Pressure::from_value(pressure_pa));
    return std::hypot(u ? u->relative.value() : 0, model::gas_factor_uncertainty);
  }

  // ------------------------------------------------------------ against what is normal

  Comparison& against(const std::string& what, double found, double normal, double u, bool from_history,
                      std::string found_said, std::string normal_said) {
    Comparison c;
    c.what = what;
    c.found = std::move(found_said);
    c.normal = std::move(normal_said);
    c.ratio = {Ratio::of(found / normal), Ratio::of(found / normal * u)};
    c.from_history = from_history;
    // Known to a factor: on the logarithm.
    const double off = std::abs(std::log(found / normal));
    c.unusual = off > unusual_sure * u && off > std::log(unusual_least);
    health_.against_normal.push_back(std::move(c));
    return health_.against_normal.back();
  }

  void compare() {
    const plan::History* h = history();
    const auto pa = [](double p) { return brief(Pressure::from_value(p), mbar(), 2); };
    if (h != nullptr && h->pressure_1h && seen_.pressure_1h_pa > 0) {
      const double u = std::hypot(h->spread.value.value(), 0.02);
      against("pressure after 1 h", seen_.pressure_1h_pa, h->pressure_1h->value.value(), u, true,
              pa(seen_.pressure_1h_pa), pa(h->pressure_1h->value.value()));
    } else if (health_.walls) {
      const double found = health_.walls->over_plan.value.value() * planned_1h_pa();
      const double u =
          std::hypot(model::outgassing_uncertainty, health_.walls->over_plan.standard_uncertainty.value() /
                                                        health_.walls->over_plan.value.value());
      against("walls' share of the pressure at 1 h", found, planned_1h_pa(), u, false, pa(found),
              pa(planned_1h_pa()));
    }
    if (h != nullptr && h->exponent && !health_.pumpdowns.empty()) {
      const double n = -health_.pumpdowns.back().exponent.value.value();
      against("exponent of the fall", n, h->exponent->value.value(), h->spread.value.value(), true,
              fmt::format("{:.2f}", n), fmt::format("{:.2f}", h->exponent->value.value()));
    }
    if (h != nullptr && h->base_time && h->base_pressure && seen_.base_s > 0) {
      against(fmt::format("time to {}", brief(h->base_pressure->value, h->base_pressure->unit)), seen_.base_s,
              h->base_time->value.value(), h->spread.value.value(), true, duration_words(seen_.base_s),
              duration_words(h->base_time->value.value()));
    }
    if (h != nullptr && h->rise && !health_.rises.empty()) {
      const Estimate<PressureRate>& rise = health_.rises.back().rate;
      const Unit& shown = h->rise->unit;
      if (rise.value.value() > 0)
        against("rate of rise", rise.value.value(), h->rise->value.value(), h->spread.value.value(), true,
                brief(rise.value, shown, 2), brief(h->rise->value, shown, 2));
    }
    for (const EffectiveSpeed& s : health_.speeds) {
      if (seen_.plateau_s > 0 && !s.high_vacuum) continue;  // water boiled: its gas is not in the flow
      const double u = std::hypot(s.found.standard_uncertainty.value() / s.found.value.value(),
                                  s.expected.standard_uncertainty.value() / s.expected.value.value());
      Comparison& c = against(fmt::format("pumping speed in '{}' ({})", s.step, s.how), s.found.value.value(),
                              s.expected.value.value(), u, h != nullptr && h->argon_speed && s.high_vacuum,
                              brief(s.found.value, litres(), 3), brief(s.expected.value, litres(), 3));
      // A pump is known better than walls are: no least factor of one and a half.
      c.unusual = std::abs(std::log(c.ratio.value.value())) > unusual_sure * u;
    }
  }

  // ------------------------------------------------------------ one fault each

  HealthVerdict& verdict(const char* what, std::string said, std::string advice) {
    health_.verdicts.push_back({what, std::move(said), {}, std::move(advice)});
    return health_.verdicts.back();
  }

  void leak() {
    if (!seen_.fall || !chamber_.leak_limit) return;
    const double per_pa = speed("N2") / rt();
    const double limit = chamber_.leak_limit->value.value();
    if (!(seen_.fall->least_pa * per_pa > leak_margin * limit)) return;
    HealthVerdict& v = verdict(
        "real-leak",
        fmt::format("A real leak of about {}, at least {}; the limit is {}.",
                    flow(seen_.fall->best_pa * per_pa), flow(seen_.fall->least_pa * per_pa), flow(limit)),
        "Search with helium at the flange opened last, the shaft seal, the gas lines.");
    v.evidence.push_back(
        fmt::format("the fall flattens towards {}, more than any outgassing of this vessel explains",
                    brief(Pressure::from_value(seen_.fall->best_pa), mbar(), 2)));
    if (seen_.fall->opened_s) {
      v.evidence.push_back(fmt::format("it begins about {} after pumping start: outgassing only falls",
                                       duration_words(*seen_.fall->opened_s)));
    }
    if (health_.walls) {
      v.evidence.push_back(fmt::format("the walls themselves give {} what the chamber file says",
                                       times(health_.walls->over_plan.value.value())));
    }
    for (const RateOfRise& rise : health_.rises)
      v.evidence.push_back(fmt::format("the rise in '{}' is {}", rise.step, rise.shape));
  }

  void shaft_seal() {
    for (const TurnPulse& p : health_.pulses) {
      HealthVerdict& v = verdict(
          "shaft-seal",
          fmt::format("The shaft seal leaks once per turn: about {} at its worst, near optic.angle {:.0f} "
                      "degrees.",
                      flow(p.inflow.value.value()), p.at.value() * 57.29577951308232),
          "Renew or regrease the shaft seal, and pump its interspace; measure the reflectance where it "
          "leaked.");
      v.evidence.push_back(
          fmt::format("in '{}' the pressure at the same flow goes up by {:.0f} % at the same "
                      "angle in each of {:.0f} turns",
                      p.step, 100 * p.height.value(), p.turns.value()));
      v.evidence.push_back(p.standing ? fmt::format("with the optic at rest it is {:.2f} times that between "
                                                    "the pulses: no leak that is always there",
                                                    p.standing->value())
                                      : std::string("the log has no stretch with this gas and the optic at "
                                                    "rest to hold it against"));
    }
  }

  static double short_of(const EffectiveSpeed& s) { return s.found.value.value() / s.expected.value.value(); }

  bool weak_pump() {
    const EffectiveSpeed* weakest = nullptr;
    const EffectiveSpeed* warming = nullptr;
    for (const EffectiveSpeed& s : health_.speeds) {
      if (seen_.plateau_s > 0 && !s.high_vacuum) continue;  // water holds the pressure up, not the pump
      const double u = std::hypot(s.found.standard_uncertainty.value() / s.found.value.value(),
                                  s.expected.standard_uncertainty.value() / s.expected.value.value());
      if (-std::log(short_of(s)) > unusual_sure * u &&
          (weakest == nullptr || short_of(s) < short_of(*weakest)))
        weakest = &s;
      if (s.high_vacuum && s.growth && s.growth->value.value() > growing &&
          s.growth->value.value() - 1 > growth_sure * s.growth->standard_uncertainty.value() &&
          (warming == nullptr || s.growth->value > warming->growth->value))
        warming = &s;
    }
    if (warming != nullptr) return tell_warming(*warming);
    if (weakest == nullptr) return false;
    HealthVerdict& v = verdict(
        "weak-pump",
        fmt::format("The pumps take {} where {} is expected.",
                    with_uncertainty(weakest->found.value,
                                     PumpingSpeed(2.0 * weakest->found.standard_uncertainty), litres()),
                    brief(weakest->expected.value, litres(), 3)),
        weakest->high_vacuum
            ? "Look at the temperature of the cold heads and at the valves and the throttle; "
              "regenerate."
            : "Look at the roughing pump, its booster and the valves of its line.");
    v.evidence.push_back(fmt::format("in '{}', from the {}", weakest->step, weakest->how));
    if (weakest->growth && std::abs(std::log(weakest->growth->value.value())) < std::log(growing))
      v.evidence.push_back(
          fmt::format("the pressure at the same flow is steady there ({:.2f} times from "
                      "start to end)",
                      weakest->growth->value.value()));
    return weakest->high_vacuum;
  }

  bool tell_warming(const EffectiveSpeed& s) {
    HealthVerdict& v = verdict(
        "warming-pump",
        fmt::format("A high-vacuum pump is losing speed: at the same flow the pressure grew {} in '{}'.",
                    times(s.growth->value.value()), s.step),
        "Look at the temperature of the second stages; close the valve of the pump that warms before it lets "
        "go, and regenerate.");
    v.evidence.push_back(fmt::format("on average the pumps took {} of {} expected",
                                     brief(s.found.value, litres(), 3),
                                     brief(s.expected.value, litres(), 3)));
    return short_of(s) < 0.8;
  }

  [[nodiscard]] const Comparison* walls_level() const {
    for (const Comparison& c : health_.against_normal) {
      if (c.what.find("1 h") != std::string::npos) return &c;
    }
    return nullptr;
  }
  [[nodiscard]] const EffectiveSpeed* argon() const {
    for (const EffectiveSpeed& s : health_.speeds) {
      if (s.high_vacuum) return &s;
    }
    return nullptr;
  }

  void wet_walls(bool pump_is_weak) {
    const Comparison* level = walls_level();
    const bool high = level != nullptr && level->unusual && level->ratio.value.value() > 1;
    if (!high && !(seen_.plateau_s > 0)) return;
    const EffectiveSpeed* pump = argon();
    // What a weak pump leaves over.
    const double left = high && pump != nullptr ? level->ratio.value.value() * short_of(*pump) : 0;
    if (high && !(seen_.plateau_s > 0)) {
      if (pump == nullptr) return either_wet_or_weak(*level);
      if (pump_is_weak && left < unusual_least) return;  // the pump explains it
      tell_wet(*level);
    }
    HealthVerdict& v =
        verdict("wet-walls", "Something wet was closed in: water from walls or parts.",
                "Dry the optic and its cell longer before closing; warm the walls and vent with "
                "dry gas.");
    if (seen_.plateau_s > 0)
      v.evidence.push_back(
          fmt::format("the pressure stood where water boils for {}", duration_words(seen_.plateau_s)));
    if (high) {
      v.evidence.push_back(fmt::format("{}: {} where {} is normal, {}", level->what, level->found,
                                       level->normal, times(level->ratio.value.value())));
    }
    if (high && health_.walls)
      v.evidence.push_back(fmt::format("it falls as t^-{:.2f} without flattening: no leak does",
                                       health_.walls->exponent.value()));
    if (pump != nullptr)
      v.evidence.push_back(fmt::format("the pumps take {} of argon where {} is expected",
                                       brief(pump->found.value, litres(), 3),
                                       brief(pump->expected.value, litres(), 3)));
    for (const RateOfRise& rise : health_.rises)
      v.evidence.push_back(fmt::format("the rise in '{}' is {}", rise.step, rise.shape));
  }

  void either_wet_or_weak(const Comparison& level) {
    HealthVerdict& v = verdict(
        "cannot-tell",
        fmt::format("{}: {} where {} is normal. Wet walls and a weak pump look alike in it.", level.what,
                    level.found, level.normal),
        "Let argon in at a known flow: if it stands where it always stands, the pumps are well and the walls "
        "are wet.");
    v.evidence.emplace_back("no step of this log lets gas into the high-vacuum pumps at a known flow");
  }

  // The deviation for wet walls that show no plateau; one with a plateau is told by that.
  void tell_wet(const Comparison& level) {
    Finding finding;
    Deviation& d = finding.deviation;
    const plan::Step& step = *scene_.step(seen_.base_step);
    d.rule = "wet-load";
    d.step = step.name.value;
    d.channel = "chamber.pressure";
    d.start = d.end = seen_.zero.value_or(Instant{});
    if (health_.walls) d.end.ns += static_cast<std::int64_t>(seen_.fall->to_s * 1e9);
    d.effect = fmt::format(
        "{}: {} where {} is normal, while the pumps take argon as they should: wet walls. More water in the "
        "film, which costs reflectance, not thickness.",
        level.what, level.found, level.normal);
    d.advice =
        "Dry longer before closing, or pump longer before the film; measure the reflectance of the witness.";
    finding.covers = {"rule:base-pressure-late", "rule:step-ended-early", "rule:step-too-long"};
    finding.covers_from = d.start;
    finding.covers_to = d.end;
    findings_.add(std::move(finding));
  }

  void rises() {
    for (const RateOfRise& rise : health_.rises) {
      const double limit = chamber_.leak_limit ? chamber_.leak_limit->value.value() : 0;
      if (!(limit > 0) || !(rise.steady.value.value() > 0) || !(rise.leak_at_most.value.value() > limit))
        continue;
      if (has("real-leak") || has("wet-walls")) continue;
      HealthVerdict& v = verdict(
          "cannot-tell",
          fmt::format("The rise in '{}' would be a leak of {} if all of it were air; the limit is {}.",
                      rise.step, flow(rise.leak_at_most.value.value()), flow(limit)),
          "Repeat the test hours later: a leak stays, water falls.");
      v.evidence.push_back(rise.reading);
      if (health_.rises_together) together(*health_.rises_together, v);
      return;
    }
  }

  void together(const RisesTogether& both, HealthVerdict& v) {
    const std::string bound = flow(both.leak_at_most.value());
    if (both.origin == "walls") {
      v.what = "normal";
      v.said = fmt::format(
          "Two rises together: most of the second is gas from the walls; a leak is at most {}.", bound);
      v.advice.clear();
    } else if (both.origin == "leak") {
      v.what = "real-leak";
      v.said = fmt::format("Two rises together: a real leak of about {}, at most {}.",
                           flow(both.leak.value.value()), bound);
      v.advice = "Search with helium at the flange opened last, the shaft seal, the gas lines.";
    } else {
      v.evidence.push_back(
          fmt::format("the rises in '{}' and '{}' together leave a leak of up to {}: they "
                      "cannot tell",
                      both.first, both.second, bound));
    }
  }

  [[nodiscard]] bool has(const char* what) const {
    return std::any_of(health_.verdicts.begin(), health_.verdicts.end(),
                       [&](const HealthVerdict& v) { return v.what == what; });
  }

  void nothing_wrong() {
    const auto unusual = std::find_if(health_.against_normal.begin(), health_.against_normal.end(),
                                      [](const Comparison& c) { return c.unusual && c.from_history; });
    if (unusual != health_.against_normal.end()) {
      verdict("cannot-tell",
              fmt::format("{}: {} where {} is normal, and nothing in the log says why.", unusual->what,
                          unusual->found, unusual->normal),
              "Take a rate of rise before the next run; two of them hours apart tell a leak from water.");
      return;
    }
    if (health_.against_normal.empty()) {
      verdict("cannot-tell", "Nothing in the log can be held against what is normal.",
              "Log a gauge that reads high vacuum from the start of pumping on.");
      return;
    }
    HealthVerdict& v =
        verdict("normal", "Pumps, walls and seals are as they should be, as far as this log shows.", "");
    v.evidence.push_back(
        fmt::format("{} of {} figures lie where they should, see the table",
                    std::count_if(health_.against_normal.begin(), health_.against_normal.end(),
                                  [](const Comparison& c) { return !c.unusual; }),
                    health_.against_normal.size()));
    if (!seen_.fall || !chamber_.leak_limit) return;
    const double per_pa = speed("N2") / rt();
    v.evidence.push_back(seen_.fall->least_pa > 0
                             ? fmt::format("what does not fall would be a leak of {}; the limit is {}",
                                           flow(seen_.fall->best_pa * per_pa),
                                           flow(chamber_.leak_limit->value.value()))
                             : std::string("the walls alone explain the fall: no leak is seen"));
  }

  const Scene& scene_;
  const plan::Chamber& chamber_;
  const VacuumWatch::Seen& seen_;

  VacuumHealth& health_;
  Findings& findings_;
};

}  // namespace

void judge_health(const Scene& scene, const VacuumWatch::Seen& seen, VacuumHealth& health,
                  Findings& findings) {
  Judge(scene, seen, health, findings).judge();
}

}  // namespace vacuary::run
