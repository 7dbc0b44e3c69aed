// What each column of an unknown export may be: by its unit and, with a plant at hand, by the names
// of the plant's devices.
#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <utility>

#include "log/cell.hpp"
#include "log/layout.hpp"
#include "log/sketch.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

using plan::What;

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
  for (const std::string& text : texts) out += (out.empty() ? "" : ", ") + toml_text(text);
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
  std::string codes;
  for (const double code : {-9999.0, -999.0, 9999.0, 99999.0, 9.9e9, 9.99e9, 9.9e37}) {
    if (cells.numbers > 0 && (cells.least == code || cells.most == code))
      codes += fmt::format("{}{:g}", codes.empty() ? "" : ", ", code);
  }
  if (codes.empty()) return "";
  return fmt::format(
      "# bad_values = [{0}]  # STATE whether {0} means \"no value\"; if so, take the '#' away\n", codes);
}

// What stands among numbers and may mean "no value".
std::string bad_texts_line(const Content& cells) {
  std::vector<std::string> words;
  std::remove_copy_if(cells.words.begin(), cells.words.end(), std::back_inserter(words), like_number);
  if (words.empty()) return "";
  return fmt::format("bad_texts = [{}]  # CONFIRM: that these mean \"no value\"{}\n", list_of(words),
                     cells.more_words ? "; there are others" : "");
}

std::string example_of_broken(const Content& cells) {
  return comment_text(toml_text(*std::find_if(cells.words.begin(), cells.words.end(), like_number)));
}

std::string mostly_broken_line(const Content& cells) {
  return fmt::format(
      "# STATE: its cells, such as {}, begin like numbers and do not read as one: see the decimal and\n"
      "# thousands marks of [file], or export them without units and in another form\n",
      example_of_broken(cells));
}

std::string broken_line(const Content& cells) {
  if (cells.broken == 0) return "";
  if (cells.broken > cells.numbers) return mostly_broken_line(cells);
  return fmt::format(
      "# not read: {} like {}, such as {}\n",
      cells.broken == 1 ? "1 cell that looks" : fmt::format("{} cells that look", cells.broken),
      cells.broken == 1 ? "a number and is none" : "numbers and are none", example_of_broken(cells));
}

// All that stands in a column of numbers and is none, for the person who has to say what it means.
std::string odd_lines(const Content& cells) {
  return bad_texts_line(cells) + broken_line(cells) + bad_value_line(cells);
}

// Lines of a map that are not in force yet.
std::string commented(const std::string& lines) {
  std::string out;
  for (std::size_t at = 0; at < lines.size();) {
    const std::size_t next = lines.find('\n', at) + 1;
    out += (lines[at] == '#' ? "" : "# ") + lines.substr(at, next - at);
    at = next;
  }
  return out;
}

bool says_unit(const ColumnGuess& column, Kind kind) {
  return kind == Kind::count || std::holds_alternative<Unit>(parse_unit(without_brackets(column.unit), kind));
}

// What the map has to say of the unit of numbers of this kind. The reader finds what stands in the header or
// in the line of units; where units stand in the rows it wants one for those that have none.
std::string unit_line(const ColumnGuess& column, Kind kind) {
  if (kind == Kind::count) return "";
  const std::string unit(without_brackets(column.unit));
  if (unit.empty()) return "# unit = \"\"  # STATE: the log says none\n";
  const auto parsed = parse_unit(unit, kind);
  if (const auto* trouble = std::get_if<TextProblem>(&parsed)) {
    return fmt::format("# unit = \"\"  # STATE: \"{}\" in the log is no unit of it known here; {}\n",
                       comment_text(unit), trouble->remedy);
  }
  if (!column.unit_from.empty()) {
    const std::string also =
        column.other_unit.empty()
            ? ""
            : fmt::format(", also \"{}\": each value is read in its own", comment_text(column.other_unit));
    return fmt::format("unit = {}  # by the log's {}{}\n", toml_text(unit), column.unit_from, also);
  }
  return fmt::format("# unit: \"{}\" by the log itself\n", comment_text(column.unit));
}

// What the map says of a column whose header is a channel's name, if the header does not say it all.
std::string lines_of_named(const ColumnGuess& column, What what) {
  if (plan::is_text(what)) return "";
  const Content& cells = column.content;
  if (what == What::open && cells.texts > cells.numbers) return states_line(cells);
  const std::string odd = odd_lines(cells);
  const bool by_header = !column.long_form && column.unit_from.empty();
  if (odd.empty() && by_header && says_unit(column, plan::kind_of(what))) return "";
  return unit_line(column, plan::kind_of(what)) + odd;
}

