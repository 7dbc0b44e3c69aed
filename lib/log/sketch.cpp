// A first channel map for an export that nobody has described yet. Everything that is not stated
// in the export itself is marked CONFIRM, and what only a person can know is left open and marked
// STATE.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <optional>

#include "log/head.hpp"
#include "log/layout.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

using Cells = std::vector<std::string>;

struct Table {
  char delimiter = ',';
  std::size_t preamble = 0;
  Cells header, units;  // units: empty when there is no line of them
  std::vector<Cells> rows;
};

bool is_number(const std::string& text, bool comma) {
  return parse_number(text, {comma ? ',' : '.', '\0'}).is == NumberIs::number;
}

std::vector<std::string> lines_of(const std::string& text, bool whole) {
  std::vector<std::string> out;
  std::size_t from = 0;
  while (from < text.size() && out.size() < 400) {
    const std::size_t end = text.find_first_of("\r\n", from);
    if (end == std::string::npos) {
      if (whole) out.push_back(text.substr(from));
      break;
    }
    out.push_back(text.substr(from, end - from));
    from = end + (text.substr(end, 2) == "\r\n" ? 2 : 1);
  }
  return out;
}

// The header is the first line that has as many cells, at least two, as the line in the middle of
// what was read; of the delimiters the one that makes most cells.
std::optional<Table> find_table(const std::vector<std::string>& lines) {
  std::optional<Table> best;
  for (const char delimiter : {',', ';', '\t'}) {
    std::vector<std::size_t> counts;
    for (const std::string& line : lines) counts.push_back(split_record(line, delimiter).size());
    const std::size_t usual = counts.empty() ? 0 : counts[counts.size() / 2];
    const auto first = std::find(counts.begin(), counts.end(), usual);
    if (usual < 2 || (best && best->header.size() >= usual)) continue;
    Table table;
    table.delimiter = delimiter;
    table.preamble = static_cast<std::size_t>(first - counts.begin());
    for (std::size_t i = table.preamble; i < lines.size(); ++i) {
      Cells cells = split_record(lines[i], delimiter);
      if (cells.size() != usual) continue;
      for (std::string& cell : cells) cell = std::string(trim(cell));
      (i == table.preamble ? table.header : table.rows.emplace_back()) = std::move(cells);
    }
    best = std::move(table);
  }
  return best;
}

bool is_unit(const std::string& text) {
  std::string inner = text;
  if (inner.size() > 2 && (inner.front() == '[' || inner.front() == '('))
    inner = inner.substr(1, inner.size() - 2);
  return std::holds_alternative<std::vector<Unit>>(parse_unit_of_any_kind(inner));
}

void take_units_line(Table& table) {
  if (table.rows.empty()) return;
  std::size_t units = 0;
  for (const std::string& cell : table.rows.front()) {
    if (is_number(cell, false) || is_number(cell, true)) return;
    if (is_unit(cell)) ++units;
  }
  if (units == 0) return;
  table.units = table.rows.front();
  table.rows.erase(table.rows.begin());
}

// ---------------------------------------------------------------- time

struct TimeGuess {
  std::size_t column = 0;
  int date_column = -1;
  plan::TimeForm form = plan::TimeForm::rfc3339;
  std::string format, remark;
};

struct Trial {
  plan::TimeForm form;
  const char* format;
};

constexpr std::array trials = {
    Trial{plan::TimeForm::rfc3339, ""},
    Trial{plan::TimeForm::local, "%Y-%m-%d %H:%M:%S"},
    Trial{plan::TimeForm::local, "%Y-%m-%dT%H:%M:%S"},
    Trial{plan::TimeForm::local, "%Y/%m/%d %H:%M:%S"},
    Trial{plan::TimeForm::local, "%d-%b-%Y %H:%M:%S"},
    Trial{plan::TimeForm::local, "%d %b %Y %H:%M:%S"},
    Trial{plan::TimeForm::local, "%d.%m.%Y %H:%M:%S"},
    Trial{plan::TimeForm::local, "%d.%m.%y %H:%M:%S"},
    Trial{plan::TimeForm::local, "%d/%m/%Y %H:%M:%S"},
    Trial{plan::TimeForm::local, "%m/%d/%Y %H:%M:%S"},
    Trial{plan::TimeForm::local, "%d/%m/%Y %I:%M:%S %p"},
    Trial{plan::TimeForm::local, "%m/%d/%Y %I:%M:%S %p"},
};

