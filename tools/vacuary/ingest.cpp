#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <set>
#include <string_view>
#include <thread>

#include "commands.hpp"
#include "log/log.hpp"
#include "plan/channel.hpp"
#include "plan/measured.hpp"
#include "record/record.hpp"
#include "record_words.hpp"
#include "report/report.hpp"
#include "run/run.hpp"

namespace vacuary::tool {
namespace {

// The paths that the reports are written under inside the run folder.
constexpr const char* report_folder = "data/report/";

void add_plan_file(record::RunFolder& run, std::set<std::string>& taken, const plan::File& file) {
  const std::string name = file.path.filename().string();
  run.payload.push_back(
      {record::payload_path_for("data/plan", name, taken), record::Bytes{file.source->bytes()}, name});
}

// What the log's reader got, file by file: the record must hold the same.
class Received {
 public:
  void add(const std::string& file, std::string_view bytes) {
    auto at = files_.find(file);
    if (at == files_.end()) at = files_.emplace(file, record::Hasher(record::Algorithm::sha256)).first;
    at->second.hasher.add(bytes);
    at->second.octets += bytes.size();
  }
  [[nodiscard]] record::ReadBefore of(const std::string& file) const {
    const auto at = files_.find(file);
    if (at == files_.end()) return {0, record::sha256_hex("")};
    return {at->second.octets, at->second.hasher.so_far()};
  }

 private:
  struct One {
    explicit One(record::Hasher h) : hasher(std::move(h)) {}
    record::Hasher hasher;
    std::uint64_t octets = 0;
  };
  std::map<std::string, One> files_;
};

// Under names and in units that stay the same for decades (schemas/record.md, "Figures").
void add_figures(record::RunFolder& run, const plan::Plan& plan, const run::Account& account) {
  const std::string start = to_rfc3339(account.log.start);
  for (const report::RunFigure& f : report::run_figures(plan, account)) {
    run.info.emplace_back(
        "Figure", record::figure_text({f.name, f.value, f.expanded_uncertainty, f.unit, start, f.subject}));
  }
}

record::RunFolder run_folder(const plan::Plan& plan, const plan::ChannelMap& map,
                             const IngestArguments& arguments, const run::Account& account,
                             const Received& received, const std::vector<plan::Measured>& measured) {
  record::RunFolder run;
  std::set<std::string> taken;
  add_plan_file(run, taken, plan.recipe.file);
  add_plan_file(run, taken, plan.chamber.file);
  if (plan.optic) add_plan_file(run, taken, plan.optic->file);
  if (map.file) add_plan_file(run, taken, *map.file);
  for (const std::string& log : arguments.logs) {
    const std::string name = std::filesystem::path(log).filename().string();
    run.payload.push_back(
        {record::payload_path_for("data/log", name, taken), record::CopyOf{log, received.of(log)}, name});
  }
  const auto add_report = [&](const char* name, std::string bytes) {
    run.payload.push_back({std::string(report_folder) + name, record::Bytes{std::move(bytes)}, name});
  };
  add_report("report.json", report::account_json(account));
  add_report("report.txt", report::account_text(account, {}));
  add_report("report.html", report::account_html(account));
  run.info = {
      // Which run of the recipe it was is told by the log's first row.
      {"External-Identifier",
       fmt::format("{}, revision {}, {}", account.recipe, account.revision, to_rfc3339(account.log.start))},
      {"External-Description", fmt::format("account of a run, verdict {}", run::name(account.verdict))},
      {"Bag-Software-Agent", "vacuary " VACUARY_VERSION}};
  for (const plan::SigningRole& role : plan.recipe.sign)
    run.info.emplace_back("Signing-Role", role.role.value);
  if (plan.recipe.sign_order == plan::SigningOrder::any) run.info.emplace_back("Signing-Order", "any");
  add_figures(run, plan, account);
  for (const plan::Measured& sheet : measured) {
    const std::string name = sheet.file.path.filename().string();
    run.payload.push_back({record::payload_path_for("data/measured", name, taken),
                           record::Bytes{sheet.file.source->bytes()}, name});
    const std::string film = "film of " + run.info.front().second;
    for (const record::Figure& figure : figures_of(sheet, film))
      run.info.emplace_back("Figure", record::figure_text(figure));
  }
  return run;
}

// A weighed target must be one of the chamber's.
bool targets_known(const plan::Measured& sheet, const plan::Plan& plan) {
  bool known = true;
  for (const plan::MeasuredTarget& target : sheet.targets) {
    if (plan::cathode(plan.chamber, target.cathode.value) != nullptr) continue;
    Diagnostic d;
    d.rule = "unknown-reference";
    d.message = fmt::format("the chamber has no cathode '{}'", target.cathode.value);
    d.where = target.cathode.at.place();
    d.remedy = "name the cathode whose target was weighed";
    complain({d});
    known = false;
  }
  return known;
}

Result<plan::ChannelMap> channel_map(const std::string& path, const plan::Plan& plan) {
  if (path.empty()) return plan::ChannelMap{};
  return plan::load_channels(path, plan);
}

}  // namespace

Status run_ingest(const IngestArguments& arguments) {
  const Result<plan::Plan> plan = plan::load(arguments.recipe);
  complain(plan.diagnostics());
  if (!plan.ok()) return status_failed;
  std::vector<plan::Measured> measured;
  for (const std::string& path : arguments.measured) {
    const Result<plan::Measured> sheet = plan::load_measured(path);
    complain(sheet.diagnostics());
    if (!sheet.ok() || !targets_known(sheet.value(), plan.value())) return status_failed;
    measured.push_back(sheet.value());
  }
  const Result<plan::ChannelMap> map = channel_map(arguments.channels, plan.value());
  complain(map.diagnostics());
  if (!map.ok()) return status_failed;

  log::Options options;
  Received received;
  if (!arguments.run_folder.empty()) {  // only what is filed needs a checksum
    options.received = [&received](const std::filesystem::path& file, std::string_view bytes) {
      received.add(file.string(), bytes);
    };
  }
  options.figures = map.value().logging == plan::Logging::periodic;           // else the account goes by rows
  options.threads = std::clamp(std::thread::hardware_concurrency(), 1U, 4U);  // the result is the same
  options.gas = plan.value().chamber.reference;
  options.wanted = run::wanted_channels(plan.value(), map.value());
  Result<log::Reader> reader =
      log::Reader::open({arguments.logs.begin(), arguments.logs.end()}, map.value(), options);
  complain(reader.diagnostics());
  if (!reader.ok()) return status_failed;
  Result<run::Account> account = run::account(plan.value(), map.value(), reader.value());
  complain(account.diagnostics());
  if (!account.ok()) return status_failed;
  if (!measured.empty()) run::hold_against(plan.value(), measured, account.value());

  std::string out = arguments.format == Format::json
                        ? report::account_json(account.value())
                        : report::account_text(account.value(), {colour_on_stdout()});
  if (!arguments.run_folder.empty()) {
    const auto written = record::write_run(
        arguments.run_folder,
        run_folder(plan.value(), map.value(), arguments, account.value(), received, measured),
        arguments.force);
    complain(written.diagnostics());
    if (!written.ok()) return status_failed;
    if (arguments.format == Format::text) {
      const std::string folder = written.value().path + "/" + report_folder;
      out += fmt::format("\nReport files\n  {0}report.html\n  {0}report.txt\n  {0}report.json\n", folder);
    }
  }
  if (!deliver(out)) return status_failed;
  return account.value().verdict == run::Verdict::within_limits ? status_good : status_findings;
}

}  // namespace vacuary::tool
