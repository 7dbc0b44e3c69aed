// The tables of the channel map.
#include <fmt/format.h>

#include <algorithm>

#include "plan/kind.hpp"
#include "plan/tables.hpp"
#include "plan/zone.hpp"

namespace vacuary::plan {
namespace {

using StepPeriod = ChannelMap::StepPeriod;

// A plain number or duration of the map, taken out of its Given.
template <class T, class Q>
Section<T>& plain(Section<T>& section, std::optional<Q> T::*member, std::string key, Domain domain,
                  std::string help) {
  FieldInfo info = Section<T>::make(Shape::quantity, std::move(key), Need::optional, std::move(help));
  info.kind = KindOf<Q>::value;
  info.domain = domain;
  return section.field(std::move(info),
                       [member](T& value, const Node& node, const FieldInfo& in, Reader& reader) {
                         if (auto given = reader.quantity<Q>(node, in)) value.*member = given->value;
                       });
}

FieldInfo number_field(std::string key, Domain domain, std::string help) {
  FieldInfo info = Section<Column>::make(Shape::number, std::move(key), Need::optional, std::move(help));
  info.domain = domain;
  return info;
}

// ---------------------------------------------------------------- [[column]]

// The kind of the numbers in a column; none for text, or when the channel could not be read.
std::optional<Kind> kind_in(const Column& column) {
  if (column.channel_at.source == nullptr || is_text(column.channel.what)) return std::nullopt;
  return kind_of(column.channel.what);
}

void set_column_channel(Column& column, const Node& node, const FieldInfo& info, Reader& reader) {
  const auto given = reader.text(node, info.key);
  if (!given) return;
  if (auto channel = reader.channel(*given, info.key)) {
    column.channel = std::move(*channel);
    column.channel_at = node.at;
  }
}

void set_column_unit(Column& column, const Node& node, const FieldInfo& info, Reader& reader) {
  const auto kind = kind_in(column);
  if (column.channel_at.source == nullptr) return;
  if (!kind || *kind == Kind::count) {
    reader.complain("bad-quantity", node.at, fmt::format("'{}' has no unit", column.channel.name()),
                    "leave 'unit' out", column.channel_at, "the channel is set here");
    return;
  }
  if (auto unit = reader.unit(node, info.key, *kind)) {
    column.unit = std::move(*unit);
    column.unit_at = node.at;
  }
}

void set_column_offset(Column& column, const Node& node, const FieldInfo& info, Reader& reader) {
  auto kind = kind_in(column);
  if (!kind) return;
  if (*kind == Kind::temperature) kind = Kind::temperature_difference;
  if (const auto value = reader.si_value(node, info.key, *kind)) column.offset_si = value->si;
}

void set_bad_values(Column& column, const Node& node, const FieldInfo& info, Reader& reader) {
  if (!reader.is_list(node, info.key)) return;
  for (const Node& item : node.items) {
    if (const auto value = reader.number(item, info)) column.bad_values.push_back(*value);
  }
}

void set_texts(std::vector<std::string>& texts, const Node& node, const FieldInfo& info, Reader& reader) {
  if (!reader.is_list(node, info.key)) return;
  for (const Node& item : node.items) {
    if (auto text = reader.text(item, info.key)) texts.push_back(std::move(text->value));
  }
}

void set_bad_texts(Column& column, const Node& node, const FieldInfo& info, Reader& reader) {
  set_texts(column.bad_texts, node, info, reader);
}

void set_states(Column& column, const Node& node, const FieldInfo& info, Reader& reader) {
  if (!reader.is_table(node, info.key)) return;
  for (const Entry& entry : node.entries) {
    FieldInfo each = info;
    each.key = entry.key;
    if (const auto value = reader.number(entry.node, each)) column.states[entry.key] = *value;
  }
}

struct LogarithmicRead {
  double a = 1, b = 0;
  GivenText unit;
};

const Section<LogarithmicRead>& logarithmic_section() {
  using R = LogarithmicRead;
  static const Section<R> section =
      Section<R>("a logarithmic scale", "A voltage or number U that stands for 10^(a U + b) of a unit.")
          .field(
              [] {
                auto f = number_field("a", domain::any, "factor of the exponent");
                f.need = Need::required;
                return f;
              }(),
              [](R& value, const Node& node, const FieldInfo& info, Reader& reader) {
                if (const auto number = reader.number(node, info)) value.a = *number;
              })
          .field(
              [] {
                auto f = number_field("b", domain::any, "offset of the exponent");
                f.need = Need::required;
                return f;
              }(),
              [](R& value, const Node& node, const FieldInfo& info, Reader& reader) {
                if (const auto number = reader.number(node, info)) value.b = *number;
              })
          .field(Section<R>::make(Shape::any_unit, "unit", Need::required, "the unit of the result"),
                 [](R& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (auto text = reader.text(node, info.key)) value.unit = std::move(*text);
                 });
  return section;
}

void set_logarithmic(Column& column, const Node& node, const FieldInfo& info, Reader& reader) {
  if (!reader.is_table(node, info.key)) return;
  const LogarithmicRead read = logarithmic_section().read(node, reader);
  const auto kind = kind_in(column);
  const Entry* unit = node.find("unit");
  if (!kind || unit == nullptr || read.unit.at.source == nullptr) return;
  if (auto parsed = reader.unit(unit->node, "unit", *kind)) {
    column.logarithmic = Column::Logarithmic{read.a, read.b, std::move(*parsed)};
  }
}

void check_column(Column& column, const Node& table, Reader& reader) {
  const Entry* logarithmic = table.find("logarithmic");
  const Entry* unit = table.find("unit");
  if (logarithmic != nullptr && unit != nullptr) {
    reader.complain("out-of-domain", unit->key_at, "'unit' and 'logarithmic' contradict each other",
                    "the unit of a logarithmic column stands in its 'logarithmic'", logarithmic->key_at,
                    "the scale is set here");
  }
  if (!column.quality.empty() && column.channel_at.source && is_text(column.channel.what)) {
    reader.complain("out-of-domain", table.find("quality")->node.at,
                    "'quality' is of numbers, and this is a text", "leave it out");
  }
  if (column.gain == 0) {
    reader.complain("out-of-domain", table.find("gain")->node.at, "'gain' must not be zero",
                    "leave it out for 1");
  }
}

FieldInfo logarithmic_field() {
  FieldInfo info = Section<Column>::make(Shape::table, "logarithmic", Need::optional,
                                         "a scale of decades: value = 10^(a U + b)");
  info.section = &logarithmic_section().info();
  return info;
}

const Section<Column>& column_section() {
  static const Section<Column> section =
      Section<Column>("a column", "How one column of the log becomes a channel.")
          .text(&Column::header, "header", Need::required, "the column's header, without a unit in brackets")
          .text(&Column::time, "time", Need::optional,
                "header of the time column that is this column's own (of several so called, the one before "
                "it); "
                "left out: the log's")
          .field(Section<Column>::make(Shape::channel, "channel", Need::required,
                                       "what it is: \"<device>.<what>\", such as \"ion.pressure\""),
                 set_column_channel)
          .field(Section<Column>::make(Shape::any_unit, "unit", Need::optional,
                                       "the unit of the numbers; left out: the one in the header"),
                 set_column_unit)
          .field(number_field("gain", domain::any, "the numbers are multiplied by this"),
                 [](Column& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   if (const auto number = reader.number(node, info)) value.gain = *number;
                 })
          .otherwise("1")
          .field(
              Section<Column>::make(Shape::channel_value, "offset", Need::optional, "and this is added then"),
              set_column_offset)
          .field(logarithmic_field(), set_logarithmic)
          .field(Section<Column>::make(Shape::numbers, "bad_values", Need::optional,
                                       "numbers that mean \"no value\""),
                 set_bad_values)
          .field(Section<Column>::make(Shape::texts, "bad_texts", Need::optional,
                                       "texts that mean \"no value\""),
                 set_bad_texts)
          .text(&Column::quality, "quality", Need::optional,
                "header of the column that says whether the numbers are good (see 'good_quality'); of "
                "several called so the next one behind")
          .field(number_field("overrange", domain::any, "the device is saturated at this number and beyond"),
                 [](Column& value, const Node& node, const FieldInfo& info, Reader& reader) {
                   value.overrange = reader.number(node, info);
                 })
          .field(Section<Column>::make(Shape::number_map, "states", Need::optional,
                                       "words in the cells and the number each stands for"),
                 set_states)
          .check(check_column);
  return section;
}

// ---------------------------------------------------------------- [[splice]]

struct SpliceRead {
  GivenText gauge;
  Given<Pressure> low, high;
};

const Section<SpliceRead>& splice_section() {
  static const Section<SpliceRead> section =
      Section<SpliceRead>("a splice", "The gauge that speaks for the chamber in one range of pressure.")
          .text(&SpliceRead::gauge, "gauge", Need::required, "a gauge of the chamber, by name")
          .quantity(&SpliceRead::low, "low", Need::required, domain::not_negative,
                    "it is used from this true pressure")
          .quantity(&SpliceRead::high, "high", Need::required, domain::positive, "up to this")
          .check([](SpliceRead& splice, const Node&, Reader& reader) {
            in_order(reader, splice.low, "low", splice.high, "high");
          });
  return section;
}

void set_splices(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  if (!reader.is_list(node, info.key)) return;
  for (const Node& item : node.items) {
    if (!reader.is_table(item, info.key)) continue;
    SpliceRead read = splice_section().read(item, reader);
    map.splice.push_back({std::move(read.gauge), read.low.value, read.high.value, item.at});
  }
}

void check_splices(const ChannelMap& map, Reader& reader) {
  std::vector<const Splice*> sorted;
  for (const Splice& splice : map.splice) sorted.push_back(&splice);
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const auto* a, const auto* b) { return a->low < b->low; });
  for (std::size_t i = 1; i < sorted.size(); ++i) {
    if (sorted[i]->low >= sorted[i - 1]->high) continue;
    reader.complain("out-of-domain", sorted[i]->at, "two gauges speak for the chamber in the same range",
                    "let one range begin where the other ends", sorted[i - 1]->at, "the other one");
  }
}

