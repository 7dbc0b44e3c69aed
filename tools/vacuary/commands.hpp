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
  std::vector<std::string> logs;
  Format format = Format::text;
  bool force = false;
};
[[nodiscard]] Status run_ingest(const IngestArguments& arguments);

struct ChannelsArguments {
  std::string log, recipe, output;
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

enum class ArchiveAction { create, add, list, show, export_run, reindex };
struct ArchiveArguments {
  ArchiveAction action = ArchiveAction::list;
  std::string archive, run, target, words, signers, stamp_ca, index;
  std::uint64_t number = 0;
};
[[nodiscard]] Status run_archive(const ArchiveArguments& arguments);

struct TrendArguments {
  std::string archive, figure, index;
  Format format = Format::text;
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
