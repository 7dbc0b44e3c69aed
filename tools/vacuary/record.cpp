// sign, stamp, verify, revise: one run's record from the command line.
#include "record/record.hpp"

#include <fmt/format.h>

#include <chrono>
#include <filesystem>
#include <set>

#include "commands.hpp"
#include "plan/measured.hpp"
#include "record_words.hpp"
#include "report/report.hpp"

namespace vacuary::tool {
namespace {

Status verify_whole_archive(const VerifyArguments& arguments, const record::Trust& trust) {
  record::ArchiveCheckRequest request;
  request.archive = arguments.path;
  request.trust = trust;
  request.saved_head_file = arguments.saved_head;
  return shown(record::verify_archive(request), record::archive_check_text);
}

// The newest signature of a run, or entry of an archive, that a time stamp is asked for.
Result<unsigned> newest(const std::string& path) {
  if (is_archive(path)) {
    const Result<record::Head> head = record::read_head(path);
    if (!head.has_value()) return head.diagnostics();
    return static_cast<unsigned>(head.value().entries);
  }
  const Result<record::Bag> bag = record::survey_bag(path);
  if (!bag.has_value()) return bag.diagnostics();
  unsigned last = 0;
  for (const std::string& file : bag.value().unproved) {
    unsigned number = 0;
    std::string role;
    constexpr std::string_view folder = "signatures/";
    if (file.rfind(folder, 0) == 0 && record::statement_name(file.substr(folder.size()), number, role))
      last = std::max(last, number);
  }
  return last;
}

Status request_stamp(const StampArguments& a, unsigned number) {
  const Result<std::string> request = is_archive(a.path) ? record::request_entry_stamp(a.path, number)
                                                         : record::request_stamp(a.path, number);
  if (!done(request)) return status_failed;
  if (!done(write_file(a.file, request.value(), a.force))) return status_failed;
  const std::string out = fmt::format(
      "request for {} {}: {}\nsend it to a time-stamping authority, then add its answer:\n"
      "  curl -sS -H 'Content-Type: application/timestamp-query' --data-binary @{} URL -o answer.tsr\n"
      "  vacuary stamp add {} answer.tsr --number {} --stamp-ca authority.pem\n",
      is_archive(a.path) ? "entry" : "signature", number, a.file, a.file, a.path, number);
  return deliver(out) ? status_good : status_failed;
}

Status add_stamp(const StampArguments& a, unsigned number) {
  std::string answer;
  const record::Errno error =
      record::read_whole(record::real_disk(), a.file, record::largest_tag_file, answer);
  if (error != 0) {
    complain({record::disk_fault(a.file, "read the authority's answer", error)});
    return status_failed;
  }
  const Result<std::string> file = is_archive(a.path)
                                       ? record::add_entry_stamp(a.path, number, answer, a.stamp_ca)
                                       : record::add_stamp(a.path, number, answer, a.stamp_ca);
  if (!done(file)) return status_failed;
  return deliver(file.value() + "\n") ? status_good : status_failed;
}

// Measurements as payload and as figures of the film that the run laid.
bool take_measured(const std::string& path, const std::string& film, std::set<std::string>& taken,
                   std::vector<record::PayloadFile>& files, record::Info& info) {
  const Result<plan::Measured> measured = plan::load_measured(path);
  if (!done(measured)) return false;
  const std::string name = std::filesystem::path(path).filename().string();
  files.push_back({record::payload_path_for("data/measured", name, taken),
                   record::Bytes{measured.value().file.source->bytes()}, name});
  for (const record::Figure& figure : figures_of(measured.value(), film))
    info.emplace_back("Figure", record::figure_text(figure));
  return true;
}

}  // namespace

std::vector<record::Figure> figures_of(const plan::Measured& measured, const std::string& film) {
  std::vector<record::Figure> out;
  for (const report::RunFigure& f : report::measured_figures(measured)) {
    // A day is all that is known of the time: its middle.
    out.push_back(
        {f.name, f.value, f.expanded_uncertainty, f.unit, measured.date.value + "T12:00:00Z", film});
  }
  return out;
}

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

bool is_archive(const std::string& path) {
  std::error_code ignored;
  return std::filesystem::exists(std::filesystem::path(path) / "head.txt", ignored);
}

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
  if (!done(trust)) return status_failed;
  if (is_archive(arguments.path)) return verify_whole_archive(arguments, trust.value());
  return shown(record::verify_run(arguments.path, trust.value()), record::run_check_text);
}

Status run_stamp(const StampArguments& arguments) {
  unsigned number = arguments.number;
  if (number == 0) {
    const Result<unsigned> last = newest(arguments.path);
    if (!last.has_value()) {
      complain(last.diagnostics());
      return status_failed;
    }
    number = last.value();
  }
  if (number == 0) {
    const bool archive = is_archive(arguments.path);
    complain({usage(fmt::format("{} has nothing to stamp: {}", arguments.path,
                                archive ? "the archive is empty" : "nobody has signed it"),
                    archive ? "archive a run first" : "sign it first")});
    return status_failed;
  }
  return arguments.add ? add_stamp(arguments, number) : request_stamp(arguments, number);
}

Status run_revise(const ReviseArguments& arguments) {
  const Result<record::Bag> old = record::survey_bag(arguments.run);
  if (!old.has_value()) {
    complain(old.diagnostics());
    return status_failed;
  }
  std::set<std::string> taken;
  for (const record::BagFile& file : old.value().files) taken.insert(file.path);
  std::vector<record::PayloadFile> files;
  record::Info info;
  const std::string film = "film of " + old.value().about("External-Identifier");
  for (const std::string& path : arguments.measured) {
    if (!take_measured(path, film, taken, files, info)) return status_failed;
  }
  for (const std::string& path : arguments.files) {
    const std::string name = std::filesystem::path(path).filename().string();
    files.push_back({record::payload_path_for("data/measured", name, taken), record::CopyOf{path}, name});
  }
  if (files.empty()) {
    complain({usage("there is nothing to add", "name measurements with --measured, or files with --add")});
    return status_failed;
  }
  const auto written = record::revise_run(arguments.run, arguments.target, std::move(files), std::move(info));
  if (!done(written)) return status_failed;
  const Result<record::Bag> now = record::survey_bag(written.value().path);
  const std::string out =
      fmt::format("revision {} at {}\nreplaces {}\nits roles sign anew\n",
                  now.has_value() ? now.value().about("Revision") : "?", written.value().path,
                  now.has_value() ? now.value().about("Replaces") : "?");
  return deliver(out) ? status_good : status_failed;
}

}  // namespace vacuary::tool
