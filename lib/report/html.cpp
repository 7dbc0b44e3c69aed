// report.html: one file that needs nothing else, readable on a phone, in the dark and on paper.
#include <fmt/format.h>

#include <algorithm>
#include <string>

#include "report/report.hpp"
#include "report/words.hpp"

namespace vacuary::report {
namespace {

constexpr const char* style_sheet = R"css(
:root{--ink:#1b2430;--soft:#5b6673;--line:#d5dbe2;--paper:#fff;--panel:#f5f7f9;--good:#1d6f42;--look:#8a5a00;--bad:#a3231f;--mark:#2a6f97}
@media(prefers-color-scheme:dark){:root{--ink:#e4e9ef;--soft:#9aa6b2;--line:#39434e;--paper:#14191f;--panel:#1c232b;--good:#6cc997;--look:#e0b35a;--bad:#ef8a84;--mark:#79b8dc}}
*{box-sizing:border-box}
body{margin:0 auto;max-width:62rem;padding:1.5rem 1.25rem 4rem;font:16px/1.5 system-ui,sans-serif;color:var(--ink);background:var(--paper)}
h1{font-size:1.5rem;margin:0}h2{font-size:1.25rem;margin:2.2rem 0 .6rem}h3{font-size:1rem;margin:1.4rem 0 .4rem}
.who{color:var(--soft);margin:.2rem 0 1.2rem}
.verdict{border-left:.45rem solid;padding:.7rem 1rem;background:var(--panel)}
.verdict strong{font-size:1.2rem}.verdict ul{margin:.4rem 0 0;padding-left:1.2rem}
.within_limits{border-color:var(--good)}.review{border-color:var(--look)}.out_of_limits{border-color:var(--bad)}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
th,td{text-align:left;padding:.35rem .8rem .35rem 0;border-bottom:1px solid var(--line);vertical-align:top}
th{color:var(--soft);font-weight:600}td.n{white-space:nowrap}
.deviation{border:1px solid var(--line);border-left-width:.35rem;padding:.6rem .9rem;margin:.7rem 0;break-inside:avoid}
.deviation.error{border-left-color:var(--bad)}.deviation.warning{border-left-color:var(--look)}.deviation.note{border-left-color:var(--mark)}
.deviation h3{font-size:1rem;margin:0 0 .3rem}
dl{display:grid;grid-template-columns:7rem 1fr;margin:0;gap:.15rem .6rem}dt{color:var(--soft)}dd{margin:0;overflow-wrap:anywhere}
svg{width:100%;height:auto;max-width:40rem}svg text{fill:var(--ink);font:13px system-ui,sans-serif}
@media print{body{max-width:none;padding:0}}
)css";

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += byte < 0x20 && c != '\n' && c != '\t' ? '?' : c;
    }
  }
  return out;
}

std::string list(const std::vector<std::string>& items) {
  if (items.empty()) return "";
  std::string out = "<ul>\n";
  for (const std::string& item : items) out += "<li>" + escaped(item) + "</li>\n";
  return out + "</ul>\n";
}

std::string html_table(const Table& table, std::string_view caption) {
  std::string out = fmt::format("<div class=\"scroll\"><table aria-label=\"{}\">\n", escaped(caption));
  bool head = true;
  for (const auto& row : table.rows()) {
    out += "<tr>";
    for (std::size_t c = 0; c < row.size(); ++c) {
      const char* open = head ? "<th scope=\"col\">" : table.is_number(c) ? "<td class=\"n\">" : "<td>";
      out += open + escaped(row[c]) + (head ? "</th>" : "</td>");
    }
    out += "</tr>\n";
    head = false;
  }
  return out + "</table></div>\n";
}

// The stated interval against the tolerance, on one line to scale.
std::string interval_picture(const run::Film& film) {
  const Unit& nm = unit("nm", Kind::length);
  const double mean = in(film.mean.value, nm);
  const double half = in(expanded(film.mean, film.coverage_factor), nm);
  const double wanted = in(film.wanted, nm);
  const double tolerance = in(film.tolerance, nm);
  const double reach = 1.25 * std::max({tolerance, std::abs(mean - wanted) + half, 1e-9});
  const auto x = [&](double value) { return 320 + 280 * (value - wanted) / reach; };
  const std::string said = film_sentence(film);
  std::string out =
      fmt::format("<svg viewBox=\"0 0 640 96\" role=\"img\" aria-label=\"{}\"><title>{}</title>\n",
                  escaped(said), escaped(said));
  out += fmt::format(
      "<rect x=\"{:.1f}\" y=\"18\" width=\"{:.1f}\" height=\"36\" fill=\"var(--good)\" opacity=\".18\"/>\n",
      x(wanted - tolerance), x(wanted + tolerance) - x(wanted - tolerance));
  out += fmt::format(
      "<line x1=\"{0:.1f}\" y1=\"36\" x2=\"{1:.1f}\" y2=\"36\" stroke=\"var(--mark)\" stroke-width=\"3\"/>\n",
      x(mean - half), x(mean + half));
  for (const double end : {mean - half, mean + half}) {
    out += fmt::format(
        "<line x1=\"{0:.1f}\" y1=\"27\" x2=\"{0:.1f}\" y2=\"45\" stroke=\"var(--mark)\" "
        "stroke-width=\"3\"/>\n",
        x(end));
  }
  out += fmt::format("<circle cx=\"{:.1f}\" cy=\"36\" r=\"6\" fill=\"var(--mark)\"/>\n", x(mean));
  for (const double edge : {wanted - tolerance, wanted, wanted + tolerance}) {
    out +=
        fmt::format("<text x=\"{:.1f}\" y=\"76\" text-anchor=\"middle\">{:.4g} nm</text>\n", x(edge), edge);
  }
  return out + "</svg>\n<p>Shaded: the tolerance. Bar: the 95 % interval of the mean thickness.</p>\n";
}

std::string map_section(const run::Film& film) {
  const run::OnOptic& on_optic = *film.on_optic;
  std::string out = "<h3>Where it lies</h3>\n" + film_map_picture(on_optic);
  out += fmt::format(
      "<p>Seen from the coated side. The triangle at the top is the {}; angles in degrees grow {}. Rings "
      "mark "
      "the thinnest and the thickest place.</p>\n<dl>\n",
      escaped(on_optic.fiducial), on_optic.sense);
  for (const Said& said : film_map_words(on_optic, film.wanted, film.tolerance))
    out += fmt::format("<dt>{}</dt><dd>{}</dd>\n", said.what, escaped(said.text));
  out += "</dl>\n";
  const Table sectors = sector_table(on_optic);
  if (!sectors.empty())
    out += "<h3>Thin and thick sectors, against the rest of the same radius</h3>\n" +
           html_table(sectors, "sectors");
  if (on_optic.map.shape.empty()) return out;
  Table shape({"geometry, one standard uncertainty more", "mean", "inner edge", "outer edge"},
              {false, true, true, true});
  const auto moved = [](Ratio change) { return fmt::format("{:+.2f} %", 100 * change.value()); };
  for (const model::ShapeInput& input : on_optic.map.shape)
    shape.add({input.input, moved(input.mean_change), moved(input.inner_change), moved(input.outer_change)});
  return out + "<h3>What the shape rests on</h3>\n" + html_table(shape, "shape of the film");
}

std::string film_section(const run::Film& film) {
  if (film.wanted.value() <= 0) return "";
  std::string out =
      "<h2>Film</h2>\n<p>Mean thickness: <strong>" + escaped(film_sentence(film)) + "</strong></p>\n";
  if (film.claimed) {
    out += interval_picture(film);
    if (film.on_optic) out += map_section(film);
    out +=
        "<h3>What the uncertainty is made of</h3>\n" + html_table(budget_table(film), "uncertainty budget");
  }
  if (film.estimates)
    out +=
        "<h3>Several estimates of the mean</h3>\n" + html_table(estimate_table(*film.estimates), "estimates");
  out += list(estimate_sentences(film));
  if (!film.assumed.empty()) out += "<h3>Assumed</h3>\n" + list(film.assumed);
  return out;
}

std::string measured_section(const run::Account& account) {
  const std::vector<std::string> sentences = measured_sentences(account);
  return sentences.empty() ? "" : "<h2>Measured</h2>\n" + list(sentences);
}

std::string deviation_section(const run::Account& account) {
  std::string out = "<h2>Deviations</h2>\n";
  if (account.deviations.empty()) return out + "<p>None.</p>\n";
  for (const run::Deviation& deviation : account.deviations) {
    const DeviationWords w = words(deviation, account);
    out += fmt::format("<div class=\"deviation {}\"><h3>{}: {}</h3><dl>\n", name(deviation.severity),
                       name(deviation.severity), escaped(w.what));
    const auto row = [&](const char* term, const std::string& text) {
      if (!text.empty()) out += fmt::format("<dt>{}</dt><dd>{}</dd>\n", term, escaped(text));
    };
    row("when", w.when);
    row("measured", w.measured);
    row("film", w.effect);
    row("advice", w.advice);
    out += "</dl></div>\n";
  }
  return out;
}

std::string vacuum_section(const run::VacuumHealth& vacuum) {
  const std::vector<std::string> sentences = vacuum_sentences(vacuum);
  if (sentences.empty() && vacuum.verdicts.empty()) return "";
  std::string out = "<h2>Vacuum</h2>\n";
  for (const run::HealthVerdict& verdict : vacuum.verdicts) {
    const VerdictWords w = words(verdict);
    out += fmt::format("<p><strong>{}</strong></p>\n{}", escaped(w.said), list(w.evidence));
    if (!w.advice.empty()) out += fmt::format("<p>{}</p>\n", escaped(w.advice));
  }
  out += list(sentences);
  const Table normal = normal_table(vacuum);
  if (!normal.empty())
    out += "<h3>Against what is normal here</h3>\n" + html_table(normal, "against what is normal");
  return out;
}

std::string quality_section(const run::FilmQuality& quality) {
  const std::vector<std::string> sentences = quality_sentences(quality);
  if (sentences.empty()) return "";
  std::string out = "<h2>Quality of the film</h2>\n" + list(sentences);
  const std::vector<std::string> assumed = quality_assumptions(quality);
  if (!assumed.empty()) out += "<h3>Assumed</h3>\n" + list(assumed);
  return out;
}

std::string log_section(const run::Account& account) {
  std::string out = "<h2>Log</h2>\n" + list(account.log_files);
  out += fmt::format("<p>{} rows from {} to {}; steps taken from: {}.</p>\n", account.log.rows,
                     words(account.log.start), words(account.log.end), escaped(account.steps_from));
  const Table oddities = oddity_table(account);
  out += oddities.empty() ? "<p>Nothing odd in it.</p>\n" : html_table(oddities, "what was odd in the log");
  if (!account.missing.empty()) out += "<p>Not in this log, and wanted:</p>\n" + list(account.missing);
  if (!account.notes.empty()) out += "<p>How readings became values:</p>\n" + list(account.notes);
  if (!account.unmapped.empty()) out += "<p>Columns not used:</p>\n" + list(account.unmapped);
  return out;
}

const char* verdict_words(run::Verdict verdict) {
  switch (verdict) {
    case run::Verdict::within_limits:
      return "Within limits";
    case run::Verdict::review:
      return "Review: a person has to look before this film is accepted";
    case run::Verdict::out_of_limits:
      break;
  }
  return "Out of limits";
}

}  // namespace

std::string account_html(const run::Account& account) {
  const std::string title = fmt::format("{}, revision {}", account.recipe, account.revision);
  std::string who = account.chamber;
  if (!account.optic.empty()) who += ", " + account.optic;
  std::string out = fmt::format(
      "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta name=\"viewport\" "
      "content=\"width=device-width,initial-scale=1\">\n<title>{}</title>\n<style>{}</style>\n"
      "</head>\n<body>\n<main>\n<h1>{}</h1>\n<p class=\"who\">{}</p>\n",
      escaped(title), style_sheet, escaped(title), escaped(who));
  out += fmt::format("<div class=\"verdict {}\"><strong>{}</strong>\n{}</div>\n", run::name(account.verdict),
                     verdict_words(account.verdict), list(account.reasons));
  out += film_section(account.film);
  out += "<h2>Steps</h2>\n" + html_table(step_table(account), "steps with planned and actual times");
  out += deviation_section(account);
  out += vacuum_section(account.vacuum) + quality_section(account.quality);
  out += measured_section(account);
  out += log_section(account);
  if (!account.safety.empty()) out += "<h2>Before anyone opens the vessel</h2>\n" + list(account.safety);
  return out + "</main>\n</body>\n</html>\n";
}

}  // namespace vacuary::report
