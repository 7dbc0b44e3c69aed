#include "log/strands.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "log/layout.hpp"
#include "log/strand.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

// A file of several, looked into.
struct Seen {
  std::filesystem::path path;
  Instant first;
  std::set<plan::Channel> channels;
  std::optional<Instant> last = std::nullopt;  // where it was looked for
};

// To look at a file that is opened again later.
Options quietly(const Options& options, std::vector<std::string> wanted) {
  Options out = options;
  out.received = nullptr;
  out.wanted = std::move(wanted);
  return out;
}

struct Group {
  std::vector<Seen> files;
  std::set<plan::Channel> channels;
  std::set<plan::Channel> from_others;  // of its files, and read from those of another group
};

enum class Share { nothing, texts, numbers };
Share share_of(const Seen& a, const Seen& b) {
  Share out = Share::nothing;
  for (const plan::Channel& channel : a.channels) {
    if (!b.channels.contains(channel)) continue;
    if (!plan::is_text(channel.what)) return Share::numbers;
    out = Share::texts;
  }
  return out;
}

// Devices that share a text, as the step, may have written at the same time; then each is a log of its own.
bool follow_each_other(const Seen& a, const Seen& b) {
  const Share share = share_of(a, b);
  const bool apart = !a.last || !b.last || *a.last <= b.first || *b.last <= a.first;
  return share == Share::numbers || (share == Share::texts && apart);
}

bool belongs_to(const Group& group, const Seen& file) {
  return std::any_of(group.files.begin(), group.files.end(),
                     [&file](const Seen& each) { return follow_each_other(each, file); });
}

// The file and all groups that it belongs to become one.
void add_file(std::vector<Group>& groups, Seen file) {
  Group joined;
  joined.channels = file.channels;
  std::vector<Group> apart;
  for (Group& group : groups) {
    if (!belongs_to(group, file)) {
      apart.push_back(std::move(group));
      continue;
    }
    joined.channels.merge(group.channels);
    std::move(group.files.begin(), group.files.end(), std::back_inserter(joined.files));
  }
  joined.files.push_back(std::move(file));
  apart.push_back(std::move(joined));
  groups = std::move(apart);
}

bool is_wanted(const plan::Channel& channel, const Options& options) {
  const std::vector<std::string>& wanted = options.wanted;
  return wanted.empty() || std::find(wanted.begin(), wanted.end(), channel.name()) != wanted.end();
}

bool has_wanted(const Group& group, const Options& options) {
  return std::any_of(group.channels.begin(), group.channels.end(),
                     [&options](const plan::Channel& channel) { return is_wanted(channel, options); });
}

// Of the map's columns those of this group, and in the first group also those that no file has, to be told
// once.
plan::ChannelMap map_of(const plan::ChannelMap& map, const Group& group, const std::vector<Group>& all) {
  plan::ChannelMap out = map;
  const bool first = &group == &all.front();
  std::erase_if(out.columns, [&](const plan::Column& column) {
    const bool elsewhere = std::any_of(
        all.begin(), all.end(), [&](const Group& each) { return each.channels.contains(column.channel); });
    return !group.channels.contains(column.channel) && (elsewhere || !first);
  });
  for (const plan::Channel& channel : group.from_others) {
    const auto column = std::find_if(map.columns.begin(), map.columns.end(),
                                     [&](const plan::Column& each) { return each.channel == channel; });
    out.ignore.push_back({column == map.columns.end() ? channel.name() : column->header.value, {}});
  }
  const plan::Channel step{"run", plan::What::step};
  if (group.from_others.contains(step) && !map.step_column.empty()) {
    out.ignore.push_back({map.step_column, {}});
    out.step_column.clear();
  }
  const bool elsewhere =
      std::any_of(all.begin(), all.end(), [&](const Group& each) { return each.channels.contains(step); });
  if (map.long_form && !group.channels.contains(step) && (elsewhere || !first)) out.step_column.clear();
  return out;
}

std::vector<std::filesystem::path> in_order(std::vector<Seen> files) {
  std::stable_sort(files.begin(), files.end(),
                   [](const Seen& a, const Seen& b) { return a.first < b.first; });
  std::vector<std::filesystem::path> out;
  for (Seen& one : files) out.push_back(std::move(one.path));
  return out;
}

