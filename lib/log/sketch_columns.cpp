// What each column of an unknown export may be: by its unit and, with a plant at hand, by the names
// of the plant's devices.
#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <utility>

#include "log/layout.hpp"
#include "log/sketch.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

using plan::What;

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), [](unsigned char c) { return std::tolower(c); });
  return out;
}

bool holds_word(const std::string& header, std::initializer_list<const char*> words) {
  const std::string name = lower(header);
  return std::any_of(words.begin(), words.end(),
                     [&](const char* word) { return name.find(word) != std::string::npos; });
}

// "Chamber P1" to "chamber_p1".
std::string device_name(std::string_view header) {
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

// "[mbar]" and "(mbar)" to "mbar".
std::string_view without_brackets(std::string_view text) {
  const bool pair = text.size() > 2 && ((text.front() == '[' && text.back() == ']') ||
                                        (text.front() == '(' && text.back() == ')'));
  return pair ? text.substr(1, text.size() - 2) : text;
}

std::vector<Unit> units_of(std::string_view text) {
  text = without_brackets(text);
  if (text.empty()) return {};
  const auto parsed = parse_unit_of_any_kind(text);
  const auto* units = std::get_if<std::vector<Unit>>(&parsed);
  return units == nullptr ? std::vector<Unit>{} : *units;
}

std::optional<What> what_of_unit(std::string_view text) {
  for (const Unit& unit : units_of(text)) {
    for (const What what :
         {What::pressure, What::flow, What::power, What::voltage, What::current, What::energy, What::angle,
          What::speed, What::temperature, What::frequency, What::open}) {
      if (plan::kind_of(what) == unit.kind) return what;
    }
  }
  return std::nullopt;
}

// "P1_mbar", "P1 / mbar" and "P1 mbar": the last word, when it is the unit of some channel.
std::optional<std::string> unit_at_end(const std::string& header) {
  const std::size_t at = header.find_last_of(" _/-,");
  if (at == std::string::npos || at == 0) return std::nullopt;
  std::string end(without_brackets(std::string_view(header).substr(at + 1)));
  if (!what_of_unit(end)) return std::nullopt;
  return end;
}

std::vector<std::string> devices_of(const plan::Plan& plant, What what) {
  std::vector<std::string> out;
  const auto take = [&out](const auto& devices) {
    for (const auto& device : devices) out.push_back(device.name.value);
  };
  if (what == What::pressure) take(plant.chamber.gauges);
  if (what == What::flow) take(plant.chamber.gas_lines);
  if (what == What::power || what == What::voltage || what == What::current || what == What::energy ||
      what == What::arcs)
    take(plant.chamber.supplies);
  if (what == What::open) take(plant.chamber.cathodes);
  if (what == What::frequency) take(plant.chamber.crystals);
  return out;
}

std::set<std::string> words_of(std::string_view text) {
  std::set<std::string> out;
  std::string word;
  for (const char c : device_name(text) + "_") {
    if (c != '_') {
      word += c;
    } else if (!word.empty()) {
      out.insert(std::exchange(word, ""));
    }
  }
  // They name no device in particular.
  for (const char* general : {"supply", "gauge", "line", "mfc", "flow", "pressure"}) out.erase(general);
  return out;
}

// The one device whose name, or whose gas, stands in the header; none when several do or none does.
std::optional<std::string> device_in(const std::string& header, const std::vector<std::string>& devices,
                                     const plan::Plan& plant) {
  if (devices.size() == 1) return devices.front();
  const std::set<std::string> words = words_of(header);
  std::optional<std::string> found;
  for (const std::string& device : devices) {
    const std::set<std::string> wanted = words_of(device);
    const plan::GasLine* line = plan::gas_line(plant.chamber, device);
    const bool by_gas = line != nullptr && words.contains(device_name(line->gas.value));
    const bool by_name =
        !wanted.empty() && std::includes(words.begin(), words.end(), wanted.begin(), wanted.end());
    if (!by_name && !by_gas) continue;
    if (found) return std::nullopt;
    found = device;
  }
  return found;
}

std::string one_of(const std::vector<std::string>& names) {
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i) {
    out += (i == 0 ? "" : i + 1 == names.size() ? " or " : ", ") + comment_text(names[i]);
  }
  return out;
}

// Texts that are shown of a column which has many.
constexpr std::size_t shown_words = 8;

std::string list_of(const std::vector<std::string>& texts) {
  std::string out;
  for (std::size_t i = 0; i < std::min(texts.size(), shown_words); ++i)
    out += (i == 0 ? "" : ", ") + toml_text(texts[i]);
  return out;
}

