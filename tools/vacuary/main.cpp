// The command line. One table lists the commands, dispatches to them and suggests the nearest name;
// this is the only file that knows the argument parser.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <exception>
#include <functional>
#include <string>
#include <vector>

#include "commands.hpp"

namespace {

using vacuary::Diagnostic;
using vacuary::tool::Format;
using vacuary::tool::Status;

// Everything the parser fills in. One command runs per call, so one of each is enough.
struct Arguments {
  vacuary::tool::CheckArguments check;
  vacuary::tool::ExplainArguments explain;
  vacuary::tool::RehearseArguments rehearse;
  vacuary::tool::IngestArguments ingest;
  vacuary::tool::ShieldArguments shield;
  vacuary::tool::CalibrateArguments calibrate;
  vacuary::tool::ChannelsArguments channels;
  vacuary::tool::SignArguments sign;
  vacuary::tool::VerifyArguments verify;
  vacuary::tool::StampArguments stamp;
  vacuary::tool::ReviseArguments revise;
  vacuary::tool::ArchiveArguments archive;
  vacuary::tool::TrendArguments trend;
};

struct Command {
  const char* name;
  const char* help;
  const char* example;
  void (*declare)(CLI::App&, Arguments&);
  Status (*run)(const Arguments&);
};

void add_format(CLI::App& app, Format& format, bool with_sarif) {
  std::map<std::string, Format> formats{{"text", Format::text}, {"json", Format::json}};
  if (with_sarif) formats.emplace("sarif", Format::sarif);
  app.add_option("--format", format, "how to print the result")
      ->transform(
          CLI::CheckedTransformer(formats).description(with_sarif ? "text, json or sarif" : "text or json"))
      ->default_str("text");
}

void declare_check(CLI::App& app, Arguments& a) {
  app.add_option("RECIPE", a.check.recipe, "recipe file; it names its chamber and optic")->required();
  add_format(app, a.check.format, true);
}

void declare_rehearse(CLI::App& app, Arguments& a) {
  app.add_option("RECIPE", a.rehearse.recipe, "recipe file");
  app.add_option("-o,--output", a.rehearse.log, "log to write; the truth goes beside it as NAME.truth.json");
  app.add_option("--fault", a.rehearse.faults,
                 "a fault to inject, NAME or NAME:setting=value,...; may be repeated")
      ->take_all()
      ->allow_extra_args(false);
  app.add_option("--seed", a.rehearse.seed, "the same seed gives the same log")->default_val(1);
  app.add_option("--start", a.rehearse.start, "first stamp of the log, RFC 3339");
  app.add_option("--channels", a.rehearse.channels, "channel map whose logging periods the log follows");
  app.add_flag("--faults", a.rehearse.list_faults, "list the faults and their settings, and end");
  app.add_flag("--force", a.rehearse.force, "replace existing files");
}

void declare_ingest(CLI::App& app, Arguments& a) {
  app.add_option("RECIPE", a.ingest.recipe, "recipe of the run")->required();
  app.add_option("LOG", a.ingest.logs, "the chamber's log; several files of one run in order")->required();
  app.add_option("--channels", a.ingest.channels, "channel map of the plant's export");
  app.add_option("--measured", a.ingest.measured,
                 "what was measured on this run's film (vacuary-measured 1); may be repeated")
      ->take_all()
      ->allow_extra_args(false);
  app.add_option("-o,--output", a.ingest.run_folder,
                 "run folder to write: plan, log and reports as a BagIt bag");
  app.add_flag("--force", a.ingest.force, "replace an existing, unsigned run folder");
  add_format(app, a.ingest.format, false);
}

void declare_shield(CLI::App& app, Arguments& a) {
  app.add_option("RECIPE", a.shield.recipe, "recipe file; it names its chamber and optic")->required();
  app.add_option("--uniformity", a.shield.uniformity,
                 "(max - min)/(max + min) wanted, such as \"3 %\"; left out: as the optic file has it");
  app.add_option("--widest", a.shield.widest,
                 "widest opening; left out: the present shield's, or twice the target's width");
  app.add_option("--narrowest", a.shield.narrowest, "narrowest opening; left out: 10 mm");
  app.add_option("--height", a.shield.height, "above the glass; left out: the present shield's");
  app.add_option("--step", a.shield.step, "of the table along the radius; left out: 50 mm");
  app.add_option("--cathode", a.shield.cathode, "by name; left out: the recipe's");
  app.add_option("-o,--output", a.shield.folder, "folder to write drawing, table and chamber-file text to");
  app.add_flag("--force", a.shield.force, "replace existing files");
  add_format(app, a.shield.format, false);
}

void declare_calibrate(CLI::App& app, Arguments& a) {
  app.add_option("RECIPE", a.calibrate.recipe, "recipe file; it names its chamber and optic")->required();
  app.add_option("STRIP", a.calibrate.strip, "what was measured: a strip file, or CSV (.csv)")->required();
  app.add_option("-o,--output", a.calibrate.block,
                 "file for the chamber file's new text; the chamber file itself is never touched");
  app.add_flag("--force", a.calibrate.force, "replace an existing file");
  add_format(app, a.calibrate.format, false);
}

void declare_channels(CLI::App& app, Arguments& a) {
  app.add_option(
         "LOG", a.channels.logs,
         "an export of the plant that has no channel map yet; several files of one run if it has them")
      ->required();
  app.add_option("--recipe", a.channels.recipe,
                 "a recipe for this plant: devices and steps are looked for by its names");
  app.add_option("-o,--output", a.channels.output, "channel map to write; without it, it is printed");
  app.add_flag("--force", a.channels.force, "replace an existing file");
}

void declare_explain(CLI::App& app, Arguments& a) {
  app.add_option("RULE", a.explain.rule, "name of a rule; without it all are listed");
}

constexpr const char* signers_help = "who may sign as what: an allowed-signers file in OpenSSH's format";

void declare_sign(CLI::App& app, Arguments& a) {
  app.add_option("RUN", a.sign.run, "run folder")->required();
  app.add_option("--as", a.sign.role, "role to sign as")->required();
  app.add_option("--key", a.sign.key, "private key, or the .pub of a key in an agent, as for ssh-keygen")
      ->required();
  app.add_option("--disposition", a.sign.disposition, "accept, rework or reject")->required();
  app.add_option("--reason", a.sign.reason, "why, in a sentence; it is signed too");
  app.add_option("--name", a.sign.signer, "who signs, as claimed")->required();
  app.add_option("--signers", a.sign.signers, signers_help);
}

void declare_verify(CLI::App& app, Arguments& a) {
  app.add_option("PATH", a.verify.path, "run folder or archive")->required();
  app.add_option("--signers", a.verify.signers, signers_help);
  app.add_option("--stamp-ca", a.verify.stamp_ca, "certificates (PEM) of time-stamping authorities to trust");
  app.add_option("--saved-head", a.verify.saved_head,
                 "a copy of the archive's head.txt that was kept elsewhere");
}

using vacuary::tool::ArchiveAction;

CLI::App* archive_action(CLI::App& app, Arguments& a, const char* name, const char* help,
                         ArchiveAction action) {
  CLI::App* sub = app.add_subcommand(name, help);
  sub->callback([&a, action] { a.archive.action = action; });
  sub->add_option("ARCHIVE", a.archive.archive, "archive folder")->required();
  return sub;
}

void declare_stamp(CLI::App& app, Arguments& a) {
  app.require_subcommand(1);
  CLI::App* request = app.add_subcommand("request", "a request to send to a time-stamping authority");
  CLI::App* add = app.add_subcommand("add", "put an authority's answer beside what was stamped");
  request->callback([&a] { a.stamp.add = false; });
  add->callback([&a] { a.stamp.add = true; });
  for (CLI::App* sub : {request, add})
    sub->add_option("PATH", a.stamp.path, "signed run folder, or archive")->required();
  add->add_option("ANSWER", a.stamp.file, "the authority's answer (RFC 3161, DER)")->required();
  request->add_option("-o,--output", a.stamp.file, "request to write (RFC 3161, DER)")->required();
  request->add_flag("--force", a.stamp.force, "replace an existing file");
  add->add_option("--stamp-ca", a.stamp.stamp_ca, "certificates (PEM) of the authority, to check the answer")
      ->required();
  for (CLI::App* sub : {request, add}) {
    sub->add_option("--number", a.stamp.number,
                    "signature of the run or entry of the archive; else the newest");
  }
}

void declare_revise(CLI::App& app, Arguments& a) {
  app.add_option("RUN", a.revise.run, "run folder to revise; it stays as it is")->required();
  app.add_option("-o,--output", a.revise.target, "run folder to write")->required();
  app.add_option("--measured", a.revise.measured, "measurements (vacuary-measured 1); may be repeated")
      ->take_all()
      ->allow_extra_args(false);
  app.add_option("--add", a.revise.files, "any other file of measurements; may be repeated")
      ->take_all()
      ->allow_extra_args(false);
}

void add_filter(CLI::App& app, vacuary::tool::RunFilter& filter) {
  app.add_option("--chamber", filter.chamber, "only runs of this chamber");
  app.add_option("--optic", filter.optic, "only runs of this optic");
  app.add_option("--recipe", filter.recipe, "only runs of this recipe");
  app.add_option("--verdict", filter.verdict, "only runs with this verdict, for example review");
  app.add_option("--from", filter.from, "only runs started then or later: 2031, 2031-03, 2031-03-11");
  app.add_option("--to", filter.to, "only runs started before then");
}

void declare_archive(CLI::App& app, Arguments& a) {
  app.require_subcommand(1);
  (void)archive_action(app, a, "create", "an empty archive", ArchiveAction::create);
  CLI::App* add =
      archive_action(app, a, "add", "verify a signed run and keep a copy of it", ArchiveAction::add);
  add->add_option("RUN", a.archive.run, "run folder")->required();
  CLI::App* list = archive_action(app, a, "list", "the runs, newest first", ArchiveAction::list);
  list->add_option("WORDS", a.archive.filter.words,
                   "only runs with these words in recipe, optic, chamber, author or notes");
  add_filter(*list, a.archive.filter);
  constexpr std::uint64_t a_page = 40;
  list->add_option("--limit", a.archive.limit, "at most so many")->default_val(a_page);
  list->add_flag("--all", a.archive.all, "every one");
  CLI::App* show = archive_action(app, a, "show", "one run and its signatures", ArchiveAction::show);
  CLI::App* check = archive_action(app, a, "verify", "is every run still what was signed and archived",
                                   ArchiveAction::verify);
  check->add_option("--saved-head", a.archive.saved_head,
                    "a copy of the archive's head.txt that was kept elsewhere");
  CLI::App* out = archive_action(app, a, "export", "a copy of one run", ArchiveAction::export_run);
  CLI::App* again =
      archive_action(app, a, "reindex", "make the index again from the bags", ArchiveAction::reindex);
  for (CLI::App* sub : {show, out})
    sub->add_option("NUMBER", a.archive.number, "as archive list gives it")->required();
  out->add_option("TARGET", a.archive.target, "new folder")->required();
  for (CLI::App* sub : {add, show, check}) {
    sub->add_option("--signers", a.archive.signers, signers_help);
    sub->add_option("--stamp-ca", a.archive.stamp_ca,
                    "certificates (PEM) of time-stamping authorities to trust");
  }
  for (CLI::App* sub : {add, list, again}) {
    sub->add_option("--index", a.archive.index, "postgresql://... instead of the file in the archive");
  }
}

void declare_trend(CLI::App& app, Arguments& a) {
  app.add_option("ARCHIVE", a.trend.archive, "archive folder")->required();
  app.add_option("FIGURE", a.trend.figure,
                 "what to follow, for example base_pressure; without it they are listed");
  app.add_option("--of", a.trend.subject, "follow this target or film instead of the newest");
  app.add_option("--bound", a.trend.bound, "when is this reached? For example \"1.2e-6 mbar\"");
  app.add_option("--drop", a.trend.drop,
                 "when has it fallen so far below its first value? For example \"3 %\"")
      ->excludes("--bound");
  constexpr std::size_t usual = 20;
  app.add_option("--baseline", a.trend.baseline, "how many of the first values say what is usual")
      ->default_val(usual);
  add_filter(app, a.trend.filter);
  app.add_option("--index", a.trend.index, "postgresql://... instead of the file in the archive");
  const std::map<std::string, vacuary::tool::TrendFormat> formats{{"text", vacuary::tool::TrendFormat::text},
                                                                  {"json", vacuary::tool::TrendFormat::json},
                                                                  {"csv", vacuary::tool::TrendFormat::csv},
                                                                  {"html", vacuary::tool::TrendFormat::html}};
  app.add_option("--format", a.trend.format, "how to print the result")
      ->transform(CLI::CheckedTransformer(formats).description("text, json, csv or html"))
      ->default_str("text");
}

constexpr Command commands[] = {
    {"check", "can this chamber do this recipe, in what order, how long, what film comes out",
     "vacuary check recipes/tarn-ridge/aluminium-90nm.toml", declare_check,
     [](const Arguments& a) { return run_check(a.check); }},
    {"rehearse", "the log this recipe should give in this chamber, with faults to practise on",
     "vacuary rehearse recipes/tarn-ridge/aluminium-90nm.toml -o practice.csv --fault trip:at=200s,lasts=4s",
     declare_rehearse, [](const Arguments& a) { return run_rehearse(a.rehearse); }},
    {"ingest", "a run's log to an account: what film is on the glass, how sure, what went wrong",
     "vacuary ingest recipes/tarn-ridge/aluminium-90nm.toml logs-example/troubled.csv "
     "--channels recipes/tarn-ridge/channels.toml -o run-folder",
     declare_ingest, [](const Arguments& a) { return run_ingest(a.ingest); }},
    {"calibrate", "a witness strip to film per energy, emission exponent, diffuse share and shield",
     "vacuary calibrate recipes/tarn-ridge/aluminium-90nm.toml recipes/tarn-ridge/strip.toml",
     declare_calibrate, [](const Arguments& a) { return run_calibrate(a.calibrate); }},
    {"shield", "the opening of the trim shield that makes the film even, with a drawing for the workshop",
     "vacuary shield recipes/tarn-ridge/aluminium-90nm.toml --uniformity \"2 %\" -o shield", declare_shield,
     [](const Arguments& a) { return run_shield(a.shield); }},
    {"channels", "a first channel map for an unknown export, its guesses marked for a person to confirm",
     "vacuary channels export.csv --recipe recipes/tarn-ridge/aluminium-90nm.toml -o channels.toml",
     declare_channels, [](const Arguments& a) { return run_channels(a.channels); }},
    {"explain", "what a rule means, why it matters and what mends it",
     "vacuary explain base-pressure-out-of-reach", declare_explain,
     [](const Arguments& a) { return run_explain(a.explain); }},
    {"sign", "say accept, rework or reject in a role, and have it signed",
     "vacuary sign run-folder --as operator --name 'R. Calder' --key ~/.ssh/id_ed25519 --disposition accept "
     "--reason \"film as "
     "wanted\"",
     declare_sign, [](const Arguments& a) { return run_sign(a.sign); }},
    {"verify", "is this run, or this whole archive, what was signed by those who had to sign",
     "vacuary verify run-folder --signers allowed_signers", declare_verify,
     [](const Arguments& a) { return run_verify(a.verify); }},
    {"stamp", "a trusted time for a signature or for an archive: request it, add the answer",
     "vacuary stamp request run-folder -o request.tsq", declare_stamp,
     [](const Arguments& a) { return run_stamp(a.stamp); }},
    {"revise", "a new revision of a run with measurements made since; the old one is not touched",
     "vacuary revise run-folder -o run-folder-2 --measured recipes/tarn-ridge/measured.toml", declare_revise,
     [](const Arguments& a) { return run_revise(a.revise); }},
    {"archive", "keep signed runs: create, add, list, show, verify, export, reindex",
     "vacuary archive add archive-folder run-folder --signers allowed_signers", declare_archive,
     [](const Arguments& a) { return run_archive(a.archive); }},
    {"trend", "one figure over all archived runs: limits, drift, forecast",
     "vacuary trend archive-folder base_pressure", declare_trend,
     [](const Arguments& a) { return run_trend(a.trend); }},
};

// The parser only says that something was left over; the nearest command helps more.
void suggest(int argc, char** argv) {
  if (argc < 2 || argv[1][0] == '-') return;
  std::vector<std::string> names;
  for (const Command& command : commands) names.emplace_back(command.name);
  for (const std::string& name : names) {
    if (name == argv[1]) return;
  }
  Diagnostic d;
  d.rule = "unknown-command";
  d.message = std::string("there is no command '") + argv[1] + "'";
  const auto near = vacuary::nearest(argv[1], names);
  d.remedy = near ? "did you mean '" + *near + "'?" : "'vacuary --help' lists them";
  vacuary::tool::complain({d});
}

int run(int argc, char** argv) {
  CLI::App app("vacuary: check a coating recipe before the run, account for the film after it", "vacuary");
  app.set_version_flag("--version", "vacuary " VACUARY_VERSION);
  app.require_subcommand(1);
  app.footer(
      "Exit status: 0 within limits and no findings; 1 findings, review or out of limits; 2 could not be "
      "done; 3 internal fault.\n"
      "vacuary never drives equipment. A person decides.");
  Arguments arguments;
  for (const Command& command : commands) {
    CLI::App* sub = app.add_subcommand(command.name, command.help);
    sub->footer(std::string("Example:\n  ") + command.example);
    command.declare(*sub, arguments);
  }
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) return app.exit(error);
    suggest(argc, argv);
    app.exit(error);
    return vacuary::tool::status_failed;
  }
  for (const Command& command : commands) {
    if (app.got_subcommand(command.name)) return command.run(arguments);
  }
  return vacuary::tool::status_internal;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    std::fprintf(stderr,
                 "vacuary: internal fault: %s\nThis is our mistake, not yours: please report it with the "
                 "command you gave.\n",
                 error.what());
    return vacuary::tool::status_internal;
  }
}
