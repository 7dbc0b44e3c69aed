// The commands of the program: arguments in, exit status out. They call the library and print;
// nothing is computed here.
//
// Results go to standard output, progress and complaints to standard error.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/base.hpp"

namespace vacuary::tool {

// The exit status of every command (DEVELOPERS.md, decision 5).
enum Status : int {
  status_good = 0,      // within limits, no findings, verified
  status_findings = 1,  // findings, review, out_of_limits, tampered
  status_failed = 2,    // could not be done
  status_internal = 3   // our own mistake
};

enum class Format { text, json, sarif };

struct CheckArguments {
  std::string recipe;
  Format format = Format::text;
};
[[nodiscard]] Status run_check(const CheckArguments& arguments);

struct ExplainArguments {
  std::string rule;  // empty: list them
};
[[nodiscard]] Status run_explain(const ExplainArguments& arguments);

struct RehearseArguments {
  std::string recipe, log, channels, start;
  std::vector<std::string> faults;
  std::uint64_t seed = 1;
  bool force = false;
  bool list_faults = false;
};
[[nodiscard]] Status run_rehearse(const RehearseArguments& arguments);

struct IngestArguments {
  std::string recipe, channels, run_folder;
  std::vector<std::string> logs, measured;
  Format format = Format::text;
  bool force = false;
};
[[nodiscard]] Status run_ingest(const IngestArguments& arguments);

struct ShieldArguments {
  std::string recipe, folder, uniformity, widest, narrowest, height, step, cathode;
  Format format = Format::text;
  bool force = false;
};
[[nodiscard]] Status run_shield(const ShieldArguments& arguments);

struct CalibrateArguments {
  std::string recipe, strip, block;
  Format format = Format::text;
  bool force = false;
};
[[nodiscard]] Status run_calibrate(const CalibrateArguments& arguments);

struct ChannelsArguments {
  std::vector<std::string> logs;
  std::string recipe, output;
  bool force = false;
};
[[nodiscard]] Status run_channels(const ChannelsArguments& arguments);

struct SignArguments {
  std::string run, role, key, disposition, reason, signer, signers;
};
[[nodiscard]] Status run_sign(const SignArguments& arguments);

struct VerifyArguments {
  std::string path;  // a run folder or an archive
  std::string signers, stamp_ca, saved_head;
};
[[nodiscard]] Status run_verify(const VerifyArguments& arguments);

struct StampArguments {
  bool add = false;      // false: make a request
  std::string path;      // a run folder or an archive
  std::string file;      // the request to write, or the answer to add
  std::string stamp_ca;  // certificates of trusted authorities
  unsigned number = 0;   // of the signature or entry; 0: the newest
  bool force = false;
};
[[nodiscard]] Status run_stamp(const StampArguments& arguments);

struct ReviseArguments {
  std::string run, target;
  std::vector<std::string> measured, files;
};
[[nodiscard]] Status run_revise(const ReviseArguments& arguments);

struct RunFilter {
  std::string words, chamber, optic, recipe, verdict, from, to;
};

enum class ArchiveAction { create, add, list, show, verify, export_run, reindex };
struct ArchiveArguments {
  ArchiveAction action = ArchiveAction::list;
  std::string archive, run, target, signers, stamp_ca, saved_head, index;
  RunFilter filter;
  std::uint64_t number = 0, limit = 0;
  bool all = false;
};
[[nodiscard]] Status run_archive(const ArchiveArguments& arguments);

enum class TrendFormat { text, json, csv, html };
struct TrendArguments {
  std::string archive, figure, index, subject, bound, drop;
  RunFilter filter;
  std::size_t baseline = 0;
  TrendFormat format = TrendFormat::text;
};
[[nodiscard]] Status run_trend(const TrendArguments& arguments);

// ---- shared by the commands

// Prints complaints to standard error, in colour on a terminal.
void complain(const Diagnostics& diagnostics);
// Prints a line about what was done to standard error.
void note(const std::string& text);
// Prints a result to standard output. False, having complained, when it could not be delivered
// (a full disk behind a redirection): a half-written result must not look like success.
[[nodiscard]] bool deliver(const std::string& text);
// Colour only on a terminal, and not when NO_COLOR is set (no-color.org).
[[nodiscard]] bool colour_on_stdout();

}  // namespace vacuary::tool
