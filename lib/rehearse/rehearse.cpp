#include "rehearse/rehearse.hpp"

#include <algorithm>

#include "rehearse/instruments.hpp"
#include "rehearse/machine.hpp"
#include "rehearse/truth.hpp"

namespace vacuary::rehearse {

namespace {

constexpr std::int64_t fine_ms = 100;     // while something burns or turns
constexpr std::int64_t coarse_ms = 1000;  // else

std::int64_t period_ms(const plan::ChannelMap* map, plan::StepKind kind) {
  const auto ms = [](Duration d) {
    return std::max<std::int64_t>(fine_ms, static_cast<std::int64_t>(d.value() * 1000 + 0.5));
  };
  if (map != nullptr) {
    for (const plan::ChannelMap::StepPeriod& step : map->step_periods) {
      if (step.kind == kind) {
        return ms(step.period);
      }
    }
    if (map->period) {
      return ms(*map->period);
    }
  }
  switch (kind) {
    case plan::StepKind::plasma_clean:
      return 5000;
    case plan::StepKind::presputter:
    case plan::StepKind::sputter:
      return 1000;
    default:
      return 30000;
  }
}

// One run of the machine under the given faults, with or without instruments looking on.
class Run {
 public:
  Run(const plan::Plan& plan, const Options& options, const Plant& plant, Kernels& kernels,
      std::vector<const Placed*> faults)
      : plan_(plan),
        options_(options),
        plant_(plant),
        faults_(std::move(faults)),
        machine_(plan, plant, kernels, options.seed),
        begin_ms_(faults_.size()) {}

  void play(std::string* log) {
    std::optional<Instruments> instruments;
    if (log != nullptr) {
      instruments.emplace(plan_, plant_, options_.seed);
      *log = instruments->header();
    }
    last_row_ms_ = -1;
    while (!machine_.finished()) {
      const Disturbance d = disturbance();
      if (instruments) {
        instruments->observe(machine_, d);
        *log += row_if_due(*instruments, d);
      }
      const std::int64_t ms = machine_.state().ms;
      machine_.tick(machine_.plasma() ? fine_ms : coarse_ms - ms % coarse_ms, d);
    }
  }

  [[nodiscard]] const Machine& machine() const { return machine_; }
  [[nodiscard]] const std::vector<std::optional<std::int64_t>>& begin_ms() const { return begin_ms_; }

 private:
  [[nodiscard]] std::string row_if_due(Instruments& instruments, const Disturbance& d) {
    const State& state = machine_.state();
    const std::int64_t period = period_ms(options_.map, plan_.recipe.steps[state.step].kind);
    if (last_row_ms_ >= 0 && state.ms < (last_row_ms_ / period + 1) * period) {
      return "";
    }
    last_row_ms_ = state.ms;
    if (d.no_rows) {
      return "";
    }
    const std::int64_t clock_ns = static_cast<std::int64_t>(d.clock_s * 1000) * 1000000;
    const std::int64_t stamp_ns = options_.start.ns + state.ms * 1000000 + clock_ns;
    const bool on_change = options_.map != nullptr && options_.map->logging == plan::Logging::on_change;
    return on_change ? instruments.row_of_changes(stamp_ns) : instruments.row(stamp_ns);
  }

  [[nodiscard]] Disturbance disturbance() {
    Disturbance d = undisturbed(plan_.chamber);
    const State& state = machine_.state();
    const double turned_rad = state.speed_rad_s > 0 ? state.optic_rad : 0;
    for (std::size_t i = 0; i < faults_.size(); ++i) {
      const Placed& fault = *faults_[i];
      if (state.step < fault.step) {
        continue;
      }
      const std::int64_t begin =
          machine_.steps()[fault.step].start_ms + static_cast<std::int64_t>(fault["at"] * 1000);
      if (state.ms >= begin) {
        begin_ms_[i] = begin;
        fault.act(fault, static_cast<double>(state.ms - begin) / 1000, turned_rad, d);
      }
    }
    return d;
  }

  const plan::Plan& plan_;
  const Options& options_;
  const Plant& plant_;
  std::vector<const Placed*> faults_;
  Machine machine_;
  std::vector<std::optional<std::int64_t>> begin_ms_;
  std::int64_t last_row_ms_ = -1;
};

std::vector<const Placed*> all_but(const std::vector<Placed>& faults, const Placed* left_out) {
  std::vector<const Placed*> kept;
  for (const Placed& fault : faults) {
    if (&fault != left_out) {
      kept.push_back(&fault);
    }
  }
  return kept;
}

bool lays_film(const plan::Plan& plan) {
  const auto& steps = plan.recipe.steps;
  return plan.optic && std::any_of(steps.begin(), steps.end(), [](const plan::Step& step) {
           return step.kind == plan::StepKind::sputter;
         });
}

}  // namespace

Result<Rehearsal> rehearse(const plan::Plan& plan, const Options& options) {
  Result<std::vector<Placed>> placed = place(options.faults, plan);
  if (!placed.ok()) {
    return placed.diagnostics();
  }
  const std::vector<Placed>& faults = placed.value();
  const Plant plant = draw_plant(plan, options.seed, options.scatter_plant);
  Kernels kernels(plan, plant);
  Rehearsal rehearsal;
  Run run(plan, options, plant, kernels, all_but(faults, nullptr));
  run.play(&rehearsal.log_csv);

  Truth truth{
      &plan, &options, &plant, lays_film(plan) ? &run.machine().film() : nullptr, run.machine().steps(), {}};
  const std::int64_t end_ms = run.machine().state().ms;
  for (std::size_t i = 0; i < faults.size(); ++i) {
    Event event;
    event.fault = &faults[i];
    event.start_ms = run.begin_ms()[i];
    if (event.start_ms) {
      const auto lasts = faults[i].number.find("lasts");
      const bool ends = lasts != faults[i].number.end();
      event.end_ms =
          ends ? std::min(end_ms, *event.start_ms + static_cast<std::int64_t>(lasts->second * 1000)) : end_ms;
    }
    // An instrument that leads the controller astray may touch the film too; a logger cannot.
    if (options.effects && truth.film != nullptr && faults[i].kind->nature != Nature::log) {
      Run without(plan, options, plant, kernels, all_but(faults, &faults[i]));
      without.play(nullptr);
      event.change = truth.film->minus(without.machine().film());
    }
    truth.events.push_back(std::move(event));
  }
  rehearsal.truth_json = to_json(truth);
  return rehearsal;
}

}  // namespace vacuary::rehearse
