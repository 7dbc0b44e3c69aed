// The workshop's sheet: A3 (ISO 216), a preferred scale (ISO 5455), millimetres.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/shield.hpp"

namespace vacuary::report {
namespace {

constexpr double sheet_width = 420, sheet_height = 297, margin = 10;
constexpr double left = 30, middle = 98;  // of the drawing: the axis of the optic, the centre line
constexpr double table_top = 196;
constexpr std::size_t rows_a_column = 15;
constexpr double column_width = 66;

double mm(Length length) { return length.value() * 1e3; }

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : printable(text)) {
    if (c == '<') {
      out += "&lt;";
    } else if (c == '>') {
      out += "&gt;";
    } else if (c == '&') {
      out += "&amp;";
    } else {
      out += c;
    }
  }
  return out;
}

class Sheet {
 public:
  void line(double x1, double y1, double x2, double y2, const char* kind) {
    body_ += fmt::format("  <line class=\"{}\" x1=\"{:.3f}\" y1=\"{:.3f}\" x2=\"{:.3f}\" y2=\"{:.3f}\"/>\n",
                         kind, x1, y1, x2, y2);
  }
  void text(double x, double y, const std::string& words, const char* anchor = "start", double size = 3.2) {
    body_ +=
        fmt::format("  <text x=\"{:.2f}\" y=\"{:.2f}\" text-anchor=\"{}\" font-size=\"{:.1f}\">{}</text>\n",
                    x, y, anchor, size, escaped(words));
  }
  void upright(double x, double y, const std::string& words) {
    body_ += fmt::format(
        "  <text transform=\"translate({:.2f} {:.2f}) rotate(-90)\" text-anchor=\"end\" "
        "font-size=\"2.8\">{}</text>\n",
        x, y, escaped(words));
  }
  void rectangle(double x, double y, double w, double h) {
    body_ +=
        fmt::format("  <rect class=\"thin\" x=\"{:.2f}\" y=\"{:.2f}\" width=\"{:.2f}\" height=\"{:.2f}\"/>\n",
                    x, y, w, h);
  }
  void raw(const std::string& svg) { body_ += svg; }
  void open(const char* id) { body_ += fmt::format(" <g id=\"{}\">\n", id); }
  void close() { body_ += " </g>\n"; }
  // A dimension from (x, y1) to (x, y2), its figure along it; a white seam keeps it readable on other lines.
  void dimension(double x, double y1, double y2, const std::string& words) {
    line(x, y1, x, y2, "thin");
    for (const auto& [y, away] : {std::pair(y1, 1.0), std::pair(y2, -1.0)}) {
      raw(fmt::format("  <path class=\"arrow\" d=\"M{0:.3f} {1:.3f}l-0.8 {2:.1f}h1.6z\"/>\n", x, y,
                      3 * away));
    }
    // Above the centre line where there is room.
    const double y = y2 - y1 > 30 ? y1 + (y2 - y1) / 4 : (y1 + y2) / 2;
    body_ += fmt::format(
        "  <text class=\"size\" transform=\"translate({:.2f} {:.2f}) rotate(-90)\" text-anchor=\"middle\" "
        "font-size=\"3.2\">{}</text>\n",
        x - 0.8, y, escaped(words));
  }
  [[nodiscard]] std::string svg(const std::string& title, const std::string& description) const {
    return fmt::format(
               "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
               "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} "
               "{1}\" "
               "role=\"img\" aria-labelledby=\"title description\" font-family=\"DejaVu Sans, Liberation "
               "Sans, Arial, "
               "sans-serif\">\n"
               "<title id=\"title\">{2}</title>\n<desc id=\"description\">{3}</desc>\n",
               sheet_width, sheet_height, escaped(title), escaped(description)) +
           "<style>.edge{fill:none;stroke:#000;stroke-width:0.5}.thin{fill:none;stroke:#000;stroke-width:0."
           "18}"
           ".centre{fill:none;stroke:#000;stroke-width:0.18;stroke-dasharray:8 1.5 1 1.5}"
           ".hidden{fill:none;stroke:#000;stroke-width:0.25;stroke-dasharray:2.5 "
           "1.2}.arrow{fill:#000}.size{paint-order:stroke;stroke:#fff;stroke-width:0.8}</style>\n" +
           fmt::format("<rect width=\"{}\" height=\"{}\" fill=\"#fff\"/>\n", sheet_width, sheet_height) +
           body_ + "</svg>\n";
  }

