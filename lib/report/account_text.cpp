#include <fmt/format.h>

#include "report/report.hpp"
#include "report/words.hpp"

namespace vacuary::report {
namespace {

void section(std::string& out, const char* title) { out += fmt::format("\n{}\n", title); }

void item(std::string& out, const std::string& text) { out += fmt::format("  - {}\n", wrapped(text, 4)); }

const char* verdict_words(run::Verdict verdict) {
  switch (verdict) {
    case run::Verdict::within_limits:
      return "within limits";
    case run::Verdict::review:
      return "review: a person has to look before this film is accepted";
    case run::Verdict::out_of_limits:
      break;
  }
  return "out of limits";
}

std::string coloured_verdict(run::Verdict verdict, PrintStyle style) {
  if (!style.colour) return verdict_words(verdict);
  const char* code = verdict == run::Verdict::within_limits ? "32"
                     : verdict == run::Verdict::review      ? "33"
                                                            : "31";
  return fmt::format("\x1b[1;{}m{}\x1b[0m", code, verdict_words(verdict));
}

void film_section(std::string& out, const run::Film& film) {
  if (film.wanted.value() <= 0) return;
  section(out, "Film");
  out += fmt::format("  mean thickness  {}\n", wrapped(film_sentence(film), 18));
  if (film.on_optic) {
    for (const Said& said : film_map_words(*film.on_optic, film.wanted, film.tolerance))
      out += fmt::format("  {:<15} {}\n", said.what, wrapped(said.text, 18));
    const Table sectors = sector_table(*film.on_optic);
    if (!sectors.empty())
      out += "  thin and thick sectors, against the rest of the same radius:\n" + sectors.text("    ");
  }
  const Unit& nm = unit("nm", Kind::length);
  const Unit& kwh = unit("kWh", Kind::energy);
  for (const run::FilmPart& part : film.parts) {
    std::string line = fmt::format("step '{}': {}", part.step,
                                   with_uncertainty(part.energy.value, expanded(part.energy), kwh));
    if (film.claimed)
      line += fmt::format(" laid {}", with_uncertainty(part.thickness.value, expanded(part.thickness), nm));
    if (part.energy_counter)
      line += fmt::format("; the supply's own counter says {}", brief(*part.energy_counter, kwh, 4));
    if (part.mean_voltage)
      line += fmt::format("; {} on average", brief(*part.mean_voltage, unit("V", Kind::voltage), 4));
    item(out, line);
  }
  if (film.claimed && !film.budget.empty()) {
    out += "  what the uncertainty is made of:\n" + budget_table(film).text("    ");
  }
  if (film.estimates) {
    out += "  several estimates of the mean:\n";
    out += estimate_table(*film.estimates).text("    ");
  }
  for (const std::string& said : estimate_sentences(film)) item(out, said);
  if (!film.assumed.empty()) out += "  assumed:\n";
  for (const std::string& clause : film.assumed) item(out, clause);
}

void measured_section(std::string& out, const run::Account& account) {
  const std::vector<std::string> sentences = measured_sentences(account);
  if (sentences.empty()) return;
  section(out, "Measured");
  for (const std::string& sentence : sentences) item(out, sentence);
}

void deviation_section(std::string& out, const run::Account& account) {
  section(out, "Deviations");
  if (account.deviations.empty()) out += "  none\n";
  std::size_t n = 0;
  for (const run::Deviation& deviation : account.deviations) {
    const DeviationWords w = words(deviation, account);
    out += fmt::format("  {}. {}: {}\n", ++n, name(deviation.severity), w.what);
    out += fmt::format("     when      {}\n", w.when);
    if (!w.measured.empty()) out += fmt::format("     measured  {}\n", wrapped(w.measured, 15));
    if (!w.effect.empty()) out += fmt::format("     film      {}\n", wrapped(w.effect, 15));
    if (!w.advice.empty()) out += fmt::format("     advice    {}\n", wrapped(w.advice, 15));
  }
}

void vacuum_section(std::string& out, const run::VacuumHealth& vacuum) {
  const std::vector<std::string> sentences = vacuum_sentences(vacuum);
  if (sentences.empty() && vacuum.verdicts.empty()) return;
  section(out, "Vacuum");
  for (const run::HealthVerdict& verdict : vacuum.verdicts) {
    const VerdictWords w = words(verdict);
    out += fmt::format("  {}\n", wrapped(w.said, 4));
    for (const std::string& evidence : w.evidence) out += fmt::format("    - {}\n", wrapped(evidence, 6));
    if (!w.advice.empty()) out += fmt::format("    advice: {}\n", wrapped(w.advice, 12));
  }
  for (const std::string& sentence : sentences) item(out, sentence);
  const Table normal = normal_table(vacuum);
  if (!normal.empty()) out += "  against what is normal here:\n" + normal.text("    ");
}

void quality_section(std::string& out, const run::FilmQuality& quality) {
  const std::vector<std::string> sentences = quality_sentences(quality);
  if (sentences.empty()) return;
  section(out, "Quality of the film");
  for (const std::string& sentence : sentences) item(out, sentence);
  const std::vector<std::string> assumed = quality_assumptions(quality);
  if (!assumed.empty()) out += "  assumed:\n";
  for (const std::string& clause : assumed) item(out, clause);
}

void log_section(std::string& out, const run::Account& account) {
  section(out, "Log");
  for (const std::string& file : account.log_files) out += fmt::format("  {}\n", file);
  out += fmt::format("  {} rows from {} to {}\n", account.log.rows, words(account.log.start),
                     words(account.log.end));
  out += fmt::format("  steps taken from: {}\n", account.steps_from);
  const Table oddities = oddity_table(account);
  if (oddities.empty()) {
    out += "  nothing odd in it\n";
  } else {
    out += "  what was odd in it:\n" + oddities.text("    ");
  }
  if (!account.missing.empty()) {
    out += "  not in this log, and wanted:\n";
    for (const std::string& missing : account.missing) item(out, missing);
  }
  if (!account.notes.empty()) out += "  how readings became values:\n";
  for (const std::string& note : account.notes) item(out, note);
  if (!account.unmapped.empty()) {
    std::string names;
    for (const std::string& header : account.unmapped) names += (names.empty() ? "" : ", ") + header;
    out += fmt::format("  columns not used: {}\n", wrapped(names, 20));
  }
}

}  // namespace

std::string account_text(const run::Account& account, PrintStyle style) {
  std::string head = fmt::format("{}, revision {}\n{}", account.recipe, account.revision, account.chamber);
  if (!account.optic.empty()) head += fmt::format(", {}", account.optic);
  std::string out;
  for (const std::string& reason : account.reasons) item(out, reason);
  film_section(out, account.film);
  section(out, "Steps");
  out += step_table(account).text("  ");
  deviation_section(out, account);
  vacuum_section(out, account.vacuum);
  quality_section(out, account.quality);
  measured_section(out, account);
  log_section(out, account);
  if (!account.safety.empty()) section(out, "Before anyone opens the vessel");
  for (const std::string& note : account.safety) item(out, note);
  return fmt::format("{}\n\nVerdict: {}\n{}", printable(head, true), coloured_verdict(account.verdict, style),
                     printable(out, true));
}

}  // namespace vacuary::report
