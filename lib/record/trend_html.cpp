// A trend as one page that needs nothing else: the picture, what is said of it, and the values.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <set>

#include "record/trend.hpp"
#include "record/trend_words.hpp"

namespace vacuary::record {
namespace {

constexpr double ns_per_day = 86400e9;

std::string html_text(const std::string& text) {
  std::string out;
  for (const char ch : text) {
    out += ch == '<'   ? "&lt;"
           : ch == '>' ? "&gt;"
           : ch == '&' ? "&amp;"
           : ch == '"' ? "&quot;"
                       : std::string(1, ch);
  }
  return out;
}

// A round step of 1, 2 or 5 times a power of ten that divides `span` into at most `most` parts.
double round_step(double span, double most) {
  const double power = std::pow(10.0, std::floor(std::log10(span / most)));
  for (const double times : {1.0, 2.0, 5.0}) {
    if (power * times * most >= span) return power * times;
  }
  return power * 10;
}

class Picture {
 public:
  explicit Picture(const Trend& t) : t_(t), first_(t.points.front().at->ns), last_(t.points.back().at->ns) {
    if (t.forecast && worth_showing(*t.forecast)) last_ = std::max(last_, t.forecast->latest.ns);
    if (last_ == first_) last_ = first_ + 1;
    low_ = high_ = t.points.front().figure.value;
    for (const Point& p : t.points) {
      const double u = with_bars() ? p.figure.expanded_uncertainty.value_or(0) : 0;
      include(p.figure.value - u);
      include(p.figure.value + u);
    }
    if (!t.charted.empty()) {
      include(t.single.lower);
      include(t.single.upper);
    }
    if (t.forecast && worth_showing(*t.forecast)) include(t.forecast->bound);
    const double margin = high_ > low_ ? 0.06 * (high_ - low_) : std::max(std::abs(high_), 1.0) * 0.1;
    low_ -= margin;
    high_ += margin;
  }

  [[nodiscard]] std::string svg() const {
    std::string out = fmt::format("<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{} over time\">\n",
                                  width, height, html_text(t_.figure));
    out += axes();
    if (!t_.charted.empty()) out += limits() + smoothed();
    out += dots();
    if (t_.line) out += fitted();
    return out + "</svg>\n";
  }

 private:
  static constexpr double width = 960, height = 420, left = 80, right = 20, top = 20, bottom = 40;

  // A forecast far beyond what was measured would squeeze the values into a corner.
  [[nodiscard]] bool worth_showing(const Forecast& f) const {
    return static_cast<double>(f.latest.ns - first_) <
           5 * static_cast<double>(t_.points.back().at->ns - first_);
  }
  // Of very many values the bars would hide the dots.
  [[nodiscard]] bool with_bars() const { return t_.points.size() <= 400; }
  void include(double value) {
    low_ = std::min(low_, value);
    high_ = std::max(high_, value);
  }
  [[nodiscard]] double x(std::int64_t ns) const {
    return left +
           (width - left - right) * static_cast<double>(ns - first_) / static_cast<double>(last_ - first_);
  }
  [[nodiscard]] double y(double value) const {
    return top + (height - top - bottom) * (high_ - value) / (high_ - low_);
  }
  [[nodiscard]] std::size_t step() const {  // a page stays readable: of many values every n-th is drawn
    constexpr std::size_t most_drawn = 4000;
    return 1 + (t_.points.size() - 1) / most_drawn;
  }