// Whether all of at most a hundred rows read like this, in order.
bool reads(const Table& table, const Trial& trial, std::size_t column, int date_column) {
  StampFormat format;
  format.form = trial.form;
  format.format = trial.format;
  StampReader reader(format);
  std::int64_t last = INT64_MIN;
  const std::size_t n = std::min<std::size_t>(table.rows.size(), 100);
  for (std::size_t i = 0; i < n; ++i) {
    const Cells& row = table.rows[i];
    std::string text = row[column];
    if (date_column >= 0) text = row[static_cast<std::size_t>(date_column)] + " " + text;
    const Stamp stamp = reader.read(text);
    if (stamp.is == StampIs::unreadable || stamp.ns < last) return false;
    last = stamp.ns;
  }
  return n > 0;
}

bool is_other_reading(const Table& table, const TimeGuess& guess) {
  std::string other = guess.format;
  if (other.starts_with("%d/%m")) other.replace(0, 5, "%m/%d");
  return other != guess.format && reads(table, {guess.form, other.c_str()}, guess.column, guess.date_column);
}

std::optional<TimeGuess> counted_time(const Table& table, std::size_t column, bool comma) {
  const std::string& text = table.rows.front()[column];
  const ParsedNumber first = parse_number(text, {comma ? ',' : '.', '\0'});
  if (first.is != NumberIs::number) return std::nullopt;
  TimeGuess guess;
  guess.column = column;
  const double v = first.value;
  if (v > 9e8 && v < 4e9) {
    guess.form = plan::TimeForm::epoch_s;
  } else if (v > 9e11 && v < 4e12) {
    guess.form = plan::TimeForm::epoch_ms;
  } else if (v > 9e14 && v < 4e15) {
    guess.form = plan::TimeForm::epoch_us;
  } else {
    std::string name = table.header[column];
    std::transform(name.begin(), name.end(), name.begin(), [](unsigned char c) { return std::tolower(c); });
    const bool time_like = name.find("time") != std::string::npos ||
                           name.find("elapsed") != std::string::npos ||
                           name.find("zeit") != std::string::npos || name == "t" || name.starts_with("t [");
    if (!time_like) return std::nullopt;
    const bool day = v > 30000 && v < 80000 && first.decimals > 3;
    guess.form = day ? plan::TimeForm::spreadsheet_day : plan::TimeForm::elapsed_s;
  }
  return guess;
}

std::optional<TimeGuess> find_time(const Table& table, bool comma) {
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    for (int date = -1; date < static_cast<int>(table.header.size()); ++date) {
      if (date == static_cast<int>(column)) continue;
      for (const Trial& trial : trials) {
        if (!reads(table, trial, column, date)) continue;
        TimeGuess guess{column, date, trial.form, trial.format, ""};
        if (is_other_reading(table, guess)) guess.remark = "; month first reads as well";
        return guess;
      }
    }
  }
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    if (auto guess = counted_time(table, column, comma)) return guess;
  }
  return std::nullopt;
}

// ---------------------------------------------------------------- writing

std::string toml_text(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) >= 0x20) out += c;
  }
  return out + "\"";
}

const char* word(plan::TimeForm form) {
  switch (form) {
    case plan::TimeForm::rfc3339:
      return "rfc3339";
    case plan::TimeForm::local:
      return "local";
    case plan::TimeForm::epoch_s:
      return "epoch_s";
    case plan::TimeForm::epoch_ms:
      return "epoch_ms";
    case plan::TimeForm::epoch_us:
      return "epoch_us";
    case plan::TimeForm::spreadsheet_day:
      return "spreadsheet_day";
    case plan::TimeForm::elapsed_s:
      return "elapsed_s";
  }
  return "";
}

// "Chamber P1" to "chamber_p1".
std::string device_name(const std::string& header) {
  std::string out;
  for (const char c : header) {
    const auto u = static_cast<unsigned char>(c);
    if (u < 0x80 && std::isalnum(u) != 0) {
      out += static_cast<char>(std::tolower(u));
    } else if (!out.empty() && out.back() != '_') {
      out += '_';
    }
  }
  while (!out.empty() && out.back() == '_') out.pop_back();
  return out.empty() ? "column" : out;
}

