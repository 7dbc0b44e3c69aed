#include "judge.hpp"

#include <fmt/format.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "cases.hpp"
#include "rehearse/rehearse.hpp"
#include "run/run.hpp"

namespace score {

using namespace vacuary;

namespace {

struct Event {
  std::string fault, nature;
  Instant start, end;
  bool begun = false;
};

Instant instant_of(const nlohmann::json& text, Instant otherwise) {
  Instant instant = otherwise;
  return text.is_string() && from_rfc3339(text.get<std::string>(), instant) ? instant : otherwise;
}

std::vector<Event> events_of(const nlohmann::json& truth) {
  std::vector<Event> events;
  for (const auto& json : truth.at("events")) {
    Event event{json.at("fault"), json.at("nature"), {}, {}, json.at("start").is_string()};
    event.start = instant_of(json.at("start"), {});
    event.end = instant_of(json.at("end"), event.start);
    events.push_back(std::move(event));
  }
  return events;
}

bool alarm(const run::Deviation& d) { return d.severity != Severity::note; }

// Overlaps in time, give or take what the log's own spacing allows: rows stand 30 s apart outside the
// discharge.
bool at_its_time(const run::Deviation& d, const Event& event) {
  const std::int64_t slack_ns = d.step == "coat" ? 5'000'000'000 : 60'000'000'000;
  return event.begun && d.start.ns <= event.end.ns + slack_ns && d.end.ns >= event.start.ns - slack_ns;
}

void judge_film(const run::Film& film, const nlohmann::json& truth, Verdict& out) {
  out.claimed = film.claimed;
  if (!film.claimed) {
    return;
  }
  const double true_nm = truth.at("film").at("mean_nm");
  out.error_nm = film.mean.value.value() * 1e9 - true_nm;
  out.half_width_nm = film.coverage_factor * film.mean.standard_uncertainty.value() * 1e9;
  out.covered = std::fabs(out.error_nm) <= out.half_width_nm;
}

void judge_findings(const std::vector<run::Deviation>& said, const std::vector<Event>& events, Verdict& out) {
  out.faults = static_cast<int>(events.size());
  for (const Event& event : events) {
    bool found = false;
    for (const run::Deviation& d : said) {
      const bool right = run::name(d.origin) == event.nature;
      found |= at_its_time(d, event) && right && rules_of(event.fault).count(d.rule) != 0;
    }
    out.found += found ? 1 : 0;
  }
  for (const run::Deviation& d : said) {
    bool near = false;
    bool right = false;
    for (const Event& event : events) {
      near |= at_its_time(d, event);
      right |= at_its_time(d, event) && run::name(d.origin) == event.nature;
    }
    if (near) {
      ++out.said[fmt::format("{}({}{})", d.rule, run::name(d.origin), alarm(d) ? "" : ", note")];
      out.misled += alarm(d) && !right ? 1 : 0;
    } else if (alarm(d)) {
      ++out.false_alarms[d.rule];
    } else {
      ++out.notes;
    }
  }
}

std::optional<rehearse::Rehearsal> rehearsed(const plan::Plan& plan, const rehearse::Options& options,
                                             Verdict& out) {
  auto done = rehearse::rehearse(plan, options);
  if (!done.ok()) {
    out.problem = to_text(done.diagnostics());
    return std::nullopt;
  }
  return std::move(done).value();
}

// As run::account does, with a coarse film map: the mean does not come from it.
run::Account account_of(const plan::Plan& plan, const plan::ChannelMap& map, log::Reader& reader) {
  run::Accountant accountant(plan, map, reader.header(), {8, 180, 1});
  while (const log::Block* block = reader.next()) accountant.add(*block);
  return accountant.finish(reader.tally());
}

}  // namespace

Verdict judge(const plan::Plan& plan, const plan::ChannelMap& map, std::uint64_t seed,
              const std::vector<std::string>& faults, const std::filesystem::path& scratch) {
  Verdict out;
  rehearse::Options options;
  options.seed = seed;
  options.map = &map;
  options.effects = false;
  for (const std::string& text : faults) {
    auto parsed = rehearse::parse_fault(text);
    if (!parsed.ok()) {
      out.problem = to_text(parsed.diagnostics());
      return out;
    }
    options.faults.push_back(std::move(parsed).value());
  }
  const auto done = rehearsed(plan, options, out);
  if (!done) {
    return out;
  }
  std::ofstream(scratch, std::ios::binary) << done->log_csv;
  log::Options reading;
  reading.wanted = run::wanted_channels(plan, map);
  reading.gas = plan.chamber.reference;
  auto reader = log::Reader::open({scratch}, map, reading);
  if (!reader.ok()) {
    out.problem = to_text(reader.diagnostics());
    return out;
  }
  const run::Account account = account_of(plan, map, reader.value());
  out.read = true;
  const nlohmann::json truth = nlohmann::json::parse(done->truth_json);
  judge_film(account.film, truth, out);
  judge_findings(account.deviations, events_of(truth), out);
  return out;
}

void Tally::add(const Verdict& run) {
  ++runs;
  if (!run.problem.empty() && problems.size() < 3) {
    problems.push_back(run.problem);
  }
  faults += run.faults;
  if (!run.read) {
    return;
  }
  ++read;
  if (run.claimed) {
    ++claimed;
    covered += run.covered ? 1 : 0;
    half_width_nm += run.half_width_nm;
    error_nm += run.error_nm;
    error2_nm2 += run.error_nm * run.error_nm;
  }
  found += run.found;
  misled += run.misled;
  notes += run.notes;
  runs_with_false_alarm += run.false_alarms.empty() ? 0 : 1;
  for (const auto& [rule, count] : run.false_alarms) {
    false_alarms += count;
    alarms[rule] += count;
  }
  for (const auto& [what, count] : run.said) {
    said[what] += count;
  }
}

}  // namespace score