// ---------------------------------------------------------------- [file], [time], [logging] ...

void set_delimiter(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  constexpr char characters[] = {',', ';', '\t', '|', '\t', '\t', '\0'};
  constexpr unsigned blanks[] = {0, 0, 0, 0, 1, 2, 0};
  if (const auto index = reader.choice(node, info)) {
    map.delimiter = characters[*index];
    map.blanks = blanks[*index];
  }
}
void set_thousands(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  constexpr char characters[] = {',', '.', '\'', ' '};
  if (const auto index = reader.choice(node, info)) map.thousands = characters[*index];
}
void set_comment(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  const auto given = reader.text(node, info.key);
  if (!given) return;
  constexpr std::string_view marks = "#%!*/;";
  if (given->value.size() == 1 && marks.find(given->value.front()) != std::string_view::npos) {
    map.comment = given->value.front();
    return;
  }
  reader.complain("out-of-domain", node.at, "'comment' must be one of the characters # % ! * / ;",
                  "state the character that such lines begin with");
}
void set_encoding(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  if (const auto index = reader.choice(node, info)) map.encoding = info.choices[*index].word;
}
template <unsigned ChannelMap::*Member>
void set_lines(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  if (const auto number = reader.number(node, info)) map.*Member = static_cast<unsigned>(*number);
}

