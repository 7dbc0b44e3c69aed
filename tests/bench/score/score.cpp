// How honest are our answers? Rehearses runs, lets `run` account for their logs, and holds what it
// says against the truth that it never saw. What is printed, and what counts: README.md beside this.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <mutex>
#include <thread>

#include "cases.hpp"
#include "judge.hpp"

namespace {

using namespace vacuary;
namespace fs = std::filesystem;

constexpr const char* usage =
    "usage: score [--clean N] [--seeds M] [--fault NAME]... [--sizes] [--quick | --few] [--said]\n"
    "             [--first SEED] [--threads T] [--recipe FILE --channels FILE]\n"
    "  --clean N     clean runs (100)\n"
    "  --seeds M     runs of each fault and size (10)\n"
    "  --fault NAME  only this row of the tables; repeat for several ('none' for clean runs alone)\n"
    "  --sizes       also the smallest size that is found nine times in ten\n"
    "  --quick       20 clean runs, 3 of each fault, no sizes\n"
    "  --few         2 clean runs, each fault once, several in a run where they go together\n"
    "  --said        also everything that was said at the time of a fault\n"
    "  --first SEED  seed of the first run (1001)\n"
    "  --threads T   (2)\n"
    "exit status: 0 all as wanted, 1 something falls short, 2 could not be done\n";

struct Arguments {
  int clean = 100, seeds = 10, first = 1001, threads = 2;
  bool sizes = false, said = false, few = false;
  std::vector<std::string> only;
  std::string recipe, channels;

  [[nodiscard]] bool chosen(const std::string& name) const {
    return only.empty() || std::find(only.begin(), only.end(), name) != only.end();
  }
  // With --few a fault that one of the runs with several has in it needs none of its own.
  [[nodiscard]] bool needed(const score::Case& one) const {
    const auto has_it = [&](const score::Together& run) {
      return std::any_of(run.faults.begin(), run.faults.end(), [&](const std::string& fault) {
        return fault.substr(0, fault.find(':')) == one.name;
      });
    };
    return !few || std::none_of(score::together().begin(), score::together().end(), has_it);
  }
};

bool read(int argc, char** argv, Arguments& out) {
  const std::string root = VACUARY_SOURCE_DIR;
  out.recipe = root + "/recipes/tarn-ridge/aluminium-90nm.toml";
  out.channels = root + "/recipes/tarn-ridge/channels.toml";
  const std::map<std::string, int*> numbers = {
      {"--clean", &out.clean}, {"--seeds", &out.seeds}, {"--first", &out.first}, {"--threads", &out.threads}};
  for (int i = 1; i < argc; ++i) {
    const std::string option = argv[i];
    if (option == "--sizes") {
      out.sizes = true;
    } else if (option == "--said") {
      out.said = true;
    } else if (option == "--quick") {
      out.clean = 20;
      out.seeds = 3;
    } else if (option == "--few") {
      out.few = true;
      out.clean = 2;
      out.seeds = 1;
    } else if (i + 1 == argc) {
      return false;
    } else if (const auto number = numbers.find(option); number != numbers.end()) {
      *number->second = std::max(0, std::atoi(argv[++i]));
    } else if (option == "--fault") {
      out.only.emplace_back(argv[++i]);
    } else if (option == "--recipe") {
      out.recipe = argv[++i];
    } else if (option == "--channels") {
      out.channels = argv[++i];
    } else {
      return false;
    }
  }
  return true;
}

// All runs of one line of the table.
struct Job {
  std::string label;
  std::vector<std::string> faults;
  int runs = 0;
  score::Tally tally = {};
};

class Bench {
 public:
  Bench(plan::Plan plan, plan::ChannelMap map, const Arguments& arguments)
      : plan_(std::move(plan)), map_(std::move(map)), first_(arguments.first), threads_(arguments.threads) {}

