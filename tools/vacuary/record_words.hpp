// What the commands on records share.
#pragma once

#include <string>
#include <vector>

#include "commands.hpp"
#include "plan/measured.hpp"
#include "record/record.hpp"

namespace vacuary::tool {

// In whole seconds, as statements and ledger entries have it.
[[nodiscard]] Instant now();
[[nodiscard]] Diagnostic usage(std::string message, std::string remedy);
// The folder is an archive (or means to be one: its head is there).
[[nodiscard]] bool is_archive(const std::string& path);

// Measurements as figures of that film.
[[nodiscard]] std::vector<record::Figure> figures_of(const plan::Measured& measured, const std::string& film);

// What a verification says: its result on standard output, complaints on standard error. It could be
// done (and found fault) when there is something to show.
template <class T>
[[nodiscard]] Status shown(const Result<T>& result, std::string (*text)(const T&)) {
  complain(result.diagnostics());
  if (!result.has_value() || !deliver(text(result.value()))) return status_failed;
  return result.ok() ? status_good : status_findings;
}

// True when it could be done; complains either way.
template <class T>
[[nodiscard]] bool done(const Result<T>& result) {
  complain(result.diagnostics());
  return result.ok();
}

}  // namespace vacuary::tool