 private:
  std::string body_;
};

double widest_mm(const trim::Proposal& p) {
  double widest = 0;
  for (const trim::Edge& e : p.table) widest = std::max(widest, mm(e.opening));
  return widest;
}

// The largest preferred scale at which it fits.
double scale_of(const trim::Proposal& p) {
  for (const double scale : {1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0}) {
    if (mm(p.outer_end) / scale <= sheet_width - left - 40 && widest_mm(p) / scale <= 116) return scale;
  }
  return 200;
}

// Every point of the opening's edge on one side, ends included: radius and distance from the centre line.
std::vector<std::pair<double, double>> edge_mm(const trim::Proposal& p) {
  std::vector<std::pair<double, double>> out{{mm(p.inner_end), mm(p.table.front().opening) / 2}};
  for (const trim::Edge& e : p.table) out.emplace_back(mm(e.radius), mm(e.opening) / 2);
  out.emplace_back(mm(p.outer_end), mm(p.table.back().opening) / 2);
  return out;
}

void draw_opening(Sheet& sheet, const trim::Proposal& p, double scale) {
  const auto edge = edge_mm(p);
  std::string path = "  <path class=\"edge\" id=\"outline\" d=\"M";
  for (const auto& [r, y] : edge) path += fmt::format("{:.3f} {:.3f} ", left + r / scale, middle - y / scale);
  for (auto it = edge.rbegin(); it != edge.rend(); ++it)
    path += fmt::format("{:.3f} {:.3f} ", left + it->first / scale, middle + it->second / scale);
  sheet.open("opening");
  sheet.raw(path + "Z\"/>\n");
  for (const trim::Edge& e : p.table) {
    const double x = left + mm(e.radius) / scale;
    const double y = mm(e.opening) / 2 / scale;
    sheet.line(x, middle - y - 1.2, x, middle - y + 1.2, "thin");
    sheet.line(x, middle + y - 1.2, x, middle + y + 1.2, "thin");
  }
  sheet.close();
}

void draw_lines(Sheet& sheet, const trim::Proposal& p, double scale) {
  const double bottom = middle + widest_mm(p) / 2 / scale + 6;
  sheet.open("lines");
  sheet.line(left - 12, middle, left + mm(p.outer_end) / scale + 12, middle, "centre");
  sheet.text(left + mm(p.outer_end) / scale + 14, middle + 1, "centre line", "start", 2.8);
  sheet.line(left, middle - 40, left, bottom + 16, "centre");
  sheet.upright(left - 2, middle + 4, "axis of the optic: radius 0");
  const auto at = [&](Length radius, const char* kind, const std::string& words) {
    const double x = left + mm(radius) / scale;
    sheet.line(x, middle - widest_mm(p) / 2 / scale - 3, x, bottom, kind);
    sheet.upright(x + 1, bottom + 2, fmt::format("{:.0f}", mm(radius)));
    if (!words.empty()) sheet.text(x, middle - widest_mm(p) / 2 / scale - 4.5, words, "middle", 2.6);
  };
  at(p.inner_end, "thin", "");
  at(p.outer_end, "thin", "");
  at(p.table.front().radius, "hidden", "clear area begins");
  at(p.table.back().radius, "hidden", "clear area ends");
  const trim::Edge& half = p.table[p.table.size() / 2];
  for (const trim::Edge* e : {&p.table.front(), &half, &p.table.back()}) {
    const double y = mm(e->opening) / 2 / scale;
    // The first and the last stand beside the table's ends, where the opening goes on as wide.
    const int side = e == &p.table.front() ? -1 : 1;
    const double x = left + mm(e->radius) / scale + (e == &half ? 0 : 4 * side);
    sheet.dimension(x, middle - y, middle + y, fmt::format("{:.1f}", mm(e->opening)));
  }
  sheet.close();
  sheet.open("scale-bar");
  const double bar = scale >= 10 ? 500 : 200;
  const double x = sheet_width - 40 - bar / scale, y = 24;
  sheet.line(x, y, x + bar / scale, y, "edge");
  sheet.line(x, y - 2, x, y + 2, "thin");
  sheet.line(x + bar / scale, y - 2, x + bar / scale, y + 2, "thin");
  sheet.text(x + bar / scale / 2, y - 2, fmt::format("{:.0f} mm", bar), "middle", 2.8);
  sheet.close();
}

