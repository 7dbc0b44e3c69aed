// How the archive behaves at scale. Not a test: figures depend on the machine; run it on a quiet one.
//
//   archive_bench index RUNS [VACUARY]
//                                     list, search and trend over so many indexed runs; with the program also
//                                     through its commands, start of the program included
//   archive_bench verify MEGABYTES    full verification against `openssl dgst -sha256` on the same bytes
//   archive_bench add RUN SIGNERS     adding a run to an archive of 1 and of 99 999 entries
#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <functional>
#include <string>
#include <thread>

#include "record/record.hpp"

using namespace vacuary;
using namespace vacuary::record;
namespace fs = std::filesystem;

namespace {

// Of the processor, so that what else runs does not count.
double processor_seconds(const std::function<void()>& work) {
  const std::clock_t start = std::clock();
  work();
  return static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
}

double seconds(const std::function<void()>& work) {
  const auto start = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

// The best of some: what the machine can do when nobody disturbs it.
double best_of(unsigned times, const std::function<void()>& work) {
  double best = seconds(work);
  for (unsigned i = 1; i < times; ++i) best = std::min(best, seconds(work));
  return best;
}

void must(const Diagnostics& said) {
  if (!has_errors(said)) return;
  std::fputs(to_text(said).c_str(), stderr);
  std::exit(2);
}

IndexedRun invented(std::uint64_t n) {
  IndexedRun r;
  r.entry = n;
  r.run = fmt::format("TR-{}", n);
  r.revision = "1";
  r.tagmanifest = sha256_hex(r.run);
  r.started = to_rfc3339({1'900'000'000'000'000'000 + static_cast<std::int64_t>(n) * 7'200'000'000'000});
  r.archived = r.started;
  r.recipe = n % 3 == 0 ? "Secondary, aluminium 100 nm" : "Primary, aluminium 90 nm";
  r.chamber = n % 3 == 0 ? "small chamber" : "great chamber";
  r.optic = n % 3 == 0 ? "secondary" : "primary";
  r.verdict = n % 20 == 0 ? "review" : "within_limits";
  r.notes = n % 997 == 0 ? "a leak at the door seal" : "film within limits";
  const double wave = static_cast<double>(n * 2654435761U % 1000U) / 1000.0;
  for (const char* name :
       {"base_pressure", "film_thickness", "film_energy", "leak_at_most", "reflectance_550nm"}) {
    r.figures.push_back({name, 1 + wave, 0.1, "1"});
  }
  return r;
}

struct Spent {
  double wall = 1e9, processor = 1e9;
};

// The best of some runs of a whole program, the first not counted.
Spent best_command(const std::string& command) {
  const auto children = [] {
    rusage usage{};
    ::getrusage(RUSAGE_CHILDREN, &usage);
    const auto seconds_of = [](const timeval& t) {
      return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_usec) * 1e-6;
    };
    return seconds_of(usage.ru_utime) + seconds_of(usage.ru_stime);
  };
  constexpr int times = 8;
  Spent best;
  for (int i = 0; i < times; ++i) {
    const double before = children();
    const double wall = seconds([&] {
      const int status = std::system((command + " > /dev/null").c_str());
      if (!WIFEXITED(status) || WEXITSTATUS(status) > 1) std::exit(2);
    });
    if (i == 0) continue;
    best.wall = std::min(best.wall, wall);
    best.processor = std::min(best.processor, children() - before);
  }
  return best;
}

// Whoever reads the figures should know what else the machine was doing.
void print_load() {
  std::array<double, 1> load{};
  if (::getloadavg(load.data(), 1) == 1)
    fmt::print("load of the machine {:.1f} on {} processors\n", load[0], std::thread::hardware_concurrency());
}

void bench_commands(const std::string& folder, const std::string& program) {
  print_load();
  for (const char* arguments :
       {"archive list {}", "archive list {} --all", "archive list {} 'secondary aluminium'",
        "archive list {} 'leak door'", "trend {} base_pressure", "trend {} base_pressure --format json",
        "trend {}"}) {
    std::string command = program + " " + arguments;
    command.replace(command.find("{}"), 2, folder);
    const Spent spent = best_command(command);
    fmt::print("{:<40} {:.3f} s, {:.3f} s of the processor\n", arguments, spent.wall, spent.processor);
  }
}

void bench_index(const std::string& folder, std::uint64_t runs, const std::string& program) {
  const std::unique_ptr<Index> index = std::move(open_index(folder).value());
  const double filled = seconds([&] {
    std::vector<IndexedRun> some;
    for (std::uint64_t n = 1; n <= runs; ++n) {
      some.push_back(invented(n));
      if (some.size() < 1000 && n < runs) continue;
      must(index->put(some, {n, sha256_hex("x")}));
      some.clear();
    }
  });
  Query all, words, leak;
  all.limit = 0;
  words.words = "secondary aluminium";
  leak.words = "leak door";
  leak.limit = 0;
  TrendRequest request;
  request.figure = "base_pressure";
  request.query.limit = 0;
  fmt::print("{} runs, filled in {:.1f} s\n", runs, filled);
  const auto report = [](const char* what, const std::function<void()>& work) {
    const double wall = best_of(5, work);
    fmt::print("{:<16} {:.4f} s, {:.4f} s of the processor\n", what, wall, processor_seconds(work));
  };
  report("list of all", [&] { must(index->runs(all).diagnostics()); });
  report("list of newest", [&] { must(index->runs(Query{}).diagnostics()); });
  report("search, common", [&] { must(index->runs(words).diagnostics()); });
  report("search, rare", [&] { must(index->runs(leak).diagnostics()); });
  report("trend over all", [&] { must(trend(*index, request).diagnostics()); });
  report("figure names", [&] { must(index->figure_names().diagnostics()); });
  if (program.empty()) return;
  // The index is at the head, so that the commands have nothing to read but it.
  if (replace_file(real_disk(), join(folder, "head.txt"), to_text(Head{runs, sha256_hex("x")})) != 0)
    std::exit(2);
  bench_commands(folder, program);
}

// Unsigned bags, one for each processor's share: reading and hashing is what is measured.
void bench_verify(const std::string& folder, std::uint64_t megabytes) {
  const unsigned processors = std::max(1U, std::thread::hardware_concurrency());
  constexpr unsigned bags_per_processor = 4;
  const unsigned bags = processors * bags_per_processor;
  std::string bytes(megabytes * 1'000'000 / bags, '\0');
  for (std::size_t i = 0; i < bytes.size(); ++i) bytes[i] = static_cast<char>(i * 2654435761U >> 24U);
  for (unsigned n = 0; n < bags; ++n) {
    RunFolder run;
    run.payload = {{"data/log/log.csv", Bytes{bytes}, ""}};
    must(write_run(join(folder, std::to_string(n)), run, false).diagnostics());
  }
  const auto one = [&](unsigned from) {
    for (unsigned n = from; n < bags; n += processors)
      must(verify_bag(join(folder, std::to_string(n))).diagnostics());
  };
  const double ours = best_of(3, [&] {
    std::vector<std::thread> threads;
    for (unsigned t = 0; t < processors; ++t) threads.emplace_back(one, t);
    for (std::thread& t : threads) t.join();
  });
  const std::string command =
      fmt::format("ls -d {}/*/data/log/log.csv | xargs -P {} -n {} openssl dgst -sha256 > /dev/null", folder,
                  processors, bags_per_processor);
  const double theirs = best_of(3, [&] {
    if (std::system(command.c_str()) != 0) std::exit(2);
  });
  const double size = static_cast<double>(bytes.size()) * bags / 1e6;
  fmt::print("{:.0f} MB, {} threads: {:.3f} s ({:.0f} MB/s); openssl dgst {:.3f} s; ratio {:.2f}\n", size,
             processors, ours, size / ours, theirs, ours / theirs);
}

// An archive whose ledger ends at `entries`: add_to_archive looks at nothing but the head and what comes
// after it, so the rest need not be there.
double add_after(const std::string& archive, std::uint64_t entries, const std::string& run,
                 const Trust& trust) {
  must(create_archive(archive).diagnostics());
  if (replace_file(real_disk(), join(archive, "head.txt"), to_text(Head{entries, sha256_hex("x")})) != 0)
    std::exit(2);
  return seconds([&] {
           for (unsigned i = 0; i < 10; ++i) must(add_to_archive({archive, run, trust, {}}).diagnostics());
         }) /
         10;
}

}  // namespace

int main(int count, char** arguments) {
  const std::string what = count > 1 ? arguments[1] : "";
  std::string pattern = (fs::temp_directory_path() / "archive-bench-XXXXXX").string();
  if (count < 3 || ::mkdtemp(pattern.data()) == nullptr) return 2;
  if (what == "index") {
    bench_index(pattern, std::strtoull(arguments[2], nullptr, 10), count > 3 ? arguments[3] : "");
  }
  if (what == "verify") bench_verify(pattern, std::strtoull(arguments[2], nullptr, 10));
  if (what == "add" && count > 3) {
    const Trust trust = read_trust(arguments[3], "").value();
    for (const std::uint64_t entries : {1ULL, 99'999ULL}) {
      fmt::print("add after {} entries: {:.4f} s\n", entries,
                 add_after(join(pattern, std::to_string(entries)), entries, arguments[2], trust));
    }
  }
  fs::remove_all(pattern);
  return 0;
}
