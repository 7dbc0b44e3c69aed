#include "report/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace vacuary::report {
namespace {

std::size_t code_points(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(
      text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

// Two neighbouring units of time, the smaller rounded; what is left of a longer time says nothing.
std::string clock_words(double seconds) {
  const char* sign = seconds < 0 ? "-" : "";
  seconds = std::fabs(seconds);
  if (seconds < 60 - 0.05) return fmt::format("{}{:.3g} s", sign, seconds);
  const auto whole = static_cast<long long>(std::llround(seconds));
  if (whole < 3600) {
    if (whole % 60 == 0) return fmt::format("{}{} min", sign, whole / 60);
    return fmt::format("{}{} min {} s", sign, whole / 60, whole % 60);
  }
  const long long minutes = (whole + 30) / 60;
  if (minutes % 60 == 0) return fmt::format("{}{} h", sign, minutes / 60);
  return fmt::format("{}{} h {} min", sign, minutes / 60, minutes % 60);
}

}  // namespace

std::string words(Duration duration) { return clock_words(duration.value()); }

std::string words(const Estimate<Duration>& duration) {
  const double value = duration.value.value();
  const double expanded = 2 * duration.standard_uncertainty.value();
  if (!(expanded > 0)) return words(duration.value);
  if (expanded < value / 2) return fmt::format("{} +/- {}", words(duration.value), clock_words(expanded));
  // Known to a factor: an interval about the logarithm, since no time is negative.
  const double factor = std::exp(expanded / value);
  return fmt::format("{} ({} to {})", words(duration.value), clock_words(value / factor),
                     clock_words(value * factor));
}

std::string words(Instant instant) {
  std::string text = to_rfc3339(instant);
  text[10] = ' ';
  text.pop_back();
  const std::size_t point = text.find('.');
  if (point != std::string::npos) text.resize(std::min(text.size(), point + 2));
  return text + " UTC";
}

std::string words(std::string_view name) {
  std::string out(name);
  std::replace_if(
      out.begin(), out.end(), [](char c) { return c == '-' || c == '_'; }, ' ');
  return out;
}

std::string number(double value, const Unit& unit) { return fmt::format("{:.4g} {}", value, unit.symbol); }

std::string percent(Ratio ratio, int digits) { return fmt::format("{:.{}g} %", 100 * ratio.value(), digits); }

Table::Table(std::vector<std::string> head, std::vector<bool> right) : right_(std::move(right)) {
  right_.resize(head.size(), false);
  rows_.push_back(std::move(head));
}

void Table::add(std::vector<std::string> row) {
  row.resize(right_.size());
  rows_.push_back(std::move(row));
}

std::string Table::text(std::string_view indent) const {
  std::vector<std::size_t> width(right_.size(), 0);
  for (const auto& row : rows_) {
    for (std::size_t i = 0; i < row.size(); ++i) width[i] = std::max(width[i], code_points(row[i]));
  }
  std::string out;
  for (const auto& row : rows_) {
    std::string line(indent);
    for (std::size_t i = 0; i < row.size(); ++i) {
      const std::string pad(width[i] - code_points(row[i]), ' ');
      line += right_[i] ? pad + row[i] : row[i] + pad;
      line += "  ";
    }
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + '\n';
  }
  return out;
}

std::string wrapped(std::string_view text, std::size_t indent, std::size_t width) {
  std::string out;
  std::size_t column = indent;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find(' '), text.size());
    const std::string_view word = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    const std::size_t length = code_points(word);
    if (column > indent && column + 1 + length > width) {
      out += '\n' + std::string(indent, ' ');
      column = indent;
    } else if (column > indent) {
      out += ' ';
      ++column;
    }
    out += word;
    column += length;
  }
  return out;
}

Table step_table(const run::Account& account) {
  Table table({"step", "kind", "start", "planned", "actual", "ended by"},
              {false, false, false, true, true, false});
  for (const run::StepAccount& step : account.steps) {
    const std::string planned = step.planned ? words(*step.planned) : "";
    if (!step.found) {
      table.add({step.step, words(plan::name(step.kind)), "", planned, "", "not in the log"});
    } else {
      table.add({step.step, words(plan::name(step.kind)), words(step.start), planned, words(step.actual),
                 step.ended_by});
    }
  }
  return table;
}

Table budget_table(const run::Film& film) {
  Table table({"input", "standard uncertainty", "contributes", "share of variance"},
              {false, true, true, true});
  for (const model::BudgetLine& line : film.budget) {
    table.add(
        {line.input, percent(line.standard_uncertainty), percent(line.contribution), percent(line.share)});
  }
  return table;
}

std::string file_of(int index, const run::Account& account) {
  return account.log_files.size() > 1 ? account.log_files.at(static_cast<std::size_t>(index)) : std::string{};
}

Table oddity_table(const run::Account& account) {
  const bool several = account.log_files.size() > 1;
  Table table = several ? Table({"what", "count", "first at line", "of"}, {false, true, true, false})
                        : Table({"what", "count", "first at line"}, {false, true, true});
  for (std::size_t i = 0; i < account.log.count.size(); ++i) {
    if (account.log.count[i] == 0) continue;
    const auto what = static_cast<log::Oddity>(i);
    const auto first = std::find_if(account.log.first.begin(), account.log.first.end(),
                                    [&](const log::Event& event) { return event.what == what; });
    const bool known = first != account.log.first.end();
    std::vector<std::string> cells = {log::name(what), std::to_string(account.log.count[i]),
                                      known ? std::to_string(first->line) : ""};
    if (several) cells.push_back(known ? file_of(first->file, account) : "");
    table.add(std::move(cells));
  }
  return table;
}

std::string film_sentence(const run::Film& film) {
  const Unit& nm = unit("nm", Kind::length);
  const std::string wanted =
      fmt::format("wanted {} +/- {}", number(in(film.wanted, nm), nm), number(in(film.tolerance, nm), nm));
  if (!film.claimed) return fmt::format("no thickness is claimed: {} ({})", film.why_not, wanted);
  return fmt::format("{} (k = {:g}), {}",
                     with_uncertainty(film.mean.value, expanded(film.mean, film.coverage_factor), nm),
                     film.coverage_factor, wanted);
}

DeviationWords words(const run::Deviation& deviation, const run::Account& account) {
  DeviationWords out;
  out.when = words(deviation.start);
  const double seconds = static_cast<double>(deviation.end.ns - deviation.start.ns) * 1e-9;
  if (seconds > 0) out.when += fmt::format(", for {}", words(Duration::from_value(seconds)));
  if (deviation.line != 0) {
    const std::string file = file_of(deviation.line.file, account);
    out.when += fmt::format(" (log line {}{}{})", deviation.line.number, file.empty() ? "" : " of ", file);
  }
  out.what =
      fmt::format("{} in step '{}' ({})", words(deviation.rule), deviation.step, run::name(deviation.origin));
  if (deviation.step.empty())
    out.what = fmt::format("{} ({})", words(deviation.rule), run::name(deviation.origin));
  if (deviation.worst) {
    out.measured = fmt::format("{}{}worst {}", deviation.channel, deviation.channel.empty() ? "" : ": ",
                               number(*deviation.worst, deviation.unit));
    if (deviation.limit) out.measured += fmt::format(", limit {}", number(*deviation.limit, deviation.unit));
    if (deviation.integral) {
      out.measured +=
          fmt::format(", beyond it {:.3g} {} s in all", *deviation.integral, deviation.unit.symbol);
    }
  } else {
    out.measured = deviation.channel;
  }
  out.effect = deviation.effect;
  out.advice = deviation.advice;
  return out;
}

}  // namespace vacuary::report