FieldInfo choice_field(const char* key, std::vector<Choice> choices, const char* help, const char* fallback) {
  FieldInfo info = Section<ChannelMap>::make(Shape::choice, key, Need::optional, help);
  info.choices = std::move(choices);
  info.fallback = fallback;
  return info;
}
FieldInfo lines_field(const char* key, const char* help) {
  FieldInfo info = number_field(key, domain::whole, help);
  info.domain.high = 1e6;
  info.fallback = "0";
  return info;
}

void check_file(ChannelMap& map, const Node& table, Reader& reader) {
  const char decimal = map.decimal_comma ? ',' : '.';
  const auto clash = [&](const char* key, const char* other) {
    const Entry* first = table.find(key);
    const Entry* second = table.find(other);
    if (first == nullptr) std::swap(first, second);
    if (first == nullptr) return;
    reader.complain("out-of-domain", first->node.at,
                    fmt::format("'{}' and '{}' are the same character", key, other),
                    "state the delimiter; the same for both only where such numbers stand in quotation marks",
                    second != nullptr ? second->node.at : Region{}, "the other one");
  };
  if (map.thousands == decimal) clash("thousands", "decimal");
  if (map.thousands == ' ' && map.blanks == 1) clash("thousands", "delimiter");
  // Stated as well, it is meant: numbers in quotation marks hold their marks.
  if (table.find("delimiter") != nullptr) return;
  if (map.delimiter == decimal) clash("decimal", "delimiter");
  if (map.thousands != '\0' && map.thousands == map.delimiter) clash("thousands", "delimiter");
}