  [[nodiscard]] std::string axes() const {
    std::string out;
    const double value_step = round_step(high_ - low_, 6);
    for (double v = std::ceil(low_ / value_step) * value_step; v <= high_; v += value_step) {
      const double shown = std::abs(v) < value_step * 1e-9 ? 0 : v;
      out += fmt::format(
          "<line class=\"grid\" x1=\"{0}\" x2=\"{1}\" y1=\"{2:.1f}\" y2=\"{2:.1f}\"/><text class=\"value\" "
          "x=\"{3}\" y=\"{4:.1f}\">{5:.4g}</text>\n",
          left, width - right, y(v), left - 8, y(v) + 4, shown);
    }
    constexpr int dates = 5;
    for (int i = 0; i <= dates; ++i) {
      const std::int64_t at = first_ + (last_ - first_) / dates * i;
      out +=
          fmt::format("<text class=\"date\" x=\"{:.1f}\" y=\"{}\"{}>{}</text>\n", x(at), height - 14,
                      i == dates ? " style=\"text-anchor:end\"" : "", to_rfc3339(Instant{at}).substr(0, 10));
    }
    return out + fmt::format("<text class=\"unit\" x=\"{}\" y=\"{}\">{} [{}]</text>\n", left, top - 6,
                             html_text(t_.figure), html_text(t_.unit));
  }

  [[nodiscard]] std::string limits() const {
    std::string out = fmt::format(
        "<rect class=\"usual\" x=\"{}\" width=\"{}\" y=\"{:.1f}\" height=\"{:.1f}\"><title>usual: single "
        "values "
        "within {:.5g} and {:.5g}</title></rect>\n",
        left, width - left - right, y(t_.single.upper), y(t_.single.lower) - y(t_.single.upper),
        t_.single.lower, t_.single.upper);
    return out + fmt::format("<line class=\"centre\" x1=\"{0}\" x2=\"{1}\" y1=\"{2:.1f}\" y2=\"{2:.1f}\"/>\n",
                             left, width - right, y(t_.single.centre));
  }

  [[nodiscard]] std::string smoothed() const {
    std::string out = "<polyline class=\"smooth\" points=\"";
    for (std::size_t i = 0; i < t_.charted.size(); i += step()) {
      fmt::format_to(std::back_inserter(out), "{:.1f},{:.1f} ", x(t_.points[t_.charted[i].point].at->ns),
                     y(t_.charted[i].smoothed));
    }
    return out + "\"><title>smoothed (EWMA)</title></polyline>\n";
  }

  // The values with what the charts called out; those are never left out.
  [[nodiscard]] std::string dots() const {
    std::set<std::size_t> signalled;
    for (const Signal& s : t_.signals) signalled.insert(s.point);
    std::string out;
    for (std::size_t i = 0; i < t_.points.size(); ++i) {
      const Point& p = t_.points[i];
      const bool called_out = signalled.count(i) != 0;
      if (i % step() != 0 && (!called_out || signalled.size() > 4000)) continue;
      const double px = x(p.at->ns);
      if (p.figure.expanded_uncertainty && with_bars()) {
        fmt::format_to(std::back_inserter(out),
                       "<line class=\"bar\" x1=\"{0:.1f}\" x2=\"{0:.1f}\" y1=\"{1:.1f}\" y2=\"{2:.1f}\"/>",
                       px, y(std::min(p.figure.value + *p.figure.expanded_uncertainty, high_)),
                       y(std::max(p.figure.value - *p.figure.expanded_uncertainty, low_)));
      }
      fmt::format_to(std::back_inserter(out),
                     "<circle class=\"{}\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"{}\"><title>entry {}, {}, {}: "
                     "{:.5g}{}{}</title></circle>\n",
                     called_out ? "signal" : "value", px, y(p.figure.value), called_out ? 5 : 3, p.entry,
                     html_text(p.run), to_rfc3339(*p.at), p.figure.value, html_text(unit_after(t_.unit)),
                     p.figure.subject.empty() ? "" : " of " + html_text(p.figure.subject));
    }
    return out;
  }

