#include <fmt/format.h>

#include <algorithm>

#include "record/trend.hpp"

namespace vacuary::record {
namespace {

std::string json_text(const std::string& text) {
  std::string out = "\"";
  for (const char ch : text) {
    const auto byte = static_cast<unsigned char>(ch);
    if (ch == '"' || ch == '\\') {
      out += '\\';
      out += ch;
    } else if (byte < 0x20) {
      out += fmt::format("\\u{:04x}", byte);
    } else {
      out += ch;
    }
  }
  return out + "\"";
}

std::string csv_text(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char ch : text) out += ch == '"' ? "\"\"" : std::string(1, ch);
  return out + "\"";
}

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

std::string uncertainty_text(const Figure& figure, const char* none) {
  return figure.expanded_uncertainty ? fmt::format("{}", *figure.expanded_uncertainty) : none;
}

// Values over the number of the run, with the limits.
class Picture {
 public:
  explicit Picture(const Trend& t) : t_(t), low_(t.single.lower), high_(t.single.upper) {
    for (const Point& p : t.points) {
      low_ = std::min(low_, p.figure.value);
      high_ = std::max(high_, p.figure.value);
    }
    const double margin = high_ > low_ ? 0.05 * (high_ - low_) : 1;
    low_ -= margin;
    high_ += margin;
  }

  [[nodiscard]] std::string svg() const {
    std::string out = fmt::format("<svg viewBox=\"0 0 {} {}\" role=\"img\"><title>{} over {} runs</title>\n",
                                  width, height, html_text(t_.figure), t_.points.size());
    out += level(t_.single.centre, "centre") + level(t_.single.lower, "lower limit") +
           level(t_.single.upper, "upper limit");
    out += "<polyline class=\"smooth\" points=\"";
    for (std::size_t i = 0; i < t_.points.size(); ++i)
      out += fmt::format("{:.1f},{:.1f} ", x(i), y(t_.smoothed[i]));
    out += "\"/>\n";
    // A page stays readable with any number of runs: of many, every n-th is drawn.
    const std::size_t step = std::max<std::size_t>(1, t_.points.size() / 2000);
    for (std::size_t i = 0; i < t_.points.size(); i += step) {
      const Point& p = t_.points[i];
      out += fmt::format(
          "<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"3\"><title>{} {}: {:.5g} {}</title></circle>\n", x(i),
          y(p.figure.value), html_text(p.run), html_text(p.started), p.figure.value, html_text(t_.unit));
    }
    return out + "</svg>\n";
  }

 private:
  static constexpr double width = 900, height = 320, margin_x = 10;
  [[nodiscard]] double x(std::size_t i) const {
    return margin_x +
           (width - 2 * margin_x) * static_cast<double>(i) / static_cast<double>(t_.points.size() - 1);
  }
  [[nodiscard]] double y(double value) const { return height * (high_ - value) / (high_ - low_); }
  [[nodiscard]] std::string level(double value, const char* label) const {
    return fmt::format(
        "<line x1=\"0\" x2=\"{}\" y1=\"{:.1f}\" y2=\"{:.1f}\"/><text x=\"12\" y=\"{:.1f}\">{} "
        "{:.5g}</text>\n",
        width, y(value), y(value), y(value) - 4, label, value);
  }
  const Trend& t_;
  double low_, high_;
};

}  // namespace

std::string trend_text(const Trend& t) {
  std::string out =
      fmt::format("{} in {}, {} runs from {} to {}\n", t.figure, t.unit, t.points.size(),
                  t.points.front().started.substr(0, 10), t.points.back().started.substr(0, 10));
  const Figure& last = t.points.back().figure;
  out += fmt::format("  last      {:.5g}{}\n", last.value,
                     last.expanded_uncertainty ? fmt::format(" +/- {:.2g}", *last.expanded_uncertainty) : "");
  out += fmt::format("  usual     {:.5g}, single values within {:.5g} and {:.5g}\n", t.single.centre,
                     t.single.lower, t.single.upper);
  out += fmt::format("  smoothed  {:.5g}, usually within {:.5g} and {:.5g} (EWMA)\n", t.smoothed.back(),
                     t.smooth.lower, t.smooth.upper);
  out += fmt::format("  drift     {}\n", t.drift);
  if (!t.outlook.empty()) out += fmt::format("  outlook   {}\n", t.outlook);
  constexpr std::size_t most_shown = 20;
  const std::size_t hidden = t.signals.size() > most_shown ? t.signals.size() - most_shown : 0;
  out += t.signals.empty()
             ? "  no signals\n"
             : fmt::format("  signals   {}{}\n", t.signals.size(), hidden > 0 ? ", the last 20:" : "");
  for (std::size_t i = hidden; i < t.signals.size(); ++i) {
    out += fmt::format("    entry {} ({}), {}: {}\n", t.signals[i].entry, t.signals[i].run,
                       t.signals[i].chart, t.signals[i].words);
  }
  return out;
}

