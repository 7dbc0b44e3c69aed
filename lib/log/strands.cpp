#include "log/strands.hpp"

#include <algorithm>
#include <set>
#include <utility>

#include "log/layout.hpp"

namespace vacuary::log {
namespace {

// A file of several, looked into.
struct Seen {
  std::filesystem::path path;
  Instant first;
  std::set<plan::Channel> channels;
};

// To look at a file that is opened again later, for all its channels.
Options quietly(const Options& options) {
  Options out = options;
  out.received = nullptr;
  out.wanted.clear();
  return out;
}

struct Group {
  std::vector<Seen> files;
  std::set<plan::Channel> channels;
};

bool shares_channel(const Group& group, const Seen& file) {
  return std::any_of(file.channels.begin(), file.channels.end(),
                     [&group](const plan::Channel& channel) { return group.channels.contains(channel); });
}

// The file and all groups that it has a channel in common with become one.
void add_file(std::vector<Group>& groups, Seen file) {
  Group joined;
  joined.channels = file.channels;
  std::vector<Group> apart;
  for (Group& group : groups) {
    if (!shares_channel(group, file)) {
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

bool has_wanted(const Group& group, const Options& options) {
  return options.wanted.empty() ||
         std::any_of(group.channels.begin(), group.channels.end(), [&options](const plan::Channel& channel) {
           return std::find(options.wanted.begin(), options.wanted.end(), channel.name()) !=
                  options.wanted.end();
         });
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
  return out;
}

std::vector<std::filesystem::path> in_order(std::vector<Seen> files) {
  std::stable_sort(files.begin(), files.end(),
                   [](const Seen& a, const Seen& b) { return a.first < b.first; });
  std::vector<std::filesystem::path> out;
  for (Seen& one : files) out.push_back(std::move(one.path));
  return out;
}

// Only this column, and nothing else that the map knows.
plan::ChannelMap map_of(const plan::ChannelMap& map, const plan::Column* only, bool step) {
  plan::ChannelMap out = map;
  out.columns.clear();
  for (const plan::Column& column : map.columns) {
    if (&column == only) {
      out.columns.push_back(column);
    } else {
      out.ignore.push_back(column.header);
    }
  }
  if (!step && !map.step_column.empty()) {
    out.ignore.push_back({map.step_column, {}});
    out.step_column.clear();
  }
  return out;
}

// The columns that the log's own time is of, if it has any, then each that has another.
std::vector<StrandPlan> by_time_column(const std::vector<std::filesystem::path>& files,
                                       const plan::ChannelMap& map, const Options& options) {
  std::vector<StrandPlan> out;
  plan::ChannelMap shared = map;
  std::erase_if(shared.columns, [](const plan::Column& column) { return !column.time.empty(); });
  for (const plan::Column& column : map.columns) {
    if (!column.time.empty()) shared.ignore.push_back(column.header);
  }
  const bool step = !map.step_column.empty() && map.step_time.empty();
  if (!step) shared.step_column.clear();
  // Headers may be channels' names without a line of the map, which only the log knows.
  if (step || !shared.columns.empty() || open_log_file(files.front(), shared, quietly(options)).ok())
    out.push_back({files, std::move(shared)});
  for (const plan::Column& column : map.columns) {
    if (!column.time.empty()) out.push_back({files, map_of(map, &column, false)});
  }
  if (!map.step_time.empty()) out.push_back({files, map_of(map, nullptr, true)});
  return out;
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
    auto opened = open_log_file(path, map, quietly(options));
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

std::vector<StrandPlan> by_channels(std::vector<Seen> files, const plan::ChannelMap& map,
                                    const Options& options, std::vector<std::filesystem::path>& unread) {
  std::vector<Group> groups;
  for (Seen& file : files) add_file(groups, std::move(file));
  std::stable_sort(groups.begin(), groups.end(),
                   [](const Group& a, const Group& b) { return a.channels < b.channels; });
  const bool none_wanted = std::none_of(groups.begin(), groups.end(),
                                        [&](const Group& group) { return has_wanted(group, options); });
  std::vector<StrandPlan> out;
  for (const Group& group : groups) {
    if (none_wanted || has_wanted(group, options)) {
      out.push_back({in_order(group.files), map_of(map, group, groups)});
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
  const bool own = has_own_times(map);
  if (own) {
    out.strands = by_time_column(files, map, options);
  } else {
    out.strands.push_back({files, map});
  }
  if (files.size() < 2) return out;
  Look look = look_into(files, out.strands.front().map, options);
  if (!look.failures.empty()) return std::move(look.failures);
  out.unread = std::move(look.empty);
  if (own) {
    const std::vector<std::filesystem::path> order = in_order(std::move(look.files));
    for (StrandPlan& strand : out.strands) strand.files = order;
  } else {
    out.strands = by_channels(std::move(look.files), map, options, out.unread);
  }
  return Result<StrandPlans>(std::move(out), std::move(look.warnings));
}

}  // namespace vacuary::log