const Section<ChannelMap>& file_section() {
  static const Section<ChannelMap> section =
      Section<ChannelMap>("[file]", "How the export is written.")
          .field(choice_field("delimiter",
                              {{",", "comma"},
                               {";", "semicolon"},
                               {"tab", "tabulator"},
                               {"|", "vertical bar"},
                               {"space", "a run of blanks; none stands in a cell without quotation marks"},
                               {"two spaces", "two blanks or more, or a tab: columns under each other"},
                               {"auto", "found from the header"}},
                              "what stands between two cells", ","),
                 set_delimiter)
          .choice(&ChannelMap::decimal_comma, "decimal", Need::optional, {{".", "point"}, {",", "comma"}},
                  "the decimal mark")
          .field(choice_field("thousands",
                              {{",", "comma"}, {".", "point"}, {"'", "apostrophe"}, {"space", "blank"}},
                              "the mark between thousands; left out: none", ""),
                 set_thousands)
          .field(choice_field("encoding",
                              {{"utf-8", "with or without a byte-order mark"},
                               {"utf-16", "with a byte-order mark"},
                               {"latin-1", "ISO 8859-1"}},
                              "how characters are stored", "utf-8"),
                 set_encoding)
          .field(lines_field("preamble_lines", "lines before the header"),
                 set_lines<&ChannelMap::preamble_lines>)
          .field(lines_field("footer_lines", "lines after the last row"),
                 set_lines<&ChannelMap::footer_lines>)
          .flag(&ChannelMap::units_line, "units_line", "units stand in the line after the header")
          .otherwise("false")
          .flag(&ChannelMap::newest_first, "newest_first",
                "the first row is the newest, the last one the oldest")
          .otherwise("false")
          .field(
              Section<ChannelMap>::make(Shape::text, "comment", Need::optional,
                                        "the character that begins lines which are no rows, such as \"#\"; "
                                        "left out: there are none"),
              set_comment)
          .check(check_file);
  return section;
}

void set_zone(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  const auto given = reader.text(node, info.key);
  if (!given) return;
  map.zone = given->value;
  std::vector<std::string> known;
  if (zone_is_known(map.zone, known)) return;
  reader.unknown("unknown-reference", node.at, fmt::format("there is no time zone '{}'", map.zone), map.zone,
                 known);
}

void set_start(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  const auto given = reader.text(node, info.key);
  if (!given) return;
  Instant instant;
  if (from_rfc3339(given->value, instant)) {
    map.start = instant;
  } else {
    reader.complain("out-of-domain", node.at, "'start' must be a time with its offset from UTC",
                    "write it as \"2031-03-04T05:06:07Z\" or \"2031-03-04T05:06:07+01:00\"");
  }
}

const char* word(const FieldInfo& choice, std::size_t index) { return choice.choices[index].word; }

void set_time_columns(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  set_texts(map.time_columns, node, info, reader);
}