  // Seeds are the same for every line; the order of the sums does not depend on the threads.
  void run(std::vector<Job>& jobs) const {
    std::vector<std::pair<std::size_t, int>> list;
    for (std::size_t j = 0; j < jobs.size(); ++j) {
      for (int i = 0; i < jobs[j].runs; ++i) {
        list.emplace_back(j, i);
      }
    }
    std::vector<score::Verdict> verdicts(list.size());
    std::atomic<std::size_t> next{0};
    const auto work = [&](int worker) {
      const fs::path scratch =
          fs::temp_directory_path() / fmt::format("vacuary-score-{}-{}.csv", ::getpid(), worker);
      for (std::size_t k = next++; k < list.size(); k = next++) {
        const auto seed = static_cast<std::uint64_t>(first_ + list[k].second);
        verdicts[k] = score::judge(plan_, map_, seed, jobs[list[k].first].faults, scratch);
      }
      std::error_code ignored;
      fs::remove(scratch, ignored);
    };
    std::vector<std::thread> workers;
    for (int w = 1; w < threads_; ++w) {
      workers.emplace_back(work, w);
    }
    work(0);
    for (std::thread& worker : workers) {
      worker.join();
    }
    for (std::size_t k = 0; k < list.size(); ++k) {
      jobs[list[k].first].tally.add(verdicts[k]);
      alarmed(jobs[list[k].first], first_ + list[k].second, verdicts[k]);
    }
  }

 private:
  static void alarmed(const Job& job, int seed, const score::Verdict& verdict) {
    for (const auto& [rule, count] : verdict.false_alarms) {
      fmt::print(stderr, "false alarm: {} x {} in '{}', seed {}\n", rule, count, job.label, seed);
    }
  }