void draw_table(Sheet& sheet, const trim::Proposal& p) {
  sheet.open("table");
  sheet.text(margin + 4, table_top - 7, "Coordinates of both edges, mm; straight between them", "start", 3.4);
  for (std::size_t i = 0; i < p.table.size(); ++i) {
    const double x = margin + 4 + column_width * static_cast<double>(i / rows_a_column);
    const double y = table_top + 5.2 * static_cast<double>(i % rows_a_column + 1);
    if (i % rows_a_column == 0) {
      sheet.text(x + 13, table_top, "radius", "end", 2.8);
      sheet.text(x + 31, table_top, "along plate", "end", 2.8);
      sheet.text(x + 43, table_top, "open", "end", 2.8);
      sheet.text(x + 61, table_top, "edges +/-", "end", 2.8);
      sheet.line(x, table_top + 1.4, x + column_width - 3, table_top + 1.4, "thin");
    }
    const trim::Edge& e = p.table[i];
    sheet.text(x + 13, y, fmt::format("{:.1f}", mm(e.radius)), "end", 3);
    sheet.text(x + 31, y, fmt::format("{:.1f}", mm(e.along)), "end", 3);
    sheet.text(x + 43, y, fmt::format("{:.1f}", mm(e.opening)), "end", 3);
    sheet.text(x + 61, y, fmt::format("{:.2f}", mm(e.opening) / 2), "end", 3);
  }
  sheet.close();
}

std::string shortened(const std::string& text, std::size_t longest) {
  if (text.size() <= longest) return text;
  std::size_t end = longest;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
  return text.substr(0, end) + "...";
}

void draw_title_block(Sheet& sheet, const trim::Proposal& p, double scale) {
  constexpr double width = 134, height = 92;
  const double x = sheet_width - margin - width, y = sheet_height - margin - height;
  sheet.open("title-block");
  sheet.rectangle(x, y, width, height);
  sheet.line(x, y + 9, x + width, y + 9, "thin");
  sheet.text(x + 3, y + 6.4, "Trim shield: opening", "start", 4.4);
  sheet.text(x + width - 3, y + 6.4, fmt::format("scale 1:{:g}   A3   mm", scale), "end", 3.4);
  const std::pair<const char*, std::string> rows[] = {
      {"cathode", p.cathode},
      {"optic", p.optic},
      {"recipe", p.recipe},
      {"revision", fmt::format("{} (of the recipe)", p.revision)},
      {"replaces", p.present.empty() ? "none" : p.present},
      {"height", fmt::format("{:.1f} mm above the glass, following it", mm(p.height))},
      {"ends", fmt::format("open to radius {:.0f} and {:.0f} mm", mm(p.inner_end), mm(p.outer_end))},
      {"edges", "+/- 0.5 mm; placed to +/- 3 mm along the radius"},
      {"film", fmt::format("even to {:.2g} %, computed; {:.2g} % wanted", 100 * p.proposed.uniformity.value(),
                           100 * p.wanted.value())}};
  double at = y + 14;
  for (const auto& row : rows) {
    sheet.text(x + 3, at, row.first, "start", 2.8);
    sheet.text(x + 22, at, shortened(row.second, 62), "start", 3);
    at += 4.6;
  }
  sheet.line(x, at - 2.4, x + width, at - 2.4, "thin");
  at += 1.6;
  sheet.text(x + 3, at,
             "Plate outline, thickness and fixings: by the plant. Thin plate, edges bevelled from the glass.",
             "start", 2.5);
  for (const std::string& caution : shield_cautions()) sheet.text(x + 3, at += 4, caution, "start", 2.4);
  sheet.text(x + 3, at += 4, "Do not scale from the drawing: the table holds.", "start", 2.5);
  sheet.close();
}

}  // namespace

std::string shield_drawing(const trim::Proposal& p) {
  const double scale = scale_of(p);
  Sheet sheet;
  sheet.raw(
      fmt::format("<rect class=\"edge\" id=\"frame\" x=\"{0}\" y=\"{0}\" width=\"{1}\" height=\"{2}\"/>\n",
                  margin, sheet_width - 2 * margin, sheet_height - 2 * margin));
  draw_opening(sheet, p, scale);
  draw_lines(sheet, p, scale);
  draw_table(sheet, p);
  draw_title_block(sheet, p, scale);
  return sheet.svg(
      "Opening of the trim shield for " + p.cathode + " over " + p.optic,
      fmt::format("Outline of the opening along the radius at a scale of 1:{:g}, with the coordinates of "
                  "its edges in millimetres",
                  scale));
}

}  // namespace vacuary::report