std::string range_line(const Content& cells) {
  if (cells.numbers == 0) return "";
  return fmt::format("# in {} rows: {:.6g} to {:.6g}\n", cells.numbers, cells.least, cells.most);
}

std::string texts_line(const Content& cells) {
  if (cells.words.empty()) return "";
  std::string seen;
  for (std::size_t i = 0; i < std::min(cells.words.size(), shown_words); ++i)
    seen += (i == 0 ? "" : ", ") + comment_text(cells.words[i]);
  return fmt::format("# texts: {}{}\n", seen, cells.words.size() > shown_words ? ", ..." : "");
}

// Numbers that loggers write for "no value".
std::string bad_value_line(const Content& cells) {
  for (const double code : {-9999.0, -999.0, 9999.0, 99999.0, 9.9e9, 9.99e9, 9.9e37}) {
    if (cells.least != code && cells.most != code) continue;
    return fmt::format(
        "# bad_values = [{:g}]  # STATE whether {:g} means \"no value\"; if so, take the '#' away\n", code,
        code);
  }
  return "";
}

bool like_numbers(const std::vector<std::string>& words) {
  return !words.empty() && std::all_of(words.begin(), words.end(), [](const std::string& word) {
    const std::size_t at = word.find_first_not_of("+-. ");
    return at != std::string::npos && word[at] >= '0' && word[at] <= '9';
  });
}

// What the map has to say of the unit of numbers of this kind. The reader finds what stands in the
// header or in the line of units, but does not look at a column of units.
std::string unit_line(const ColumnGuess& column, Kind kind) {
  if (kind == Kind::count) return "";
  if (!column.other_unit.empty()) {
    return fmt::format("# unit = \"\"  # STATE: the log's column of units says \"{}\" and \"{}\"\n",
                       comment_text(column.unit), comment_text(column.other_unit));
  }
  const std::string unit(without_brackets(column.unit));
  if (unit.empty()) return "# unit = \"\"  # STATE: the log says none\n";
  const auto parsed = parse_unit(unit, kind);
  if (const auto* trouble = std::get_if<TextProblem>(&parsed)) {
    return fmt::format("# unit = \"\"  # STATE: \"{}\" in the log is no unit of it known here{}\n",
                       comment_text(unit),
                       trouble->remedy.empty() ? "" : "; " + comment_text(trouble->remedy));
  }
  if (column.unit_from_rows)
    return fmt::format("unit = {}  # by the log's column of units\n", toml_text(unit));
  return fmt::format("# unit: \"{}\" by the log itself\n", comment_text(column.unit));
}

std::string states_line(const Content& cells) {
  std::string states;
  for (const std::string& word : cells.words) {
    const bool open = holds_word(word, {"open", "auf", "offen", "on", "true", "abiert", "ouvert"});
    states += fmt::format("{}{} = {}", states.empty() ? "" : ", ", toml_text(word), open ? 1 : 0);
  }
  return fmt::format("states = {{ {} }}  # CONFIRM: 1 is open, 0 is shut\n", states);
}

}  // namespace

std::string toml_text(std::string_view text) {
  std::string out = "\"";
  for (const char c : clean(text)) {
    const auto u = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\') out += '\\';
    if (u < 0x20 || u == 0x7F) {
      out += fmt::format("\\u{:04X}", u);
    } else {
      out += c;
    }
  }
  return out + "\"";
}

std::string comment_text(std::string_view text) {
  std::string out = clean(text.substr(0, 80));
  for (char& c : out) {
    const auto u = static_cast<unsigned char>(c);
    if (u < 0x20 || u == 0x7F) c = '?';
  }
  return out;
}

void Content::add(std::string_view cell, const NumberStyle& style) {
  const ParsedNumber number = parse_number(cell, style);
  if (number.is == NumberIs::number) {
    least = numbers == 0 ? number.value : std::min(least, number.value);
    most = numbers == 0 ? number.value : std::max(most, number.value);
    ++numbers;
    return;
  }
  if (number.is == NumberIs::empty || number.is == NumberIs::nan) return;
  ++texts;
  if (std::find(words.begin(), words.end(), cell) != words.end()) return;
  more_words = more_words || words.size() == most_words;
  if (words.size() < most_words) words.push_back(clean(cell));
}