  [[nodiscard]] std::string fitted() const {
    const StraightLine& l = *t_.line;
    const bool ahead = t_.forecast && worth_showing(*t_.forecast);
    const std::int64_t from = t_.points[t_.on.front()].at->ns;
    const std::int64_t to = ahead ? t_.forecast->when.ns : t_.points[t_.on.back()].at->ns;
    const auto value = [&](std::int64_t ns) {
      return l.intercept + l.slope * static_cast<double>(ns - first_) / ns_per_day;
    };
    std::string out = fmt::format(
        "<line class=\"fit\" x1=\"{:.1f}\" x2=\"{:.1f}\" y1=\"{:.1f}\" y2=\"{:.1f}\"><title>straight "
        "line{}</title>"
        "</line>\n",
        x(from), x(to), y(value(from)), y(value(to)),
        t_.subject.empty() ? "" : " through " + html_text(t_.subject));
    if (!ahead) return out;
    const Forecast& f = *t_.forecast;
    return out +
           fmt::format(
               "<line class=\"bound\" x1=\"{0}\" x2=\"{1}\" y1=\"{2:.1f}\" y2=\"{2:.1f}\"/><text x=\"{3}\" "
               "y=\"{4:.1f}\">{5:.5g}{6}</text><line class=\"reached\" x1=\"{7:.1f}\" x2=\"{8:.1f}\" "
               "y1=\"{2:.1f}\" y2=\"{2:.1f}\"><title>reached between {9} and {10} (95 %)</title></line>\n",
               left, width - right, y(f.bound), left + 6, y(f.bound) - 6, f.bound,
               html_text(unit_after(t_.unit)), x(std::max(f.earliest.ns, first_)), x(f.latest.ns),
               to_rfc3339(f.earliest).substr(0, 10), to_rfc3339(f.latest).substr(0, 10));
  }