// The map of columns that share a time column: of `own`, of the step column if that has its own time, or
// (neither) of all that have the log's. What belongs to others is known and not looked at.
plan::ChannelMap map_of(const plan::ChannelMap& map, const plan::Column* own, bool own_step) {
  plan::ChannelMap out = map;
  const bool shared = own == nullptr && !own_step;
  out.columns.clear();
  for (const plan::Column& column : map.columns) {
    if (&column == own || (shared && column.time.empty())) {
      out.columns.push_back(column);
    } else {
      out.ignore.push_back(column.header);
    }
    if (!column.time.empty()) out.ignore.push_back({column.time, column.header.at});
  }
  for (const std::string& time : {map.step_time, map.time_column, map.date_column}) {
    if (!time.empty()) out.ignore.push_back({time, {}});
  }
  for (const std::string& time : map.time_columns) out.ignore.push_back({time, {}});
  const bool keeps_step = own_step || (shared && map.step_time.empty());
  if (keeps_step || map.step_column.empty()) return out;
  out.ignore.push_back({map.step_column, {}});
  out.step_column.clear();
  out.step_time.clear();
  return out;
}

// The columns that the log's own time is of, if it has any, then each that has another; those of them that
// are wanted and in the log. What is missing comes back as warnings, or as errors if nothing is left.
Result<std::vector<StrandPlan>> by_time_column(const std::vector<std::filesystem::path>& files,
                                               const plan::ChannelMap& map, const Options& options) {
  const plan::Channel step{"run", plan::What::step};
  std::vector<StrandPlan> all = {{files, map_of(map, nullptr, false), options.wanted}};
  for (const plan::Column& column : map.columns) {
    if (!column.time.empty() && is_wanted(column.channel, options))
      all.push_back({files, map_of(map, &column, false), {column.channel.name()}});
  }
  if (!map.step_time.empty() && is_wanted(step, options))
    all.push_back({files, map_of(map, nullptr, true), {step.name()}});
  std::vector<StrandPlan> found;
  Diagnostics missing;
  for (StrandPlan& strand : all) {
    const auto opened = open_log_file(files.front(), strand.map, quietly(options, strand.wanted));
    const Diagnostics& said = opened.diagnostics();
    const bool nothing =
        std::any_of(said.begin(), said.end(), [](const Diagnostic& d) { return d.rule == "no-channels"; });
    if (nothing) {
      missing.insert(missing.end(), said.begin(), said.end());
    } else {
      found.push_back(std::move(strand));
    }
  }
  if (found.empty()) return missing;
  std::erase_if(missing, [](const Diagnostic& d) { return d.severity == Severity::error; });
  return Result<std::vector<StrandPlan>>(std::move(found), std::move(missing));
}

bool has_own_times(const plan::ChannelMap& map) {
  return !map.step_time.empty() ||
         std::any_of(map.columns.begin(), map.columns.end(),
                     [](const plan::Column& column) { return !column.time.empty(); });
}

// What can be read of several files, and which of them are empty.
struct Look {
  std::vector<Seen> files;
  std::vector<std::filesystem::path> empty;
  Diagnostics failures, warnings;
};

Look look_into(const std::vector<std::filesystem::path>& files, const plan::ChannelMap& map,
               const Options& options) {
  Look out;
  for (const std::filesystem::path& path : files) {
    auto opened = open_log_file(path, map, quietly(options, {}));
    if (opened.ok()) {
      out.files.push_back({path, opened.value().first.value_or(Instant{}), {}});
      for (const ChannelInfo& info : opened.value().header.channels)
        out.files.back().channels.insert(info.channel);
      continue;
    }
    for (Diagnostic d : opened.diagnostics()) {
      if (d.severity != Severity::error) continue;
      if (d.rule != empty_log_rule) {
        out.failures.push_back(std::move(d));
        continue;
      }
      out.empty.push_back(path);
      d.severity = Severity::warning;
      out.warnings.push_back(std::move(d));
    }
  }
  if (!out.files.empty()) return out;
  for (Diagnostic& d : out.warnings) {
    d.severity = Severity::error;
    out.failures.push_back(std::move(d));
  }
  return out;
}

std::vector<Group> groups_of(const std::vector<Seen>& files) {
  std::vector<Group> groups;
  for (const Seen& file : files) add_file(groups, file);
  std::stable_sort(groups.begin(), groups.end(),
                   [](const Group& a, const Group& b) { return a.channels < b.channels; });
  return groups;
}

// What the rows of a file of (time, channel, value) are about: those of its beginning, or all.
struct Names {
  std::set<plan::Channel> known;
  std::vector<std::string> others;
};
Names names_in(const std::filesystem::path& file, const plan::ChannelMap& map, const Options& options,
               bool all) {
  Names out;
  auto opened = Strand::open({{file}, map, {}}, quietly(options, {}));
  if (!opened.has_value()) return out;
  Strand& strand = *opened.value();
  while (strand.next() != nullptr && all) {
  }
  for (const ChannelInfo& info : strand.header().channels) out.known.insert(info.channel);
  for (const std::size_t c : strand.never_named()) out.known.erase(strand.header().channels[c].channel);
  out.others = strand.tally().unmapped;
  return out;
}

