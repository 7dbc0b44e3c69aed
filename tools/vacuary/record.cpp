// sign, verify, archive, trend: the record room from the command line.
#include "record/record.hpp"

#include <fmt/format.h>

#include <chrono>
#include <filesystem>

#include "commands.hpp"

namespace vacuary::tool {
namespace {

// In whole seconds, as statements and ledger entries have it.
Instant now() {
  const auto since_epoch = std::chrono::system_clock::now().time_since_epoch();
  return Instant{std::chrono::duration_cast<std::chrono::seconds>(since_epoch).count() * 1'000'000'000};
}

Diagnostic usage(std::string message, std::string remedy) {
  Diagnostic d;
  d.rule = "usage";
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  return d;
}

// What a verification says: its result on standard output, complaints on standard error. It could be
// done (and found fault) when there is something to show.
template <class T>
Status shown(const Result<T>& result, std::string (*text)(const T&)) {
  complain(result.diagnostics());
  if (result.has_value() && !deliver(text(result.value()))) return status_failed;
  if (!result.has_value()) return status_failed;
  return result.ok() ? status_good : status_findings;
}

bool is_archive(const std::string& path) {
  return std::filesystem::exists(std::filesystem::path(path) / "head.txt");
}

Status verify_whole_archive(const VerifyArguments& arguments, const record::Trust& trust) {
  record::ArchiveCheckRequest request;
  request.archive = arguments.path;
  request.trust = trust;
  request.saved_head_file = arguments.saved_head;
  return shown(record::verify_archive(request), record::archive_check_text);
}

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
      "archived as {}\nkeep a copy of {}/head.txt elsewhere: it shows later that nothing was rolled back\n",
      added.value().entry.number, a.archive);
  return deliver(out) ? status_good : status_failed;
}

Status create(const ArchiveArguments& a) {
  const auto head = record::create_archive(a.archive);
  complain(head.diagnostics());
  if (!head.ok()) return status_failed;
  return deliver(fmt::format("archive {}\n", a.archive)) ? status_good : status_failed;
}

Status list(const ArchiveArguments& a) {
  const auto index = record::open_index(a.archive, a.index);
  complain(index.diagnostics());
  if (!index.ok()) return status_failed;
  const auto updated = record::update_index(a.archive, *index.value());
  complain(updated.diagnostics());
  if (!updated.ok()) return status_failed;
  record::Query query;
  query.words = a.words;
  query.limit = 0;
  const auto runs = index.value()->runs(query);
  complain(runs.diagnostics());
  if (!runs.ok()) return status_failed;
  return deliver(record::run_list_text(runs.value())) ? status_good : status_failed;
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

Status run_sign(const SignArguments& arguments) {
  record::SignRequest request;
  request.run = arguments.run;
  request.role = arguments.role;
  request.key_file = arguments.key;
  request.reason = arguments.reason;
  request.signer = arguments.signer;
  request.time = now();
  if (!record::disposition_of(arguments.disposition, request.disposition)) {
    complain({usage(fmt::format("'{}' is no disposition", arguments.disposition),
                    "say accept, rework or reject")});
    return status_failed;
  }
  const Result<record::Trust> trust = record::read_trust(arguments.signers, "");
  complain(trust.diagnostics());
  if (!trust.ok()) return status_failed;
  const Result<record::Signed> done = record::sign_run(request, trust.value());
  complain(done.diagnostics());
  if (!done.ok()) return status_failed;
  std::string out =
      fmt::format("signed as {}\nstatement  {}\nsignature  {}\nkey        {}\n", arguments.role,
                  done.value().statement_file, done.value().signature_file, done.value().fingerprint);
  for (const std::string& role : done.value().still_unsigned) out += fmt::format("still to sign: {}\n", role);
  return deliver(out) ? status_good : status_failed;
}

Status run_verify(const VerifyArguments& arguments) {
  const Result<record::Trust> trust = record::read_trust(arguments.signers, arguments.stamp_ca);
  complain(trust.diagnostics());
  if (!trust.ok()) return status_failed;
  if (is_archive(arguments.path)) return verify_whole_archive(arguments, trust.value());
  return shown(record::verify_run(arguments.path, trust.value()), record::run_check_text);
}

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
  }
  return status_internal;
}

Status run_trend(const TrendArguments& arguments) {
  const auto index = record::open_index(arguments.archive, arguments.index);
  complain(index.diagnostics());
  if (!index.ok()) return status_failed;
  record::TrendRequest request;
  request.figure = arguments.figure;
  request.query.limit = 0;
  const auto trend = record::trend(*index.value(), request);
  complain(trend.diagnostics());
  if (!trend.ok()) return status_failed;
  const std::string out = arguments.format == Format::json ? record::trend_json(trend.value())
                                                           : record::trend_text(trend.value());
  if (!deliver(out)) return status_failed;
  return trend.value().signals.empty() && !trend.value().drifting ? status_good : status_findings;
}

}  // namespace vacuary::tool