  const Trend& t_;
  std::int64_t first_, last_;
  double low_ = 0, high_ = 0;
};

const char* const style = R"(<style>
:root{color-scheme:light dark;--ink:#222;--faint:#767676;--line:#ddd;--usual:#e8f0e8;--value:#1f5a99;--odd:#b3261e;--smooth:#b06000;--page:#fff}
@media (prefers-color-scheme:dark){:root{--ink:#e6e6e6;--faint:#9a9a9a;--line:#3a3a3a;--usual:#22302a;--value:#7db4ec;--odd:#ff8a80;--smooth:#f0b060;--page:#161616}}
body{font:16px/1.5 system-ui,sans-serif;max-width:62rem;margin:2rem auto;padding:0 1rem;color:var(--ink);background:var(--page)}
h1{font-size:1.5rem;margin:0 0 1rem}dl{display:grid;grid-template-columns:max-content 1fr;gap:.3rem 1.2rem}dt{color:var(--faint)}dd{margin:0}
svg{width:100%;height:auto}svg text{font-size:13px;fill:var(--ink)}.value{fill:var(--value)}text.value{text-anchor:end;fill:var(--faint)}
text.date{text-anchor:middle;fill:var(--faint)}.grid{stroke:var(--line)}.usual{fill:var(--usual)}.centre{stroke:var(--faint);stroke-dasharray:6 4}
.smooth{fill:none;stroke:var(--smooth);stroke-width:1.5}.bar{stroke:var(--value);opacity:.35}.signal{fill:var(--odd)}
.fit{stroke:var(--ink);stroke-width:1.5;stroke-dasharray:2 3}.bound{stroke:var(--odd);stroke-dasharray:6 4}.reached{stroke:var(--odd);stroke-width:5;opacity:.6}
.scroll{overflow-x:auto}table{border-collapse:collapse;width:100%}th,td{text-align:left;padding:.25rem .6rem;border-bottom:1px solid var(--line)}td.n,th.n{text-align:right;font-variant-numeric:tabular-nums}
</style>)";

std::string said(const Trend& t) {
  std::string out = "<dl>\n";
  const auto line = [&](const char* what, const std::string& words) {
    out += fmt::format("<dt>{}</dt><dd>{}</dd>\n", what, html_text(words));
  };
  const Point::Value& last = t.points.back().figure;
  const std::string unit = unit_after(t.unit);
  line("Last",
       fmt::format("{:.5g}{}{}", last.value,
                   last.expanded_uncertainty ? fmt::format(" +/- {:.2g}", *last.expanded_uncertainty) : "",
                   unit));
  if (!t.charted.empty()) {
    line("Usual", fmt::format("{:.5g}{}, single values within {:.5g} and {:.5g}, by the first {}{}",
                              t.single.centre, unit, t.single.lower, t.single.upper, t.baseline,
                              t.baseline < 20 ? ": few, so these limits are rough" : ""));
  }
  line("Drift", t.drift);
  if (!t.outlook.empty()) line("Outlook", t.outlook);
  return out + "</dl>\n";
}

std::string signal_table(const Trend& t) {
  if (t.charted.empty()) return {};
  if (t.signals.empty()) return "<p>No value, and no small shift, stands out.</p>\n";
  constexpr std::size_t most = 200;
  const std::size_t hidden = t.signals.size() > most ? t.signals.size() - most : 0;
  std::string out = fmt::format(
      "<h2>What stands out{}</h2>\n<div class=\"scroll\"><table><tr><th "
      "class=\"n\">Entry</th><th>Run</th><th>Chart</th><th>What</th></tr>\n",
      hidden > 0 ? fmt::format(": the last {} of {}", most, t.signals.size()) : "");
  for (std::size_t i = t.signals.size(); i-- > hidden;) {
    const Signal& s = t.signals[i];
    out += fmt::format("<tr><td class=\"n\">{}</td><td>{}</td><td>{}</td><td>{}</td></tr>\n", s.entry,
                       html_text(s.run), html_text(s.chart), html_text(s.words));
  }
  return out + "</table></div>\n";
}

std::string value_table(const Trend& t) {
  constexpr std::size_t most = 200;
  const std::size_t hidden = t.points.size() > most ? t.points.size() - most : 0;
  std::string out = fmt::format(
      "<details><summary>Values{}</summary><div class=\"scroll\"><table><tr><th "
      "class=\"n\">Entry</th><th>Run</th>"
      "<th>Time</th><th class=\"n\">{} [{}]</th><th class=\"n\">+/- (k = 2)</th><th>Of</th></tr>\n",
      hidden > 0 ? fmt::format(": the newest {} of {}", most, t.points.size()) : "", html_text(t.figure),
      html_text(t.unit));
  for (std::size_t i = t.points.size(); i-- > hidden;) {
    const Point& p = t.points[i];
    out += fmt::format(
        "<tr><td class=\"n\">{}</td><td>{}</td><td>{}</td><td class=\"n\">{:.5g}</td><td "
        "class=\"n\">{}</td><td>{}</td></tr>\n",
        p.entry, html_text(p.run), to_rfc3339(*p.at), p.figure.value,
        p.figure.expanded_uncertainty ? fmt::format("{:.2g}", *p.figure.expanded_uncertainty) : "",
        html_text(p.figure.subject));
  }
  return out + "</table></div></details>\n";
}

}  // namespace

std::string trend_html(const Trend& t) {
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<meta name=\"viewport\" "
      "content=\"width=device-width, initial-scale=1\">\n<title>Trend of "
      "{0}</title>\n{1}</head>\n<body>\n<h1>{0}: "
      "{2} values from {3} to {4}</h1>\n",
      html_text(t.figure), style, t.points.size(), to_rfc3339(*t.points.front().at).substr(0, 10),
      to_rfc3339(*t.points.back().at).substr(0, 10));
  out += Picture(t).svg();
  out += "<p>Dots: values, with their uncertainty (k = 2) where stated; red: a chart called it out. ";
  if (!t.charted.empty()) out += "Shaded: usual range of single values. Orange: smoothed (EWMA). ";
  if (t.line) out += "Dotted: straight line. ";
  if (t.points.size() > 4000) out += "Of so many values every n-th is drawn. ";
  out += "</p>\n";
  return out + said(t) + signal_table(t) + value_table(t) + "</body></html>\n";
}

}  // namespace vacuary::record