std::optional<plan::What> what_of_unit(const std::string& unit_text) {
  using plan::What;
  const auto parsed = parse_unit_of_any_kind(unit_text);
  const auto* units = std::get_if<std::vector<Unit>>(&parsed);
  if (units == nullptr) return std::nullopt;
  for (const Unit& unit : *units) {
    for (const What what : {What::pressure, What::flow, What::power, What::voltage, What::current,
                            What::energy, What::angle, What::speed, What::temperature}) {
      if (plan::kind_of(what) == unit.kind) return what;
    }
  }
  return std::nullopt;
}

class Writer {
 public:
  Writer(const Table& table, std::string file, std::string encoding)
      : table_(table), file_(std::move(file)), encoding_(std::move(encoding)), comma_(has_decimal_comma()) {}

  Result<std::string> write() {
    const auto time = find_time(table_, comma_);
    out_ = fmt::format(
        "# First channel map for {}.\n# CONFIRM marks a guess, STATE what only a person can know.\n\n"
        "format = \"vacuary-channels 1\"\n",
        std::filesystem::path(file_).filename().string());
    std::string columns;
    for (std::size_t i = 0; i < table_.header.size(); ++i) {
      if (time && (i == time->column || static_cast<int>(i) == time->date_column)) continue;
      columns += column(i);
    }
    if (!ignored_.empty()) out_ += "ignore = [" + ignored_ + "]  # CONFIRM: nothing shows what these are\n";
    write_file();
    write_time(time);
    out_ +=
        "\n[logging]\nmode = \"periodic\"  # CONFIRM: or \"on_change\", when silence means \"as before\"\n";
    if (!step_.empty()) out_ += fmt::format("\n[steps]\ncolumn = {}  # CONFIRM\n", toml_text(step_));
    return out_ + columns;
  }

 private:
  [[nodiscard]] bool has_decimal_comma() const {
    if (table_.delimiter == ',') return false;
    std::size_t commas = 0;
    std::size_t points = 0;
    for (const Cells& row : table_.rows) {
      for (const std::string& cell : row) {
        if (!is_number(cell, false) && is_number(cell, true)) ++commas;
        if (is_number(cell, false) && cell.find('.') != std::string::npos) ++points;
      }
    }
    return commas > points;
  }

  void write_file() {
    out_ += "\n[file]\n";
    const char* delimiter = table_.delimiter == '\t' ? "tab" : table_.delimiter == ';' ? ";" : ",";
    out_ += fmt::format("delimiter = \"{}\"\n", delimiter);
    if (comma_) out_ += "decimal = \",\"  # CONFIRM\n";
    if (encoding_ != "utf-8") out_ += fmt::format("encoding = \"{}\"  # CONFIRM\n", encoding_);
    if (table_.preamble > 0) out_ += fmt::format("preamble_lines = {}  # CONFIRM\n", table_.preamble);
    if (!table_.units.empty()) out_ += "units_line = true  # CONFIRM\n";
  }

  void write_time(const std::optional<TimeGuess>& time) {
    out_ += "\n[time]\n";
    if (!time) {
      out_ += "# column = \"\"  # STATE: no column reads as a time\n";
      return;
    }
    out_ += fmt::format("column = {}  # CONFIRM\n", toml_text(table_.header[time->column]));
    if (time->date_column >= 0) {
      out_ += fmt::format("date_column = {}  # CONFIRM\n",
                          toml_text(table_.header[static_cast<std::size_t>(time->date_column)]));
    }
    out_ += fmt::format("form = \"{}\"  # CONFIRM\n", word(time->form));
    if (!time->format.empty())
      out_ += fmt::format("format = {}  # CONFIRM{}\n", toml_text(time->format), time->remark);
    if (time->form == plan::TimeForm::local || time->form == plan::TimeForm::spreadsheet_day) {
      out_ += "# zone = \"\"  # STATE: the clock's time zone, such as \"Europe/Madrid\", or \"UTC\"\n";
    }
    if (time->form == plan::TimeForm::elapsed_s)
      out_ += "# start = \"\"  # STATE: when the elapsed time was zero\n";
  }

  // What the cells are: numbers, and the texts among them.
  struct Content {
    std::size_t numbers = 0, texts = 0;
    std::map<std::string, std::size_t> words;
  };
  [[nodiscard]] Content content(std::size_t column) const {
    Content out;
    for (const Cells& row : table_.rows) {
      const std::string& cell = row[column];
      if (cell.empty()) continue;
      if (is_number(cell, comma_)) {
        ++out.numbers;
      } else {
        ++out.texts;
        if (out.words.size() < 8) ++out.words[cell];
      }
    }
    return out;
  }

