// archive and trend: what is kept of many runs, from the command line.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <limits>
#include <memory>

#include "commands.hpp"
#include "record/record.hpp"
#include "record_words.hpp"

namespace vacuary::tool {
namespace {

Status add(const ArchiveArguments& a) {
  const Result<record::Trust> trust = record::read_trust(a.signers, a.stamp_ca);
  complain(trust.diagnostics());
  if (!trust.ok()) return status_failed;
  record::AddRequest request;
  request.archive = a.archive;
  request.run = a.run;
  request.trust = trust.value();
  request.time = now();
  const Result<record::Added> added = record::add_to_archive(request);
  complain(added.diagnostics());
  if (!added.ok()) return status_failed;
  // The run is archived whatever becomes of the index, which can always be made again.
  const auto index = record::open_index(a.archive, a.index);
  complain(index.diagnostics());
  if (index.has_value()) complain(record::update_index(a.archive, *index.value()).diagnostics());
  const std::string out = fmt::format(
      "archived as entry {}\nkeep a copy of {}/head.txt elsewhere: it shows later that nothing was rolled "
      "back\n",
      added.value().entry.number, a.archive);
  return deliver(out) ? status_good : status_failed;
}

Status create(const ArchiveArguments& a) {
  const auto head = record::create_archive(a.archive);
  complain(head.diagnostics());
  if (!head.ok()) return status_failed;
  return deliver(fmt::format("archive {}\n", a.archive)) ? status_good : status_failed;
}

// The index, brought up to the archive's head; nothing, having complained, when it cannot be.
std::unique_ptr<record::Index> current_index(const std::string& archive, const std::string& location) {
  auto index = record::open_index(archive, location);
  if (!done(index)) return nullptr;
  const auto updated = record::update_index(archive, *index.value());
  complain(updated.diagnostics());
  if (!updated.has_value()) return nullptr;
  return std::move(index).value();
}

record::Query query_of(const RunFilter& filter) {
  record::Query query;
  query.words = filter.words;
  query.chamber = filter.chamber;
  query.optic = filter.optic;
  query.recipe = filter.recipe;
  query.verdict = filter.verdict;
  query.from = filter.from;
  query.to = filter.to;
  return query;
}

// Page after page, so that a list of any length takes little memory and begins at once.
Status list(const ArchiveArguments& a) {
  const auto index = current_index(a.archive, a.index);
  if (!index) return status_failed;
  constexpr std::uint64_t page = 20'000;
  record::Query query = query_of(a.filter);
  std::uint64_t wanted = a.all ? std::numeric_limits<std::uint64_t>::max() : a.limit;
  std::uint64_t shown = 0;
  while (shown < wanted) {
    query.limit = std::min(page, wanted - shown);
    const auto runs = index->runs(query);
    if (!done(runs)) return status_failed;
    if (runs.value().empty()) break;
    if (!deliver((shown == 0 ? record::run_list_heading() : "") + record::run_list_text(runs.value())))
      return status_failed;
    shown += runs.value().size();
    query.before = runs.value().back().entry;
    if (runs.value().size() < query.limit) return status_good;
  }
  if (shown == 0) return deliver("no runs\n") ? status_good : status_failed;
  const auto rest = index->count(query);
  if (!done(rest)) return status_failed;
  if (rest.value() == 0) return status_good;
  return deliver(fmt::format("{} more; --limit N shows more of them, --all every one\n", rest.value()))
             ? status_good
             : status_failed;
}

Status verify(const ArchiveArguments& a) {
  return run_verify({a.archive, a.signers, a.stamp_ca, a.saved_head});
}

Status show(const ArchiveArguments& a) {
  const Result<record::Trust> trust = record::read_trust(a.signers, a.stamp_ca);
  complain(trust.diagnostics());
  if (!trust.ok()) return status_failed;
  return shown(record::show_run(a.archive, a.number, trust.value()), record::shown_run_text);
}

Status export_to(const ArchiveArguments& a) {
  const auto path = record::export_run(a.archive, a.number, a.target);
  complain(path.diagnostics());
  if (!path.ok()) return status_failed;
  return deliver(path.value() + "\n") ? status_good : status_failed;
}

Status make_index(const ArchiveArguments& a) {
  const auto runs = record::reindex(a.archive, a.index);
  complain(runs.diagnostics());
  if (!runs.ok()) return status_failed;
  return deliver(fmt::format("{} runs indexed\n", runs.value())) ? status_good : status_failed;
}

}  // namespace

Status run_archive(const ArchiveArguments& arguments) {
  switch (arguments.action) {
    case ArchiveAction::create:
      return create(arguments);
    case ArchiveAction::add:
      return add(arguments);
    case ArchiveAction::list:
      return list(arguments);
    case ArchiveAction::show:
      return show(arguments);
    case ArchiveAction::export_run:
      return export_to(arguments);
    case ArchiveAction::reindex:
      return make_index(arguments);
    case ArchiveAction::verify:
      return verify(arguments);
  }
  return status_internal;
}

namespace {

// "1500 kWh", or "91 %" and "0.91" for a pure number. False when there is no number.
bool split_quantity(const std::string& text, double& value, std::string& unit) {
  const auto parsed = std::from_chars(text.data(), text.data() + text.size(), value);
  if (parsed.ec != std::errc{}) return false;
  unit = text.substr(static_cast<std::size_t>(parsed.ptr - text.data()));
  unit.erase(0, std::min(unit.find_first_not_of(' '), unit.size()));
  if (unit == "%") {
    value /= 100;
    unit.clear();
  }
  return true;
}

bool take_bound(const TrendArguments& a, record::TrendRequest& request) {
  if (a.bound.empty() && a.drop.empty()) return true;
  double value = 0;
  const std::string& text = a.bound.empty() ? a.drop : a.bound;
  if (!split_quantity(text, value, request.bound_unit)) {
    complain({usage(fmt::format("'{}' is no quantity", text), "write it like \"1500 kWh\" or \"3 %\"")});
    return false;
  }
  (a.bound.empty() ? request.drop : request.bound) = value;
  return true;
}

std::string trend_in(TrendFormat format, const record::Trend& trend) {
  switch (format) {
    case TrendFormat::json:
      return record::trend_json(trend);
    case TrendFormat::csv:
      return record::trend_csv(trend);
    case TrendFormat::html:
      return record::trend_html(trend);
    case TrendFormat::text:
      break;
  }
  return record::trend_text(trend);
}

Status list_figures(record::Index& index) {
  const auto names = index.figure_names();
  if (!done(names)) return status_failed;
  std::string out;
  for (const std::string& name : names.value()) out += name + "\n";
  return deliver(out.empty() ? "no figures: no runs are archived\n" : out) ? status_good : status_failed;
}

}  // namespace

Status run_trend(const TrendArguments& arguments) {
  const auto index = current_index(arguments.archive, arguments.index);
  if (!index) return status_failed;
  if (arguments.figure.empty()) return list_figures(*index);
  record::TrendRequest request;
  request.figure = arguments.figure;
  request.query = query_of(arguments.filter);
  request.query.limit = 0;
  request.subject = arguments.subject;
  request.baseline = arguments.baseline;
  if (!take_bound(arguments, request)) return status_failed;
  const auto trend = record::trend(*index, request);
  if (!done(trend)) return status_failed;
  if (!deliver(trend_in(arguments.format, trend.value()))) return status_failed;
  return trend.value().signals.empty() && !trend.value().drifting ? status_good : status_findings;
}

}  // namespace vacuary::tool
