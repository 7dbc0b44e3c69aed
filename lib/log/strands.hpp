// Which files, and which columns of them, go on one line of time.
#pragma once

#include <filesystem>
#include <vector>

#include "log/log.hpp"

namespace vacuary::log {

struct StrandPlan {
  std::vector<std::filesystem::path> files;  // by first stamp
  plan::ChannelMap map;                      // what it says of these
  std::vector<std::string> wanted;           // as Options::wanted
};

struct StrandPlans {
  std::vector<StrandPlan> strands;
  // Files in which nothing is to be read: empty ones beside others that are not, and those without any
  // channel that is wanted.
  std::vector<std::filesystem::path> unread;
};

// Files with a channel in common follow each other; those that have none, such as one for each device, or
// only texts and some of their time, run side by side. Columns with a time column of their own
// (plan::Column::time) run beside the others.
[[nodiscard]] Result<StrandPlans> plan_strands(const std::vector<std::filesystem::path>& files,
                                               const plan::ChannelMap& map, const Options& options);

}  // namespace vacuary::log
