// The one file of this room that knows the date library, which throws for a zone it does not know.
#include "plan/zone.hpp"

#include <date/tz.h>

#include <exception>

namespace vacuary::plan {

bool zone_is_known(const std::string& name, std::vector<std::string>& known) {
  if (name == "UTC") return true;
  try {
    for (const auto& zone : date::get_tzdb().zones) {
      if (zone.name() == name) return true;
      known.push_back(zone.name());
    }
  } catch (const std::exception&) {
    // No zone data on this machine.
    known.clear();
  }
  return false;
}

}  // namespace vacuary::plan
