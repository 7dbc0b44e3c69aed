#include "record/index.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "record/archive.hpp"
#include "record/figures.hpp"
#include "record/index_backends.hpp"
#include "record/lines.hpp"

namespace vacuary::record {
namespace {

constexpr std::size_t largest_report = std::size_t{32} << 20U;
constexpr std::size_t batch = 500;  // runs in one transaction

void append(std::string& notes, const std::string& note) {
  if (note.empty()) return;
  if (!notes.empty()) notes += "; ";
  notes += note;
}

// What bag-info.txt states stands before what the report says of the same name.
void add_stated_figures(const Bag& bag, IndexedRun& run) {
  std::vector<Figure> stated;
  for (const std::string& text : bag.all_about("Figure")) {
    Figure figure;
    if (read_figure(text, figure)) stated.push_back(std::move(figure));
  }
  for (Figure& figure : run.figures) {
    const bool there = std::any_of(stated.begin(), stated.end(),
                                   [&](const Figure& other) { return other.name == figure.name; });
    if (!there) stated.push_back(std::move(figure));
  }
  run.figures = std::move(stated);
}

}  // namespace

std::optional<Instant> figure_time(const Figure& figure, const IndexedRun& run) {
  Instant at;
  const std::string& text = figure.at.empty() ? run.started : figure.at;
  return from_rfc3339(text, at) ? std::optional<Instant>(at) : std::nullopt;
}

Result<IndexedRun> describe_run(const std::string& archive, std::uint64_t number, Disk& disk) {
  const Result<Entry> entry = read_entry(archive, number, disk);
  if (!entry.has_value()) return entry.diagnostics();
  const std::string folder = join(archive, bag_path(number));
  const Result<Bag> bag = survey_bag(folder, disk);
  if (!bag.has_value()) return bag.diagnostics();
  IndexedRun run;
  run.entry = number;
  run.run = entry.value().run;
  run.revision = entry.value().revision;
  run.archived = to_rfc3339(entry.value().time);
  run.replaces = bag.value().about("Replaces");
  run.tagmanifest = bag.value().tagmanifest_sha256;
  std::string bytes;
  if (read_whole(disk, join(folder, "data/report/report.json"), largest_report, bytes) == 0)
    read_report(bytes, run);
  append(run.notes, bag.value().about("External-Description"));
  add_stated_figures(bag.value(), run);
  for (const std::string& path : bag.value().unproved) {
    unsigned statement_number = 0;
    std::string role;
    if (path.rfind("signatures/", 0) != 0 || !statement_name(path.substr(11), statement_number, role))
      continue;
    if (read_whole(disk, join(folder, path), largest_tag_file, bytes) != 0) continue;
    const Result<Statement> statement = parse_statement(path, bytes);
    if (!statement.has_value()) continue;
    run.disposition = name(statement.value().disposition);  // paths are sorted: the last one stays
    append(run.notes, statement.value().reason);
  }
  return run;
}

Result<std::unique_ptr<Index>> open_index(const std::string& archive, const std::string& location) {
  if (location.empty()) return open_sqlite(join(archive, "index.sqlite"));
  if (location.rfind("postgresql://", 0) == 0 || location.rfind("postgres://", 0) == 0) {
    return open_postgresql(location, archive);
  }
  return file_fault(location, "index-fault", "this is no place for an index",
                    "give postgresql://... or nothing");
}

Result<std::uint64_t> update_index(const std::string& archive, Index& index, Disk& disk) {
  const Result<Head> head = read_head(archive, disk);
  if (!head.has_value()) return head.diagnostics();
  const Result<Position> position = index.position();
  if (!position.has_value()) return position.diagnostics();
  std::uint64_t done = position.value().entries;
  if (done == head.value().entries && position.value().sha256 == head.value().sha256) return std::uint64_t{0};
  if (done > 0) {
    const Result<Entry> last = read_entry(archive, done, disk);
    if (!last.has_value() || last.value().sha256 != position.value().sha256 || done > head.value().entries) {
      if (Diagnostics said = index.clear(); !said.empty()) return said;
      done = 0;
    }
  }
  const std::uint64_t first = done;
  std::vector<IndexedRun> runs;
  Diagnostics said;
  while (done < head.value().entries) {
    ++done;
    Result<IndexedRun> run = describe_run(archive, done, disk);
    if (run.has_value()) {
      runs.push_back(std::move(run).value());
    } else {  // verification is there to complain; the index holds what can be read
      said.insert(said.end(), run.diagnostics().begin(), run.diagnostics().end());
      said.back().severity = Severity::warning;
    }
    if (runs.size() < batch && done < head.value().entries) continue;
    const Result<Entry> entry = read_entry(archive, done, disk);
    if (!entry.has_value()) return entry.diagnostics();
    if (Diagnostics failed = index.put(runs, {done, entry.value().sha256}); !failed.empty()) return failed;
    runs.clear();
  }
  return {done - first, std::move(said)};
}

Result<std::uint64_t> reindex(const std::string& archive, const std::string& location, Disk& disk) {
  const Result<Head> head = read_head(archive, disk);
  if (!head.has_value()) return head.diagnostics();
  if (location.empty()) {
    for (const char* file :
         {"index.sqlite", "index.sqlite-wal", "index.sqlite-shm", "index.sqlite-journal"}) {
      Seen seen;
      const std::string path = join(archive, file);
      Errno error = disk.look(path, seen);
      if (error == 0 && seen.kind != Kind::none) error = disk.remove(path);
      if (error != 0) return disk_fault(path, "remove the old index", error);
    }
  }
  Result<std::unique_ptr<Index>> index = open_index(archive, location);
  if (!index.has_value()) return index.diagnostics();
  if (Diagnostics said = index.value()->clear(); !said.empty()) return said;
  return update_index(archive, *index.value(), disk);
}

}  // namespace vacuary::record