// The map lists the channels of all files of (time, channel, value); only a file's rows say which are its
// own. Files that follow each other name the same ones at once. Where some do not, each is read through.
void look_for_names(Look& look, const plan::ChannelMap& map, const Options& options) {
  for (Seen& file : look.files) file.channels = names_in(file.path, map, options, false).known;
  if (groups_of(look.files).size() == 1) return;
  for (Seen& file : look.files) {
    const Names names = names_in(file.path, map, options, true);
    file.channels = names.known;
    if (!names.known.empty()) continue;
    Diagnostic d;
    d.severity = Severity::warning;
    d.rule = "no-channels";
    d.where = Place::whole_file(file.path.string());
    d.message = "no row of this file is about a channel of the channel map";
    if (!names.others.empty())
      d.message += fmt::format("; the first is about '{}'", shown(names.others.front()));
    d.remedy = "add them to the channel map, or leave the file out";
    look.warnings.push_back(std::move(d));
  }
}

// Where files may have been written at the same time, only their rows say until when.
void look_for_ends(std::vector<Seen>& files, const plan::ChannelMap& map, const Options& options) {
  const auto may_be_beside = [&files](const Seen& one) {
    return std::any_of(files.begin(), files.end(), [&one](const Seen& each) {
      return &each != &one && share_of(one, each) == Share::texts;
    });
  };
  for (Seen& file : files) {
    if (!may_be_beside(file)) continue;
    auto opened = Strand::open({{file.path}, map, {}}, quietly(options, {}));
    if (!opened.has_value()) continue;
    while (opened.value()->next() != nullptr) {
    }
    file.last = opened.value()->tally().end;
  }
}

// A text that several groups have is read from the first of them.
void read_once(std::vector<Group>& groups, Diagnostics& warnings) {
  std::map<plan::Channel, const Group*> read_from;
  for (Group& group : groups) {
    for (const plan::Channel& channel : std::set<plan::Channel>(group.channels)) {
      const auto [first, is_first] = read_from.emplace(channel, &group);
      if (is_first) continue;
      group.channels.erase(channel);
      group.from_others.insert(channel);
      Diagnostic d;
      d.severity = Severity::warning;
      d.rule = "shared-channel";
      d.where = Place::whole_file(group.files.front().path.string());
      d.message = fmt::format(
          "'{}' is in several files that were written at the same time; it is read from '{}' alone",
          channel.name(), first->second->files.front().path.string());
      d.remedy = "if it is another one in each, give them different names in the channel map";
      warnings.push_back(std::move(d));
    }
  }
}

std::vector<StrandPlan> by_channels(const std::vector<Seen>& files, const plan::ChannelMap& map,
                                    const Options& options, std::vector<std::filesystem::path>& unread,
                                    Diagnostics& warnings) {
  std::vector<Group> groups = groups_of(files);
  read_once(groups, warnings);
  const bool none_wanted = std::none_of(groups.begin(), groups.end(),
                                        [&](const Group& group) { return has_wanted(group, options); });
  std::vector<StrandPlan> out;
  for (const Group& group : groups) {
    if (none_wanted || has_wanted(group, options)) {
      out.push_back({in_order(group.files), map_of(map, group, groups), options.wanted});
    } else {
      for (const Seen& file : group.files) unread.push_back(file.path);
    }
  }
  return out;
}

}  // namespace

Result<StrandPlans> plan_strands(const std::vector<std::filesystem::path>& files, const plan::ChannelMap& map,
                                 const Options& options) {
  StrandPlans out;
  Diagnostics warnings;
  const bool own = has_own_times(map);
  if (own) {
    auto strands = by_time_column(files, map, options);
    if (!strands.ok()) return strands.diagnostics();
    warnings = strands.diagnostics();
    out.strands = std::move(strands).value();
  } else {
    out.strands.push_back({files, map, options.wanted});
  }
  if (files.size() < 2) return Result<StrandPlans>(std::move(out), std::move(warnings));
  Look look = look_into(files, out.strands.front().map, options);
  if (!look.failures.empty()) return std::move(look.failures);
  if (map.long_form && !own && look.files.size() > 1) look_for_names(look, map, options);
  warnings.insert(warnings.end(), look.warnings.begin(), look.warnings.end());
  out.unread = std::move(look.empty);
  if (own) {
    const std::vector<std::filesystem::path> order = in_order(std::move(look.files));
    for (StrandPlan& strand : out.strands) strand.files = order;
  } else {
    look_for_ends(look.files, map, options);
    out.strands = by_channels(look.files, map, options, out.unread, warnings);
  }
  return Result<StrandPlans>(std::move(out), std::move(warnings));
}

}  // namespace vacuary::log
