// Which faults are scored, at which sizes, and which finding counts as finding them.
#pragma once

#include <set>
#include <string>
#include <vector>

namespace score {

struct Case {
  std::string name;
  // From large to small, as `rehearse --fault` takes them; `ordinary` is the index of the usual size.
  std::vector<std::string> sizes;
  std::size_t ordinary = 0;
  // A finding counts only under one of these names. A mere limit that was exceeded names nothing.
  std::set<std::string> rules;
};

[[nodiscard]] const std::vector<Case>& cases();

// Several faults in one run, each of ordinary size and at a time of its own.
struct Together {
  std::string name;
  std::vector<std::string> faults;
};
[[nodiscard]] const std::vector<Together>& together();

// The rules that name a fault of this kind ("trip"), whatever its size.
[[nodiscard]] const std::set<std::string>& rules_of(const std::string& fault);

}  // namespace score
