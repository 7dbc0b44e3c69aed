#include <fmt/format.h>

#include <iterator>

#include "record/trend.hpp"
#include "record/trend_words.hpp"

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

std::string uncertainty_text(const Point::Value& figure, const char* none) {
  return figure.expanded_uncertainty ? fmt::format("{}", *figure.expanded_uncertainty) : none;
}

// What the charts say of point `i`, if they look at it. `next` walks along with `i`.
const Charted* charted_at(const Trend& t, std::size_t i, std::size_t& next) {
  if (next < t.charted.size() && t.charted[next].point == i) return &t.charted[next++];
  return nullptr;
}

std::string usual_text(const Trend& t) {
  if (t.charted.empty()) {
    return "  charts    none: they look at the first value of each subject, and there are fewer than 3\n";
  }
  const std::string unit = unit_after(t.unit);
  std::string out =
      fmt::format("  usual     {:.5g}{}, single values within {:.5g} and {:.5g}, by the first {}{}\n",
                  t.single.centre, unit, t.single.lower, t.single.upper, t.baseline,
                  t.baseline < 20 ? ": few, so these limits are rough" : "");
  return out + fmt::format("  smoothed  {:.5g}{}, usually within {:.5g} and {:.5g} (EWMA)\n",
                           t.charted.back().smoothed, unit, t.smooth.lower, t.smooth.upper);
}

std::string signals_text(const Trend& t) {
  constexpr std::size_t most_shown = 20;
  if (t.charted.empty()) return {};
  if (t.signals.empty()) return "  signals   none\n";
  const std::size_t hidden = t.signals.size() > most_shown ? t.signals.size() - most_shown : 0;
  std::string out = fmt::format("  signals   {}{}\n", t.signals.size(), hidden > 0 ? ", the last 20:" : "");
  for (std::size_t i = hidden; i < t.signals.size(); ++i) {
    out += fmt::format("    entry {} ({}), {}: {}\n", t.signals[i].entry, plain_text(t.signals[i].run),
                       t.signals[i].chart, t.signals[i].words);
  }
  return out;
}

}  // namespace

std::string trend_text(const Trend& t) {
  const std::string unit = unit_after(t.unit);
  std::string out = fmt::format("{}, {} values from {} to {}\n", plain_text(t.figure), t.points.size(),
                                to_rfc3339(*t.points.front().at).substr(0, 10),
                                to_rfc3339(*t.points.back().at).substr(0, 10));
  const Point::Value& last = t.points.back().figure;
  out += fmt::format("  last      {:.5g}{}{}{}\n", last.value,
                     last.expanded_uncertainty ? fmt::format(" +/- {:.2g}", *last.expanded_uncertainty) : "",
                     unit, last.subject.empty() ? "" : " of " + plain_text(last.subject));
  out += usual_text(t);
  out += fmt::format("  drift     {}\n", plain_text(t.drift));
  if (!t.outlook.empty()) out += fmt::format("  outlook   {}\n", t.outlook);
  return out + signals_text(t);
}

std::string trend_csv(const Trend& t) {
  std::string out = fmt::format(
      "entry,run,time,{0},expanded_uncertainty [{1}],subject,ewma [{1}],cusum_high [{1}],cusum_low [{1}]\r\n",
      csv_text(fmt::format("{} [{}]", t.figure, t.unit)), t.unit);
  std::size_t next = 0;
  for (std::size_t i = 0; i < t.points.size(); ++i) {
    const Point& p = t.points[i];
    fmt::format_to(std::back_inserter(out), "{},{},{},{},{},{}", p.entry, csv_text(p.run), to_rfc3339(*p.at),
                   p.figure.value, uncertainty_text(p.figure, ""), csv_text(p.figure.subject));
    if (const Charted* c = charted_at(t, i, next)) {
      fmt::format_to(std::back_inserter(out), ",{},{},{}\r\n", c->smoothed, c->high, c->low);
    } else {
      out += ",,,\r\n";
    }
  }
  return out;
}

std::string trend_json(const Trend& t) {
  std::string out = fmt::format("{{\n \"format\": \"vacuary-trend 1\",\n \"figure\": {},\n \"unit\": {},\n",
                                json_text(t.figure), json_text(t.unit));
  if (!t.charted.empty()) {
    out += fmt::format(
        " \"single_values\": {{\"centre\": {}, \"sigma\": {}, \"lower\": {}, \"upper\": {}, \"baseline\": "
        "{}}},\n",
        t.single.centre, t.single.sigma, t.single.lower, t.single.upper, t.baseline);
    out += fmt::format(" \"ewma\": {{\"lower\": {}, \"upper\": {}}},\n \"cusum\": {{\"limit\": {}}},\n",
                       t.smooth.lower, t.smooth.upper, t.sum_limit);
  }
  out += fmt::format(" \"subject\": {},\n \"drifting\": {},\n \"drift\": {},\n \"outlook\": {},\n",
                     json_text(t.subject), t.drifting, json_text(t.drift), json_text(t.outlook));
  if (t.line) {
    out +=
        fmt::format(" \"line\": {{\"slope_per_day\": {}, \"standard_uncertainty\": {}, \"values\": {}}},\n",
                    t.line->slope, t.line->u_slope, t.line->count);
  }
  if (t.forecast) {
    out += fmt::format(
        " \"forecast\": {{\"bound\": {}, \"when\": {}, \"earliest\": {}, \"latest\": {}, \"coverage\": "
        "0.95}},\n",
        t.forecast->bound, json_text(to_rfc3339(t.forecast->when)),
        json_text(to_rfc3339(t.forecast->earliest)), json_text(to_rfc3339(t.forecast->latest)));
  }
  out += " \"signals\": [";
  for (std::size_t i = 0; i < t.signals.size(); ++i) {
    const Signal& s = t.signals[i];
    out += fmt::format("{}\n  {{\"entry\": {}, \"run\": {}, \"chart\": {}, \"words\": {}}}",
                       i == 0 ? "" : ",", s.entry, json_text(s.run), json_text(s.chart), json_text(s.words));
  }
  out += "],\n \"points\": [";
  std::size_t next = 0;
  for (std::size_t i = 0; i < t.points.size(); ++i) {
    const Point& p = t.points[i];
    fmt::format_to(std::back_inserter(out),
                   "{}\n  {{\"entry\": {}, \"run\": {}, \"time\": {}, \"value\": {}, "
                   "\"expanded_uncertainty\": {}, \"subject\": {}",
                   i == 0 ? "" : ",", p.entry, json_text(p.run), json_text(to_rfc3339(*p.at)), p.figure.value,
                   uncertainty_text(p.figure, "null"), json_text(p.figure.subject));
    if (const Charted* c = charted_at(t, i, next)) {
      fmt::format_to(std::back_inserter(out), ", \"ewma\": {}, \"cusum_high\": {}, \"cusum_low\": {}",
                     c->smoothed, c->high, c->low);
    }
    out += '}';
  }
  return out + "]\n}\n";
}

}  // namespace vacuary::record