// One channel for each column: the second of one name gets a number.
std::string ColumnWriter::channel_line(const std::string& header, What what) {
  const auto line = [&](std::string device, const std::string& mark) {
    const std::string wanted = device;
    plan::Channel channel{std::move(device), what};
    for (int n = 2; !channels_.insert(channel).second; ++n) channel.device = fmt::format("{}_{}", wanted, n);
    return fmt::format("channel = {}  # {}\n", toml_text(channel.name()), mark);
  };
  if (what == What::angle || what == What::speed || what == What::index) return line("optic", "CONFIRM");
  const std::string guess = device_name(header);
  if (what == What::temperature || plan::is_text(what)) return line(guess, "CONFIRM: any name will do");
  if (plant_ == nullptr) return line(guess, "CONFIRM: the device's name in the chamber file");
  const std::vector<std::string> devices = devices_of(*plant_, what);
  if (devices.empty()) return line(guess, "STATE: the chamber file has no device for it");
  const auto device = device_in(header, devices, *plant_);
  if (device && !channels_.contains({*device, what})) return line(*device, "CONFIRM");
  return line(guess, "STATE which device it is: " + one_of(devices));
}

void ColumnWriter::numeric(const ColumnGuess& column, What what, const std::string& unit_line) {
  columns_ += fmt::format("\n[[column]]\nheader = {}\n", toml_text(column.header));
  columns_ += channel_line(column.header, what) + unit_line;
  if (!column.content.words.empty())
    columns_ += fmt::format("bad_texts = [{}]  # CONFIRM: that these mean \"no value\"\n",
                            list_of(column.content.words));
  columns_ += bad_value_line(column.content) + range_line(column.content);
}

// What it is or its unit is not said. A single letter at the end of the header is only told: "Pump A"
// is no current.
void ColumnWriter::unknown(const ColumnGuess& column) {
  const std::string says =
      column.unit.empty() ? "the log says neither"
                          : fmt::format("\"{}\" in the log is no unit known here", comment_text(column.unit));
  const auto end = column.unit.empty() ? unit_at_end(column.header) : std::nullopt;
  const std::string device = device_name(column.header);
  columns_ += fmt::format(
      "\n# [[column]]  # STATE what it is and its unit ({}), then take the '#' away\n# header = {}\n", says,
      toml_text(column.header));
  if (end) {
    columns_ += fmt::format("# channel = \"{}.{}\"  # if the end of the header is its unit\n# unit = {}\n",
                            device, plan::name(*what_of_unit(*end)), toml_text(*end));
  } else {
    columns_ += fmt::format("# channel = \"{}.\"\n# unit = \"\"\n", device);
  }
  columns_ += range_line(column.content);
}

// The reader passes over a column without a name, and a map cannot name it.
void ColumnWriter::nameless(const ColumnGuess& column) {
  const Content& cells = column.content;
  if (cells.numbers + cells.texts == 0) {
    columns_ += fmt::format("\n# column {} has no name and nothing in it: it is not read\n", column.number);
    return;
  }
  columns_ += fmt::format("\n# column {} has no name: it is not read\n", column.number);
  columns_ +=
      "# STATE whether it is wanted; if so, write a name above it in the export and sketch the map again\n";
  columns_ += range_line(cells) + texts_line(cells);
}

// A shutter's words are numbers for the film: how far it is open.
void ColumnWriter::states(const ColumnGuess& column) {
  columns_ += fmt::format("\n[[column]]\nheader = {}\n", toml_text(column.header));
  columns_ += channel_line(column.header, What::open) + states_line(column.content);
}

void ColumnWriter::text(const ColumnGuess& column) {
  const bool step = holds_word(column.header, {"step", "phase", "schritt", "segment", "stage"});
  if (step && step_header_.empty()) {
    step_header_ = column.header;
    step_texts_ = column.content.words;
    return;
  }
  const auto& words = column.content.words;
  if (holds_word(column.header, {"shutter", "blende"}) && words.size() <= 3 && !words.empty()) {
    states(column);
    return;
  }
  if (like_numbers(words)) {
    columns_ += fmt::format(
        "\n# [[column]]  # STATE: its cells, such as {}, begin like numbers and do not read as one: see the "
        "decimal and\n# thousands marks of [file], or export them without units and in another form\n"
        "# header = {}\n",
        comment_text(toml_text(words.front())), toml_text(column.header));
    return;
  }
  const bool alarm = holds_word(column.header, {"alarm", "fault", "warning", "error"});
  columns_ += fmt::format("\n[[column]]\nheader = {}\n", toml_text(column.header)) +
              channel_line(column.header, alarm ? What::alarm : What::state);
  columns_ += texts_line(column.content);
}