void check_time(ChannelMap& map, const Node& table, Reader& reader) {
  const Entry* columns = table.find("columns");
  for (const char* key : {"column", "date_column"}) {
    const Entry* other = table.find(key);
    if (columns == nullptr || other == nullptr) continue;
    reader.complain("out-of-domain", other->key_at,
                    fmt::format("'{}' and 'columns' both say where the time is", key), "keep one of them",
                    columns->key_at, "the other one");
  }
  const std::size_t digits = map.time_format.find("%f");
  if (columns != nullptr && digits != std::string::npos &&
      (digits == 0 || map.time_format[digits - 1] == ' ')) {
    reader.complain("out-of-domain", columns->key_at,
                    "a fraction in a column of its own would be read wrong: 5 of 1000 as 0.5 s",
                    "if the column counts milliseconds, write '%L'; else export the time with its fraction "
                    "in one column");
  }
  const SectionInfo& section = *time_variants().section;
  const auto form = std::find_if(section.fields.begin(), section.fields.end(),
                                 [](const FieldInfo& field) { return field.key == "form"; });
  apply_variants(reader, table, section, time_variants(),
                 word(*form, static_cast<std::size_t>(map.time_form)));
}

const Section<ChannelMap>& time_section() {
  static const Section<ChannelMap> section =
      Section<ChannelMap>("[time]", "Where a row's time stands and how it is written.")
          .text(&ChannelMap::time_column, "column", Need::optional,
                "header of the time column; left out: the first")
          .text(&ChannelMap::date_column, "date_column", Need::optional,
                "header of the date column, when date and time are two")
          .field(
              Section<ChannelMap>::make(
                  Shape::texts, "columns", Need::optional,
                  "instead of these: headers of all columns that make up the time, in the order of 'format', "
                  "where their cells have blanks between them"),
              set_time_columns)
          .choice(
              &ChannelMap::time_form, "form", Need::optional,
              {{"rfc3339", "2031-03-04T05:06:07Z"},
               {"local", "as 'format' says, in the zone 'zone'"},
               {"epoch_s", "seconds since 1970 (UTC)"},
               {"epoch_ms", "milliseconds since 1970 (UTC)"},
               {"epoch_us", "microseconds since 1970 (UTC)"},
               {"epoch_ns", "nanoseconds since 1970 (UTC)"},
               {"spreadsheet_day", "days since 1899-12-30, in the zone 'zone'"},
               {"elapsed_s", "seconds since 'start'"},
               {"elapsed_ms", "milliseconds since 'start'"},
               {"elapsed_min", "minutes since 'start'"},
               {"elapsed_h", "hours since 'start'"},
               {"elapsed_d", "days since 'start'"},
               {"elapsed_clock", "hours, minutes and seconds since 'start': 26:03:04.5, also 1.02:03:04.5"},
               {"mjd", "modified Julian date: days since 1858-11-17 (UTC)"},
               {"julian_date", "Julian date: days since noon of 4714-11-24 BC (UTC)"}},
              "how a time is written")
          .otherwise("rfc3339")
          .text(&ChannelMap::time_format, "format", Need::optional, "such as \"%d-%b-%Y %H:%M:%S\"")
          .field(Section<ChannelMap>::make(
                     Shape::text, "zone", Need::optional,
                     "the clock's zone by its IANA name, such as \"Europe/Madrid\", or \"UTC\""),
                 set_zone)
          .field(Section<ChannelMap>::make(Shape::text, "start", Need::optional,
                                           "when the elapsed time was zero"),
                 set_start)
          .check(check_time);
  return section;
}

FieldInfo step_kind_field() {
  FieldInfo info = Section<StepPeriod>::make(Shape::choice, "kind", Need::required, "kind of the steps");
  for (const StepKindEntry* entry : step_kinds()) info.choices.push_back({entry->word, entry->help});
  return info;
}