// How the map names a column, and its own time column and quality column if it has them.
std::string header_lines(const ColumnGuess& column, bool text = false) {
  std::string out = fmt::format("header = {}\n", toml_text(column.in_map()));
  if (!column.time.empty())
    out += fmt::format("time = {}  # CONFIRM: it has stamps of its own\n", toml_text(column.time));
  if (!column.quality.empty() && !text)
    out += fmt::format("quality = {}  # CONFIRM: it says whether the values are good\n",
                       toml_text(column.quality));
  return out;
}

bool is_of_optic(What what) { return what == What::angle || what == What::speed || what == What::index; }

bool is_volume_flow(std::string_view unit) {
  const std::vector<Unit> units = units_of(unit);
  return std::any_of(units.begin(), units.end(),
                     [](const Unit& each) { return each.kind == Kind::pumping_speed; });
}

// What a person has to state of a column that its unit does not explain.
std::string what_to_state(const ColumnGuess& column) {
  if (column.unit.empty()) return "what it is and its unit (the log says neither)";
  const std::string shown = comment_text(column.unit);
  const auto parsed = parse_unit_of_any_kind(without_brackets(column.unit));
  if (const auto* trouble = std::get_if<TextProblem>(&parsed))
    return fmt::format("what it is and its unit (\"{}\" in the log is no unit known here; {})", shown,
                       trouble->remedy);
  return fmt::format("what it is (\"{}\" in the log does not say of what)", shown);
}

bool is_step(const ColumnGuess& column) {
  return holds_word(column.name, {"step", "phase", "schritt", "segment", "stage"});
}

bool is_shutter(const ColumnGuess& column) {
  return holds_word(column.name, {"shutter", "blende", "obturat", "obturad", "otturat"});
}

// A ratio may be of a shutter, but of a flow or a valve as well.
std::optional<What> what_of(const ColumnGuess& column, std::string_view unit) {
  const auto what = what_of_unit(unit);
  return what == What::open && !is_shutter(column) ? std::nullopt : what;
}

}  // namespace

// One channel for each column: the second of one name gets a number.
plan::Channel ColumnWriter::take(plan::Channel channel) {
  const std::string wanted = channel.device;
  for (int n = 2; !channels_.insert(channel).second; ++n) channel.device = fmt::format("{}_{}", wanted, n);
  return channel;
}

std::string ColumnWriter::channel_line(const ColumnGuess& column, What what) {
  const auto line = [&](const std::string& device, const std::string& mark) {
    return fmt::format("channel = {}  # {}\n", toml_text(take({device, what}).name()), mark);
  };
  if (is_of_optic(what))
    return line("optic", what == What::speed ? "CONFIRM: that it is the optic which turns" : "CONFIRM");
  const std::string guess = device_name(column.name);
  if (what == What::temperature || plan::is_text(what)) return line(guess, "CONFIRM: any name will do");
  if (plant_ == nullptr) return line(guess, "CONFIRM: the device's name in the chamber file");
  const std::vector<std::string> devices = devices_of(*plant_, what);
  if (devices.empty()) return line(guess, "STATE: the chamber file has no device for it");
  const auto device = device_in(column.name, devices, *plant_);
  if (device && !channels_.contains({*device, what})) return line(*device, "CONFIRM");
  return line(guess, "STATE which device it is: " + one_of(devices));
}

void ColumnWriter::numeric(const ColumnGuess& column, What what, const std::string& unit_line) {
  const std::string header = header_lines(column);
  const std::string rest = unit_line + odd_lines(column.content) + range_line(column.content);
  const bool taken = is_of_optic(what) && channels_.contains({"optic", what});
  if (!taken) {
    columns_ += "\n[[column]]\n" + header + channel_line(column, what) + rest;
    return;
  }
  // There is one optic, and nothing shows what else turns here.
  columns_ +=
      fmt::format("\n# [[column]]  # STATE what it is (another column is {}), then take the '#' away\n{}",
                  plan::Channel{"optic", what}.name(), commented(header + "channel = \"\"\n" + rest));
}

// What it is or its unit is not said. A single letter at the end of the header is only told: "Pump A"
// is no current.
void ColumnWriter::unknown(const ColumnGuess& column) {
  const auto end = column.unit.empty() ? unit_at_end(column.name) : std::nullopt;
  const std::vector<Unit> units = units_of(column.unit);
  const std::string device = device_name(column.name);
  std::string lines = header_lines(column);
  if (end) {
    lines += fmt::format("channel = \"{}.{}\"  # if the end of the header is its unit\nunit = {}\n", device,
                         plan::name(*what_of_unit(*end)), toml_text(*end));
  } else {
    lines += fmt::format("channel = \"{}.\"\n", device) +
             (units.empty() ? "unit = \"\"\n" : unit_line(column, units.front().kind));
  }
  columns_ += fmt::format("\n# [[column]]  # STATE {}, then take the '#' away\n", what_to_state(column)) +
              commented(lines + odd_lines(column.content) + range_line(column.content));
}