std::string trend_csv(const Trend& t) {
  std::string out = fmt::format(
      "entry,run,started,{0} [{1}],expanded_uncertainty [{1}],ewma [{1}],cusum_high [{1}],cusum_low "
      "[{1}]\r\n",
      t.figure, t.unit);
  for (std::size_t i = 0; i < t.points.size(); ++i) {
    const Point& p = t.points[i];
    out += fmt::format("{},{},{},{},{},{},{},{}\r\n", p.entry, csv_text(p.run), p.started, p.figure.value,
                       uncertainty_text(p.figure, ""), t.smoothed[i], t.sums.high[i], t.sums.low[i]);
  }
  return out;
}

std::string trend_json(const Trend& t) {
  std::string out = fmt::format("{{\n \"format\": \"vacuary-trend 1\",\n \"figure\": {},\n \"unit\": {},\n",
                                json_text(t.figure), json_text(t.unit));
  out += fmt::format(" \"single_values\": {{\"centre\": {}, \"sigma\": {}, \"lower\": {}, \"upper\": {}}},\n",
                     t.single.centre, t.single.sigma, t.single.lower, t.single.upper);
  out += fmt::format(" \"ewma\": {{\"lower\": {}, \"upper\": {}}},\n \"cusum\": {{\"limit\": {}}},\n",
                     t.smooth.lower, t.smooth.upper, t.sum_limit);
  out += fmt::format(" \"drifting\": {},\n \"drift\": {},\n \"outlook\": {},\n", t.drifting,
                     json_text(t.drift), json_text(t.outlook));
  if (t.forecast) {
    out += fmt::format(
        " \"forecast\": {{\"bound\": {}, \"when\": {}, \"expanded_uncertainty_days\": {}, "
        "\"coverage_factor\": 2}},\n",
        t.forecast->bound, json_text(to_rfc3339(t.forecast->when)), t.forecast->expanded_uncertainty_days);
  }
  out += " \"signals\": [";
  for (std::size_t i = 0; i < t.signals.size(); ++i) {
    const Signal& s = t.signals[i];
    out += fmt::format("{}\n  {{\"entry\": {}, \"run\": {}, \"chart\": {}, \"words\": {}}}",
                       i == 0 ? "" : ",", s.entry, json_text(s.run), json_text(s.chart), json_text(s.words));
  }
  out += "],\n \"points\": [";
  for (std::size_t i = 0; i < t.points.size(); ++i) {
    const Point& p = t.points[i];
    out += fmt::format(
        "{}\n  {{\"entry\": {}, \"run\": {}, \"started\": {}, \"value\": {}, \"expanded_uncertainty\": {}, "
        "\"ewma\": {}, "
        "\"cusum_high\": {}, \"cusum_low\": {}}}",
        i == 0 ? "" : ",", p.entry, json_text(p.run), json_text(p.started), p.figure.value,
        uncertainty_text(p.figure, "null"), t.smoothed[i], t.sums.high[i], t.sums.low[i]);
  }
  return out + "]\n}\n";
}

std::string trend_html(const Trend& t) {
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta "
      "charset=\"utf-8\"><title>{0}</title>\n<style>body{{font-family:sans-serif;"
      "max-width:60em;margin:2em auto}}svg{{width:100%;border:1px solid #999}}svg "
      "text{{font-size:11px}}line{{stroke:#999;"
      "stroke-dasharray:4}}polyline{{fill:none;stroke:#c60}}circle{{fill:#036}}</style></"
      "head>\n<body><h1>{0} in {1}</h1>\n",
      html_text(t.figure), html_text(t.unit));
  out += Picture(t).svg();
  out += "<p>Dots: single runs in order of time. Line: smoothed (EWMA).</p>\n<pre>" +
         html_text(trend_text(t)) + "</pre>\n";
  return out + "</body></html>\n";
}

}  // namespace vacuary::record