const Section<StepPeriod>& step_period_section() {
  static const Section<StepPeriod> section = [] {
    FieldInfo period =
        Section<StepPeriod>::make(Shape::quantity, "period", Need::required, "distance of two rows in them");
    period.kind = Kind::duration;
    period.domain = domain::positive;
    return Section<StepPeriod>("a step period", "A plant that logs faster in some steps.")
        .field(step_kind_field(),
               [](StepPeriod& value, const Node& node, const FieldInfo& info, Reader& reader) {
                 if (const auto index = reader.choice(node, info)) value.kind = step_kinds()[*index]->kind;
               })
        .field(std::move(period),
               [](StepPeriod& value, const Node& node, const FieldInfo& info, Reader& reader) {
                 if (const auto given = reader.quantity<Duration>(node, info)) value.period = given->value;
               });
  }();
  return section;
}

const Section<ChannelMap>& logging_section() {
  static const Section<ChannelMap> section = [] {
    Section<ChannelMap> made("[logging]", "When the plant writes a row.");
    made.choice(
            &ChannelMap::logging, "mode", Need::optional,
            {{"periodic", "at a steady pace"}, {"on_change", "when something changes: silence is no gap"}},
            "what makes it write")
        .otherwise("periodic");
    return plain(made, &ChannelMap::period, "period", domain::positive,
                 "expected distance of two rows; left out: found from the log")
        .tables(&ChannelMap::step_periods, "step_periods", Need::optional, step_period_section(),
                "other distances in some kinds of step");
  }();
  return section;
}

void set_step_names(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  if (!reader.is_table(node, info.key)) return;
  for (const Entry& entry : node.entries) {
    const auto given = reader.text(entry.node, entry.key);
    if (!given) continue;
    map.step_names[entry.key] = given->value;
  }
}

const Section<ChannelMap>& steps_section() {
  static const Section<ChannelMap> section =
      Section<ChannelMap>("[steps]", "The column that says which step is under way, if there is one.")
          .text(&ChannelMap::step_column, "column", Need::required, "its header")
          .text(&ChannelMap::step_time, "time", Need::optional,
                "header of the time column that is its own; left out: the log's")
          .field(
              Section<ChannelMap>::make(Shape::name_map, "names", Need::optional,
                                        "the log's words for steps, and the recipe's step each stands for"),
              set_step_names);
  return section;
}

const Section<ChannelMap>& long_section() {
  static const Section<ChannelMap> section =
      Section<ChannelMap>("[long]", "An export of one value a row: time, channel, value.")
          .text(&ChannelMap::long_channel_column, "channel_column", Need::required,
                "header of the channel column")
          .text(&ChannelMap::long_value_column, "value_column", Need::required, "header of the value column")
          .text(&ChannelMap::long_quality_column, "quality_column", Need::optional,
                "header of the column that says whether the value is good (see 'good_quality')")
          .text(
              &ChannelMap::long_unit_column, "unit_column", Need::optional,
              "header of the column that says what unit the value has; where it says nothing, the channel's "
              "own holds")
          .check([](ChannelMap& map, const Node&, Reader&) { map.long_form = true; });
  return section;
}

void set_good_quality(ChannelMap& map, const Node& node, const FieldInfo& info, Reader& reader) {
  set_texts(map.good_quality, node, info, reader);
}

// The first quality column that the map names.
const Entry* quality_column(const Node& table) {
  if (const Entry* columns = table.find("column")) {
    for (const Node& column : columns->node.items) {
      if (const Entry* quality = column.find("quality")) return quality;
    }
  }
  const Entry* rows = table.find("long");
  return rows != nullptr ? rows->node.find("quality_column") : nullptr;
}

// A quality column, and what it says of good values, are nothing without each other.
void check_quality(const Node& table, Reader& reader) {
  const Entry* column = quality_column(table);
  const Entry* good = table.find("good_quality");
  if (column != nullptr && good == nullptr) {
    reader.complain("missing-key", column->key_at,
                    "nothing says what this column holds where the values are good",
                    "add good_quality = [\"Good\"], or what the log has in its place, at the top of the map");
  } else if (column == nullptr && good != nullptr) {
    reader.complain("missing-key", good->key_at, "no column of the map has a quality column",
                    "name it with 'quality' in a [[column]], or with 'quality_column' in [long]");
  }
}

FieldInfo splice_field() {
  FieldInfo info = Section<ChannelMap>::make(Shape::tables, "splice", Need::optional,
                                             "which gauge speaks for the chamber in which range");
  info.section = &splice_section().info();
  return info;
}