// A degree sign is easily left out. Under the whole header the unit that is stated contradicts nothing.
void ColumnWriter::coulomb(const ColumnGuess& column) {
  columns_ +=
      "\n# [[column]]  # STATE what it is (\"C\" in the log is a coulomb; of a temperature it is degC), then "
      "take "
      "the '#' away\n" +
      commented(fmt::format("header = {}\nchannel = \"{}.temperature\"\nunit = \"degC\"\n",
                            toml_text(column.header), device_name(column.name)) +
                odd_lines(column.content) + range_line(column.content));
}

// "L/min": litres of what, and at which pressure, only a person can know. Under the whole header the
// unit to be stated is no contradiction to the log's.
void ColumnWriter::volume_flow(const ColumnGuess& column) {
  const auto parsed = parse_unit(without_brackets(column.unit), Kind::flow);
  const auto* trouble = std::get_if<TextProblem>(&parsed);
  columns_ += fmt::format(
      "\n# [[column]]  # STATE whether standard gas flows here, which \"{}\" in the log does not say; if "
      "so,\n"
      "# take the '#' away and give its unit. Water, or gas at its own pressure, is no channel: leave this\n",
      comment_text(column.unit));
  columns_ += commented(fmt::format("header = {}\nchannel = \"{}.flow\"\nunit = \"\"  # {}\n",
                                    toml_text(column.header), device_name(column.name),
                                    trouble == nullptr ? "" : trouble->remedy) +
                        odd_lines(column.content) + range_line(column.content));
}

