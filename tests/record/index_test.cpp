#include "record/index.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include "plant.hpp"
#include "record/archive.hpp"
#include "record/figures.hpp"
#include "scratch.hpp"

using namespace vacuary;
using namespace vacuary::record;
using plant::rules;

namespace {

std::string report(double base_pressure, const char* verdict) {
  return R"({"format": "vacuary-report 1", "verdict": ")" + std::string(verdict) + R"(",
 "reasons": ["a trip of 4 s in turn 3"], "recipe": {"name": "Primary, aluminium", "revision": "7", "author": "R. Calder"},
 "chamber": "great chamber", "optic": "primary", "log": {"start": "2031-03-04T05:06:07Z"},
 "film": {"mean_thickness": {"value": 90, "unit": "nm", "expanded_uncertainty": 7.5, "coverage_factor": 3},
  "parts": [{"energy": {"value": 1.5, "unit": "kWh"}}, {"energy": {"value": 1.5, "unit": "kWh"}}]},
 "deviations": [{"rule": "power-interruption"}],
 "vacuum": {"base_pressure": {"value": )" +
         std::to_string(base_pressure) +
         R"(, "unit": "mbar", "expanded_uncertainty": 1e-7, "coverage_factor": 2}, "time_to_base": null, "rises": []}})";
}

struct Site {
  Site() {
    REQUIRE(create_archive(archive()).ok());
    for (unsigned n = 1; n <= 3; ++n) {
      RunFolder folder = plant::Plant::folder(std::to_string(n), "TR-2031-" + std::to_string(n));
      folder.payload.push_back(
          {"data/report/report.json", Bytes{report(n, n == 2 ? "review" : "within_limits")}, ""});
      folder.info.emplace_back("Figure", "reflectance_550nm 0.91" + std::to_string(n) + " 1 0.003");
      const std::string run = p.path("run-" + std::to_string(n));
      REQUIRE(write_run(run, folder, false).ok());
      REQUIRE(p.sign_all(run));
      REQUIRE(add_to_archive({archive(), run, p.trust(), plant::at("2031-03-05T08:00:00Z")}).ok());
    }
  }
  [[nodiscard]] std::string archive() const { return p.path("archive"); }
  plant::Plant p;
};

// Of a run's revisions only the newest speaks in a series, whatever the order in which they came; a run that
// was archived twice counts once.
void check_revisions(Index& index) {
  const auto put = [&](std::uint64_t entry, const char* tagmanifest, const char* replaces, double value) {
    IndexedRun r;
    r.entry = entry;
    r.run = "TR-2031-9";
    r.tagmanifest = tagmanifest;
    r.replaces = replaces;
    r.started = "2031-03-09T00:00:00Z";
    r.figures = {{"film_mass", value, std::nullopt, "g", "2031-04-01T00:00:00Z", "film of March"},
                 {"film_mass", value + 1, 0.5, "g"}};
    REQUIRE(index.put({r}, {entry, std::string(64, 'a')}).empty());
  };
  put(101, "a1", "", 10);
  put(102, "a2", "a1", 20);
  put(103, "a0", "a9", 30);
  put(104, "a0", "a9", 30);
  put(105, "a9", "", 40);
  const std::vector<Point> mass = index.series("film_mass", Query{}).value();
  REQUIRE(mass.size() == 4);
  CHECK(mass[0].entry == 102);  // by time: the run's own comes before the later measurements
  CHECK(mass[0].figure.value == 21);
  CHECK(mass[1].figure.value == 31);
  CHECK(mass[2].figure.value == 20);
  CHECK(mass[2].figure.subject == "film of March");
  CHECK(mass[2].at == plant::at("2031-04-01T00:00:00Z"));
  CHECK(mass[3].entry == 103);
  const std::vector<IndexedRun> runs = index.runs(Query{}).value();
  REQUIRE(runs.size() == 8);
  CHECK(runs[0].replaced_by != 0);
  CHECK(runs[3].replaced_by == 0);
  CHECK(runs[4].replaced_by == 102);
}

// What every kind of index must answer.
void check_index(const Site& site, Index& index) {
  CHECK(update_index(site.archive(), index).value() == 3);
  CHECK(update_index(site.archive(), index).value() == 0);
  const auto found = [&](const char* words) {
    Query q;
    q.words = words;
    const Result<std::vector<IndexedRun>> runs = index.runs(q);
    REQUIRE_MESSAGE(runs.has_value(), to_text(runs.diagnostics()));
    return runs.value().size();
  };
  CHECK(found("") == 3);
  CHECK(found("aluminium") == 3);
  CHECK(found("ALUMIN great") == 3);
  CHECK(found("silver") == 0);
  CHECK(found("film within limits") == 3);  // the signers' reason
  CHECK(found("trip") == 3);
  CHECK(found("power-interruption") == 3);
  CHECK(found("\"'); drop table runs; -- * ( NEAR") == 0);
  Query review;
  review.verdict = "review";
  const Result<std::vector<IndexedRun>> runs = index.runs(review);
  REQUIRE(runs.value().size() == 1);
  const IndexedRun& run = runs.value().front();
  CHECK(run.run == "TR-2031-2");
  CHECK(run.entry == 2);
  CHECK(run.optic == "primary");
  CHECK(run.disposition == "accept");
  CHECK(run.started == "2031-03-04T05:06:07Z");
  Query newest;
  newest.limit = 2;
  CHECK(index.runs(newest).value().front().entry == 3);
  CHECK(index.runs(newest).value().size() == 2);
  CHECK(index.count(newest).value() == 3);
  CHECK(index.count(review).value() == 1);
  newest.before = 3;
  CHECK(index.runs(newest).value().front().entry == 2);
  CHECK(index.count(newest).value() == 2);
  newest.words = "aluminium";
  CHECK(index.runs(newest).value().front().entry == 2);
  CHECK(index.count(newest).value() == 2);
  Query later;
  later.from = "2031-04";
  CHECK(index.runs(later).value().empty());
  const Result<std::vector<Point>> series = index.series("reflectance_550nm", Query{});
  REQUIRE(series.value().size() == 3);
  CHECK(series.value()[2].figure.value == doctest::Approx(0.913));
  CHECK(*series.value()[2].figure.expanded_uncertainty == doctest::Approx(0.003));
  CHECK(index.figure_names().value() == std::vector<std::string>{"base_pressure", "deviations",
                                                                 "energy_per_thickness", "film_energy",
                                                                 "film_thickness", "reflectance_550nm"});
  CHECK(index.series("base_pressure", review).value().size() == 1);
  check_revisions(index);
  REQUIRE(index.clear().empty());
  CHECK(found("") == 0);
  CHECK(update_index(site.archive(), index).value() == 3);
  CHECK(found("aluminium") == 3);
}

}  // namespace

TEST_CASE("SQLite: the index answers, follows the ledger, and can be made again") {
  const Site site;
  Result<std::unique_ptr<Index>> index = open_index(site.archive());
  REQUIRE_MESSAGE(index.ok(), to_text(index.diagnostics()));
  check_index(site, *index.value());
  index = Diagnostic{};
  scratch::put(site.archive() + "/index.sqlite",
               "this is no data base at all, but long enough to look like one\n");
  CHECK(rules(open_index(site.archive())) == "index-fault");
  CHECK(reindex(site.archive()).value() == 3);
  CHECK(open_index(site.archive()).value()->runs(Query{}).value().size() == 3);
  CHECK(rules(verify_archive({site.archive(), site.p.trust(), "", 1, true})) == "");
  CHECK(rules(open_index(site.archive(), "mysql://x")) == "index-fault");
}

TEST_CASE("PostgreSQL: the same answers from a real server, kept apart by archive") {
  const scratch::Ran where = scratch::run("ls -d /usr/lib/postgresql/*/bin/initdb | tail -1");
  if (where.exit != 0 || where.output.empty()) {
    MESSAGE("skipped: the PostgreSQL server is not installed");
    return;
  }
  const Site site;
  const std::string programs = where.output.substr(0, where.output.rfind("/initdb"));
  const std::string data = site.p.path("pg");
  std::filesystem::create_directory(data);
  // The server refuses to run as root.
  const bool root = ::geteuid() == 0;
  const std::string as_server = root ? "runuser -u postgres -- " : "";
  if (root) REQUIRE(scratch::run("chmod a+rx " + site.p.path("") + " && chown postgres " + data).exit == 0);
  const scratch::Ran made =
      scratch::run(as_server + programs + "/initdb -U vacuary -A trust --no-sync -D " + data + "/db && " +
                   as_server + programs + "/pg_ctl start -w -s -D " + data + "/db -l " + data +
                   "/log -o \"-k " + data + " -c listen_addresses='' -F\" > /dev/null");
  REQUIRE_MESSAGE(made.exit == 0, made.output);
  const std::string url = "postgresql:///postgres?user=vacuary&host=" + data;
  {
    Result<std::unique_ptr<Index>> index = open_index(site.archive(), url);
    if (rules(index) == "index-fault" &&
        to_text(index.diagnostics()).find("built without") != std::string::npos) {
      MESSAGE("skipped: built without libpq");
    } else {
      REQUIRE_MESSAGE(index.ok(), to_text(index.diagnostics()));
      check_index(site, *index.value());
      const std::string other = site.p.path("other-archive");
      REQUIRE(create_archive(other).ok());
      const Result<std::unique_ptr<Index>> second = open_index(other, url);
      CHECK(second.value()->runs(Query{}).value().empty());
      CHECK(reindex(site.archive(), url).value() == 3);
    }
  }
  CHECK(scratch::run(as_server + programs + "/pg_ctl stop -s -m fast -D " + data + "/db").exit == 0);
  CHECK(rules(open_index(site.archive(), url)) == "index-fault");
}

TEST_CASE("an index of another ledger is made anew") {
  const Site site;
  Result<std::unique_ptr<Index>> index = open_index(site.archive());
  IndexedRun stray;
  stray.entry = 1;
  stray.run = "from elsewhere";
  REQUIRE(index.value()->put({stray}, {1, std::string(64, 'e')}).empty());
  CHECK(update_index(site.archive(), *index.value()).value() == 3);
  CHECK(index.value()->runs(Query{}).value().back().run == "TR-2031-1");
}

TEST_CASE("figures are read from a report, with their uncertainty at k = 2, and odd reports do no harm") {
  IndexedRun run;
  REQUIRE(read_report(report(1e-6, "review"), run));
  const auto figure = [&](const std::string& name) {
    for (const Figure& f : run.figures) {
      if (f.name == name) return f;
    }
    return Figure{};
  };
  CHECK(figure("film_thickness").value == 90);
  CHECK(*figure("film_thickness").expanded_uncertainty == doctest::Approx(5.0));
  CHECK(figure("film_energy").value == 3);
  CHECK(figure("energy_per_thickness").value == doctest::Approx(3.0 / 90));
  CHECK(figure("energy_per_thickness").unit == "kWh/nm");
  CHECK(figure("deviations").value == 1);
  for (const char* odd : {"", "[]", "null", "{", "\xff"}) {
    IndexedRun none;
    CHECK_FALSE(read_report(odd, none));
  }
  for (const char* odd :
       {"{}", R"({"film": 3, "recipe": [], "vacuum": {"rises": [1]}, "deviations": {}, "reasons": "x"})",
        R"({"film": {"mean_thickness": {"value": "90", "unit": 3}, "parts": [null, {"energy": []}]}})"}) {
    IndexedRun none;
    CHECK(read_report(odd, none));
    CHECK(none.figures.empty());
  }
  Figure f;
  CHECK(read_figure("target_energy_used  422.5 kWh", f));
  CHECK_FALSE(f.expanded_uncertainty.has_value());
  for (const char* bad : {"", "x", "x 1", "x y z", "x 1 m u", "x nan m", "x 1 m 2 3", "x 1 m - 2031"})
    CHECK_FALSE(read_figure(bad, f));
  for (const Figure& written :
       {Figure{"base_pressure", 9.6e-7, 1.9e-7, "mbar"}, Figure{"x", -1.5, std::nullopt, "1"},
        Figure{"r", 0.914, 0.003, "1", "2031-03-12T10:00:00Z", "film of run 14, revision 2"},
        Figure{"r", 0.914, std::nullopt, "1", "", "a film"}}) {
    REQUIRE(read_figure(figure_text(written), f));
    CHECK(f.name == written.name);
    CHECK(f.value == written.value);
    CHECK(f.expanded_uncertainty == written.expanded_uncertainty);
    CHECK(f.unit == written.unit);
    CHECK(f.at == written.at);
    CHECK(f.subject == written.subject);
  }
}