void check_map(ChannelMap& map, const Node& table, Reader& reader) {
  check_quality(table, reader);
  std::vector<const GivenText*> headers;
  for (const Column& column : map.columns) headers.push_back(&column.header);
  for (const GivenText& header : map.ignore) headers.push_back(&header);
  unique_names(reader, headers, "line about column");
  std::vector<GivenText> channels;
  for (const Column& column : map.columns) {
    if (column.channel_at.source) channels.push_back({column.channel.name(), column.channel_at});
  }
  std::vector<const GivenText*> pointers;
  for (const GivenText& channel : channels) pointers.push_back(&channel);
  unique_names(reader, pointers, "column for");
  check_splices(map, reader);
}

}  // namespace

const Variants& time_variants() {
  static const Variants variants{&time_section().info(),
                                 "form",
                                 {{"rfc3339", {}, {"zone"}, {}},
                                  {"local", {"format", "zone"}, {}, {}},
                                  {"epoch_s", {}, {"zone"}, {}},
                                  {"epoch_ms", {}, {"zone"}, {}},
                                  {"epoch_us", {}, {"zone"}, {}},
                                  {"epoch_ns", {}, {"zone"}, {}},
                                  {"spreadsheet_day", {"zone"}, {}, {}},
                                  {"elapsed_s", {"start"}, {"zone"}, {}},
                                  {"elapsed_ms", {"start"}, {"zone"}, {}},
                                  {"elapsed_min", {"start"}, {"zone"}, {}},
                                  {"elapsed_h", {"start"}, {"zone"}, {}},
                                  {"elapsed_d", {"start"}, {"zone"}, {}},
                                  {"elapsed_clock", {"start"}, {"zone"}, {}},
                                  {"mjd", {}, {"zone"}, {}},
                                  {"julian_date", {}, {"zone"}, {}}}};
  return variants;
}

const Section<ChannelMap>& channels_section() {
  static const Section<ChannelMap> section =
      Section<ChannelMap>("a channel map", "How a plant's export becomes channels.")
          .format()
          .group("file", Need::optional, file_section(), "how the export is written")
          .group("time", Need::optional, time_section(), "where a row's time stands and how it is written")
          .group("logging", Need::optional, logging_section(), "when the plant writes a row")
          .tables(&ChannelMap::columns, "column", Need::optional, column_section(),
                  "columns whose header does not say it all")
          .texts(&ChannelMap::ignore, "ignore", "headers that are known and not wanted")
          .field(Section<ChannelMap>::make(
                     Shape::texts, "good_quality", Need::optional,
                     "what quality columns say of good values; any other word or number in "
                     "them means \"no value\""),
                 set_good_quality)
          .field(splice_field(), set_splices)
          .group("steps", Need::optional, steps_section(), "the step column, if there is one")
          .group("long", Need::optional, long_section(), "an export of one value a row")
          .check(check_map);
  return section;
}

void resolve_channels(Reader& reader, const ChannelMap& map, const Node& root, const Plan& plan) {
  for (const Column& column : map.columns) {
    if (column.channel_at.source) resolve_channel(reader, column.channel, column.channel_at, plan.chamber);
  }
  for (const Splice& splice : map.splice) {
    if (splice.gauge.at.source) {
      resolve_channel(reader, {splice.gauge.value, What::pressure}, splice.gauge.at, plan.chamber);
    }
  }
  const Entry* steps = root.find("steps");
  const Entry* names = steps != nullptr ? steps->node.find("names") : nullptr;
  if (names == nullptr) return;
  const auto known = names_of(plan.recipe.steps);
  for (const Entry& entry : names->node.entries) {
    if (entry.node.type != Node::Type::text) continue;
    if (std::find(known.begin(), known.end(), entry.node.text) != known.end()) continue;
    reader.unknown("unknown-reference", entry.node.at,
                   fmt::format("the recipe has no step '{}'", entry.node.text), entry.node.text, known);
  }
}

}  // namespace vacuary::plan