  plan::Plan plan_;
  plan::ChannelMap map_;
  int first_, threads_;
};

std::string list(const std::map<std::string, int>& counts) {
  std::string text;
  for (const auto& [name, count] : counts) {
    text += fmt::format("{}{} x {}", text.empty() ? "" : ", ", name, count);
  }
  return text;
}

// Where the number of covered runs should lie: 95.45 % (k = 2) within 2.75 standard deviations of
// counting, which is 935 to 972 of 1000.
std::pair<int, int> honest(int runs) {
  const double p = 0.9545;
  const double spread = 2.75 * std::sqrt(p * (1 - p) * runs);
  return {static_cast<int>(std::ceil(p * runs - spread)),
          std::min(runs, static_cast<int>(std::floor(p * runs + spread)))};
}

void print_head(const char* first) {
  fmt::print("{:<22}{:>6}{:>9}{:>10}{:>8}{:>8}{:>8}{:>9}{:>9}{:>9}\n", first, "runs", "claimed", "covered",
             "U/nm", "rms/nm", "bias/nm", "found", "misled", "alarms");
}

void print_line(const Job& job) {
  const score::Tally& t = job.tally;
  const double n = std::max(1, t.claimed);
  const std::string covered = t.claimed > 0 ? fmt::format("{:.1f} %", 100.0 * t.covered / n) : "-";
  const std::string found = t.faults > 0 ? fmt::format("{:.0f} %", 100 * t.found_share()) : "-";
  fmt::print("{:<22}{:>6}{:>7.0f} %{:>10}{:>8.2f}{:>8.2f}{:>8.2f}{:>9}{:>9}{:>9}\n", job.label, t.runs,
             100.0 * t.claimed / std::max(1, t.runs), covered, t.half_width_nm / n,
             std::sqrt(t.error2_nm2 / n), t.error_nm / n, found, t.misled, t.false_alarms);
  for (const std::string& problem : t.problems) {
    fmt::print("    could not be judged: {}\n", problem);
  }
}

bool score_clean(const Bench& bench, const Arguments& a) {
  std::vector<Job> jobs = {{"clean", {}, a.clean}};
  bench.run(jobs);
  print_head("");
  print_line(jobs[0]);
  const score::Tally& t = jobs[0].tally;
  const auto [low, high] = honest(t.claimed);
  fmt::print("  covered {} of {} claimed ({} to {} are honest); false alarms in {} runs{}; {} notes\n",
             t.covered, t.claimed, low, high, t.runs_with_false_alarm,
             t.alarms.empty() ? "" : " (" + list(t.alarms) + ")", t.notes);
  std::fflush(stdout);
  return t.read == t.runs && t.covered >= low && t.covered <= high && t.false_alarms == 0;
}

bool print_faults(const std::vector<Job>& jobs, const Arguments& a) {
  bool good = true;
  for (const Job& job : jobs) {
    print_line(job);
    if (!job.tally.alarms.empty()) {
      fmt::print("    not at its time: {}\n", list(job.tally.alarms));
    }
    if (a.said) {
      fmt::print("    at its time: {}\n", list(job.tally.said));
    }
    good &= job.tally.found_share() >= 0.9 && job.tally.misled == 0 && job.tally.false_alarms == 0;
  }
  std::fflush(stdout);
  return good;
}

// `jobs`: what was run, for the sizes to use again.
bool score_faults(const Bench& bench, const Arguments& a, std::vector<Job>& jobs) {
  for (const score::Case& one : score::cases()) {
    if (a.chosen(one.name) && a.needed(one)) {
      jobs.push_back({one.name, {one.sizes[one.ordinary]}, a.seeds});
    }
  }
  for (const score::Together& one : score::together()) {
    if (a.chosen("together") || a.chosen(one.name)) {
      jobs.push_back({one.name, one.faults, a.seeds});
    }
  }
  if (jobs.empty()) {
    return true;
  }
  bench.run(jobs);
  fmt::print("\n");
  print_head("fault, ordinary size");
  return print_faults(jobs, a);
}

void score_sizes(const Bench& bench, const Arguments& a, const std::vector<Job>& ordinary) {
  std::vector<Job> jobs;
  std::vector<const score::Case*> chosen;
  for (const score::Case& one : score::cases()) {
    if (!a.chosen(one.name)) {
      continue;
    }
    chosen.push_back(&one);
    for (const std::string& size : one.sizes) {
      const auto same = [&](const Job& job) { return job.faults == std::vector<std::string>{size}; };
      const auto done = std::find_if(ordinary.begin(), ordinary.end(), same);
      jobs.push_back(done == ordinary.end() ? Job{size, {size}, a.seeds} : Job{size, {size}, 0, done->tally});
    }
  }
  bench.run(jobs);
  fmt::print("\n{:<22}{}\n", "fault", "smallest size found nine times in ten");
  std::size_t at = 0;
  for (const score::Case* one : chosen) {
    std::string smallest = "none of those tried";
    std::string shares;
    bool all = true;
    for (const std::string& size : one->sizes) {
      const score::Tally& t = jobs[at++].tally;
      all &= 10 * t.found >= 9 * t.faults;
      smallest = all ? size : smallest;
      shares += fmt::format("{}{:.0f} % {}", shares.empty() ? "" : ", ", 100 * t.found_share(), size);
    }
    fmt::print("{:<22}{}\n    {}\n", one->name, smallest, shares);
  }
}

}  // namespace

int main(int argc, char** argv) {
  Arguments arguments;
  if (!read(argc, argv, arguments)) {
    fmt::print(stderr, "{}", usage);
    return argc == 2 && std::string(argv[1]) == "--help" ? 0 : 2;
  }
  auto plan = plan::load(arguments.recipe);
  if (!plan.ok()) {
    fmt::print(stderr, "{}", to_text(plan.diagnostics()));
    return 2;
  }
  auto map = plan::load_channels(arguments.channels, plan.value());
  if (!map.ok()) {
    fmt::print(stderr, "{}", to_text(map.diagnostics()));
    return 2;
  }
  const Bench bench(plan.value(), map.value(), arguments);
  bool good = true;
  if (arguments.clean > 0 && (arguments.only.empty() || arguments.chosen("none"))) {
    good &= score_clean(bench, arguments);
  }
  if (arguments.seeds > 0) {
    std::vector<Job> ordinary;
    good &= score_faults(bench, arguments, ordinary);
    if (arguments.sizes) {
      score_sizes(bench, arguments, ordinary);
    }
  }
  return good ? 0 : 1;
}