// The reader passes over a column without a name, and a map cannot name it.
void ColumnWriter::nameless(const ColumnGuess& column) {
  const Content& cells = column.content;
  if (cells.numbers + cells.texts + cells.broken == 0) {
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
  columns_ += "\n[[column]]\n" + header_lines(column);
  columns_ += channel_line(column, What::open) + states_line(column.content);
}

// Columns whose words mean more than themselves: the step under way, how far a shutter is open.
bool ColumnWriter::worded(const ColumnGuess& column) {
  const auto& words = column.content.words;
  const bool numbered = std::exchange(steps_numbered_, false);
  if (is_step(column) && (numbered || channels_.insert({"run", What::step}).second)) {
    if (numbered) unknown_.push_back(step_header_);  // here are the names
    take_steps(column, words);
    return true;
  }
  steps_numbered_ = numbered;
  if (!is_shutter(column) || words.size() > shown_words) return false;
  states(column);
  return true;
}

void ColumnWriter::take_steps(const ColumnGuess& column, const std::vector<std::string>& texts) {
  step_header_ = column.in_map();
  step_time_ = column.time;
  step_texts_ = texts;
}

// A few whole numbers under the name of a step, unless another column has said what it is.
bool ColumnWriter::numbered_steps(const ColumnGuess& column) {
  const Content& cells = column.content;
  const auto is_whole = [](const std::string& text) {
    const std::size_t point = std::min(text.find_first_of(".,"), text.size());
    return std::min(text.find_first_not_of("0123456789"), text.size()) == point &&
           text.find_first_not_of('0', std::min(point + 1, text.size())) == std::string::npos;
  };
  const bool few = cells.numbers > 0 && cells.texts + cells.broken == 0 && !cells.many_numbers &&
                   std::all_of(cells.few_numbers.begin(), cells.few_numbers.end(), is_whole);
  const bool of_time =
      named_like_time(column.name) || holds_word(column.name, {"count", "dauer", "duration"});
  if (!is_step(column) || !column.unit.empty() || !few || of_time) return false;
  if (!channels_.insert({"run", What::step}).second) {
    unknown_.push_back(column.in_map());
    return true;
  }
  steps_numbered_ = true;
  take_steps(column, cells.few_numbers);
  return true;
}

void ColumnWriter::broken(const ColumnGuess& column) {
  const Content& cells = column.content;
  columns_ += "\n# [[column]]\n" + mostly_broken_line(cells) +
              commented(header_lines(column) + bad_texts_line(cells) + range_line(cells));
}

void ColumnWriter::text(const ColumnGuess& column) {
  const bool alarm = holds_word(column.name, {"alarm", "fault", "warning", "error"});
  columns_ +=
      "\n[[column]]\n" + header_lines(column, true) + channel_line(column, alarm ? What::alarm : What::state);
  columns_ += texts_line(column.content);
}

void ColumnWriter::reserve(const std::string& header) {
  if (auto channel = plan::parse_channel(split_header(header).name)) channels_.insert(std::move(*channel));
}

// A header that is a channel's name says itself what it is, and mostly its unit.
void ColumnWriter::named(ColumnGuess column, const plan::Channel& channel) {
  // Under the whole header a unit that a person states is no contradiction to one of another kind.
  if (!plan::is_text(channel.what) && !says_unit(column, plan::kind_of(channel.what)) && is_unit(column.unit))
    column.whole = true;
  const bool again = !named_.insert(channel).second;
  if (again && (is_of_optic(channel.what) || channel.what == What::step)) {
    unknown_.push_back(column.in_map());  // there is one optic and one run
    return;
  }
  const std::string lines = lines_of_named(column, channel.what);
  const bool says_all =
      lines.empty() && !column.long_form && !again && column.time.empty() && column.quality.empty();
  if (says_all) return;
  columns_ += "\n[[column]]\n" + header_lines(column, plan::is_text(channel.what));
  columns_ += again ? fmt::format("channel = {}  # STATE which device it is: another column is {}\n",
                                  toml_text(take(channel).name()), comment_text(channel.name()))
                    : fmt::format("channel = {}\n", toml_text(channel.name()));
  columns_ += lines;
}

// A map cannot tell two columns of one header apart.
bool ColumnWriter::is_first(const std::string& header) {
  if (headers_.insert(header).second) return true;
  columns_ +=
      fmt::format("\n# STATE: two columns are called {}: rename one in the export\n", toml_text(header));
  return false;
}

void ColumnWriter::add(const ColumnGuess& column) {
  const Content& cells = column.content;
  if (column.header.empty()) return nameless(column);
  // A text that several devices' files have, such as the step, is read from one of them.
  if (earlier_.contains(column.in_map()) && cells.texts > cells.numbers + cells.broken) return;
  if (!is_first(column.in_map())) return;
  if (const auto channel = plan::parse_channel(split_header(column.header).name))
    return named(column, *channel);
  if (column.role != Role::reading && cells.numbers >= cells.texts + cells.broken) {
    (column.role == Role::set_value ? set_values_ : beside_means_).push_back(column.in_map());
    return;
  }
  const auto what = what_of(column, column.unit);
  if (cells.texts + cells.broken > cells.numbers && worded(column)) return;
  if (numbered_steps(column)) return;
  if (cells.broken > cells.numbers && cells.broken >= cells.texts) return broken(column);
  const bool gauge_mostly_off = what && *what != What::open && cells.numbers > 0;
  if (cells.texts > cells.numbers + cells.broken && !gauge_mostly_off) return text(column);
  if (what) return numeric(column, *what, unit_line(column, plan::kind_of(*what)));
  if (is_volume_flow(column.unit)) return volume_flow(column);
  if (what_of_unit(column.unit) == What::open) return unknown(column);
  if (without_brackets(column.unit) == "C") return coulomb(column);
  if (!units_of(column.unit).empty()) {
    unknown_.push_back(column.in_map());  // a known unit of something that is no channel
    return;
  }
  const auto end = column.unit.empty() ? unit_at_end(column.name) : std::nullopt;
  if (const auto ends = end ? what_of(column, *end) : std::nullopt; ends && end->size() > 1) {
    return numeric(column, *ends,
                   fmt::format("unit = {}  # CONFIRM: taken from the end of the header\n", toml_text(*end)));
  }
  if (cells.numbers == 0) {
    unknown_.push_back(column.in_map());  // empty as far as was looked
    return;
  }
  unknown(column);
}

// No channel is made of times.
void ColumnWriter::add_unread_time(const std::string& header, const std::string& example) {
  if (!is_first(header)) return;
  columns_ += fmt::format("\n# \"{}\" seems to hold times, such as \"{}\": it is not read\n",
                          comment_text(header), comment_text(example));
}

std::string ColumnWriter::ignored() const {
  constexpr const char* nothing = "CONFIRM: nothing shows what these are";
  if (set_values_.empty() && beside_means_.empty())
    return unknown_.empty() ? "" : fmt::format("ignore = [{}]  # {}\n", list_of(unknown_), nothing);
  std::string out = "ignore = [\n";
  const auto add = [&out](const std::vector<std::string>& names, const char* why) {
    if (!names.empty()) out += fmt::format("  {},  # {}\n", list_of(names), why);
  };
  add(set_values_, "CONFIRM: what was set, no reading");
  add(beside_means_, "CONFIRM: least, greatest or spread beside a mean");
  add(unknown_, nothing);
  return out + "]\n";
}

std::string ColumnWriter::steps() const {
  if (step_header_.empty()) return "";
  std::string out = fmt::format("\n[steps]\ncolumn = {}  # CONFIRM\n", toml_text(step_header_));
  if (!step_time_.empty())
    out += fmt::format("time = {}  # CONFIRM: it has stamps of its own\n", toml_text(step_time_));
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

}  // namespace vacuary::log