// A header that is a channel's name says itself what it is, and mostly its unit.
void ColumnWriter::named(const ColumnGuess& column, const plan::Channel& channel) {
  const Kind kind = plan::is_text(channel.what) ? Kind::count : plan::kind_of(channel.what);
  const bool states = channel.what == What::open && column.content.texts > column.content.numbers;
  const bool known =
      kind == Kind::count || (column.other_unit.empty() &&
                              std::holds_alternative<Unit>(parse_unit(without_brackets(column.unit), kind)));
  const std::string bad_value = kind == Kind::count ? "" : bad_value_line(column.content);
  channels_.insert(channel);
  if (!column.long_form && !states && known && bad_value.empty()) return;
  columns_ += fmt::format("\n[[column]]\nheader = {}\nchannel = {}\n", toml_text(column.header),
                          toml_text(channel.name()));
  columns_ += states ? states_line(column.content) : unit_line(column, kind);
  columns_ += bad_value;
}

void ColumnWriter::add(const ColumnGuess& column) {
  const Content& cells = column.content;
  if (column.header.empty()) return nameless(column);
  if (!headers_.insert(column.header).second) {
    columns_ += fmt::format("\n# STATE: two columns are called {}: rename one in the export\n",
                            toml_text(column.header));
    return;
  }
  if (const auto channel = plan::parse_channel(split_header(column.header).name)) {
    named(column, *channel);
    return;
  }
  if (cells.texts > cells.numbers) return text(column);
  if (const auto what = what_of_unit(column.unit))
    return numeric(column, *what, unit_line(column, plan::kind_of(*what)));
  if (!units_of(column.unit).empty()) {
    ignored_.push_back(column.header);  // a known unit of something that is no channel
    return;
  }
  if (const auto end = unit_at_end(column.header); end && column.unit.empty() && end->size() > 1) {
    return numeric(column, *what_of_unit(*end),
                   fmt::format("unit = {}  # CONFIRM: taken from the end of the header\n", toml_text(*end)));
  }
  if (cells.numbers == 0) {
    ignored_.push_back(column.header);  // empty as far as was looked
    return;
  }
  unknown(column);
}

// No channel is made of times.
void ColumnWriter::add_unread_time(const std::string& header, const std::string& example) {
  columns_ += fmt::format("\n# \"{}\" seems to hold times, such as \"{}\": it is not read\n",
                          comment_text(header), comment_text(example));
}

std::string ColumnWriter::steps() const {
  if (step_header_.empty()) return "";
  std::string out = fmt::format("\n[steps]\ncolumn = {}  # CONFIRM\n", toml_text(step_header_));
  std::vector<std::string> known;
  if (plant_ != nullptr) {
    for (const plan::Step& step : plant_->recipe.steps) known.push_back(step.name.value);
  }
  std::string names;
  for (const std::string& text : step_texts_) {
    if (std::find(known.begin(), known.end(), text) != known.end()) continue;
    names += fmt::format("{}{} = \"\"", names.empty() ? "" : ", ", toml_text(text));
  }
  if (names.empty()) return out;
  out += fmt::format("# names = {{ {} }}  # STATE which step of the recipe each is, where the names differ\n",
                     names);
  if (!known.empty()) out += fmt::format("# the recipe's steps: {}\n", one_of(known));
  return out;
}

std::optional<LongGuess> find_long_form(const Table& table, const TimeGuess& time) {
  if (table.header.size() < 3 || table.header.size() > 8) return std::nullopt;
  std::optional<LongGuess> best;
  std::size_t numeric = 0;
  LongGuess guess;
  std::vector<std::size_t> texts;
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    if (column == time.column || static_cast<int>(column) == time.date_column) continue;
    std::size_t numbers = 0;
    std::size_t words = 0;
    for (const Cells& row : table.rows) {
      const NumberIs is = parse_number(row[column], table.style).is;
      if (is == NumberIs::number) ++numbers;
      if (is == NumberIs::unreadable) ++words;
    }
    if (numbers > words) {
      ++numeric;
      guess.value_column = column;
    } else if (numbers == 0 && words > 0) {
      texts.push_back(column);
    }
  }
  if (numeric != 1 || texts.empty()) return std::nullopt;
  // The names: from row to row mostly another one, and far fewer of them than rows.
  for (const std::size_t column : texts) {
    std::set<std::string> names;
    std::size_t changes = 0;
    bool units = true;
    for (std::size_t i = 0; i < table.rows.size(); ++i) {
      const std::string& cell = table.rows[i][column];
      names.insert(cell);
      if (i > 0 && cell != table.rows[i - 1][column]) ++changes;
      units = units && (cell.empty() || is_unit(cell));
    }
    if (units) {
      guess.unit_column = static_cast<int>(column);
    } else if (names.size() >= 2 && 3 * names.size() <= table.rows.size() &&
               2 * changes >= table.rows.size() && !best) {
      guess.name_column = column;
      best = guess;
    }
  }
  if (best) best->unit_column = guess.unit_column;
  return best;
}

}  // namespace vacuary::log