  std::string column(std::size_t i) {
    const HeaderText header = split_header(table_.header[i]);
    if (plan::parse_channel(header.name)) return "";  // it says itself what it is
    const Content cells = content(i);
    const std::string device = device_name(header.name);
    if (cells.texts > cells.numbers) return text_column(header.name, device);
    std::string unit_text = header.unit.value_or("");
    if (unit_text.empty() && i < table_.units.size()) unit_text = table_.units[i];
    const auto what = what_of_unit(unit_text);
    if (!what && unit_text.empty() && cells.numbers > 0) return unknown_column(header.name, device);
    if (!what) {
      ignored_ += (ignored_.empty() ? "" : ", ") + toml_text(header.name);
      return "";
    }
    std::string out = fmt::format(
        "\n[[column]]\nheader = {}\nchannel = \"{}.{}\"  # CONFIRM: the device's name in the chamber file\n",
        toml_text(header.name), device, plan::name(*what));
    out += fmt::format("# unit: {} by the log itself\n", toml_text(unit_text));
    if (!cells.words.empty()) {
      std::string words;
      for (const auto& [text, count] : cells.words) words += (words.empty() ? "" : ", ") + toml_text(text);
      out += fmt::format("bad_texts = [{}]  # CONFIRM: that these mean \"no value\"\n", words);
    }
    return out;
  }

  std::string text_column(const std::string& name, const std::string& device) {
    std::string lower = name;
    std::transform(lower.begin(), lower.end(), lower.begin(),
                   [](unsigned char c) { return std::tolower(c); });
    const bool step = lower.find("step") != std::string::npos || lower.find("phase") != std::string::npos;
    if (step && step_.empty()) {
      step_ = name;
      return "";
    }
    return fmt::format("\n[[column]]\nheader = {}\nchannel = \"{}.state\"  # CONFIRM\n", toml_text(name),
                       device);
  }

  std::string unknown_column(const std::string& name, const std::string& device) {
    return fmt::format(
        "\n# [[column]]  # STATE what it is and its unit: the log says neither\n# header = {}\n"
        "# channel = \"{}.\"\n# unit = \"\"\n",
        toml_text(name), device);
  }

  const Table& table_;
  std::string file_, encoding_;
  bool comma_;
  std::string out_, step_, ignored_;
};

struct Beginning {
  std::string text, encoding;
  bool whole = false;
};

Result<Beginning> read_beginning(const std::filesystem::path& file) {
  Beginning out;
  bool nul = false;
  for (const char* encoding : {"utf-8", "utf-16", "latin-1"}) {
    if (std::string_view(encoding) == "utf-16" && !nul) continue;  // UTF-16 text has zero bytes
    auto bytes = open_bytes(file, encoding, std::uint64_t{1} << 38U);
    if (!bytes.ok()) return bytes.diagnostics();
    out.encoding = encoding;
    out.text.resize(std::size_t{256} << 10U);
    const std::size_t n = bytes.value()->read(out.text.data(), out.text.size());
    if (n == 0 && bytes.value()->failure()) return *bytes.value()->failure();
    out.whole = n < out.text.size();
    out.text.resize(n);
    nul = out.text.find('\0') != std::string::npos;
    const std::size_t invalid = first_invalid_utf8(out.text);
    if (!nul && (invalid == std::string::npos || invalid + 4 > n)) return out;
  }
  return log_failure(file, "this is not a text file in any encoding known here",
                     "export the log as text with delimiters (CSV)");
}

}  // namespace

Result<std::string> sketch_map(const std::filesystem::path& file) {
  auto beginning = read_beginning(file);
  if (!beginning.has_value()) return beginning.diagnostics();
  const Beginning& text = beginning.value();
  if (text.text.empty())
    return log_failure(file, "the log is empty", "check that the export was finished and copied");
  auto table = find_table(lines_of(text.text, text.whole));
  if (!table || table->rows.empty()) {
    return log_failure(
        file, "no table was found: no two lines have the same number of cells, two or more",
        "check that this is a log with one row a line, its cells apart by comma, semicolon or tab");
  }
  take_units_line(*table);
  if (table->rows.empty())
    return log_failure(file, "the log has a header and no rows", "check that the export was finished");
  return Writer(*table, file.string(), text.encoding).write();
}

}  // namespace vacuary::log
