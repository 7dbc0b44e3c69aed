// Local wall-clock time to instants, with the folds and gaps of daylight saving.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

namespace vacuary::log {

class Zone {
 public:
  // An IANA name ("Europe/Berlin"), "UTC", or a fixed offset "+01:00". None: not known here.
  [[nodiscard]] static std::optional<Zone> find(const std::string& name);

  struct Answer {
    enum class Is : std::uint8_t { unique, twice, never } is = Is::unique;
    std::int64_t utc_s = 0;     // unique; twice: the earlier
    std::int64_t second_s = 0;  // twice: the later
    // Local seconds [from, to) that have the same offset as this answer, when unique.
    std::int64_t from_s = 0, to_s = 0;
  };
  // `local_s`: seconds since 1970-01-01T00:00:00 on the local clock.
  [[nodiscard]] Answer to_utc(std::int64_t local_s) const;

 private:
  const void* rules_ = nullptr;  // of the zone database, lives as long as the program
  std::int64_t offset_s_ = 0;    // without rules
};

}  // namespace vacuary::log
