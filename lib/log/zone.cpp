#include "log/zone.hpp"

#include <date/tz.h>

#include <exception>
#include <limits>

namespace vacuary::log {
namespace {

// "+01:00", "-0330", "UTC+1": seconds east of Greenwich.
std::optional<std::int64_t> fixed_offset(std::string text) {
  if (text == "UTC" || text == "Z" || text == "GMT") return 0;
  if (text.starts_with("UTC") || text.starts_with("GMT")) text.erase(0, 3);
  if (text.size() < 2 || (text[0] != '+' && text[0] != '-')) return std::nullopt;
  std::string digits;
  for (std::size_t i = 1; i < text.size(); ++i) {
    if (text[i] == ':' && i + 3 == text.size()) continue;
    if (text[i] < '0' || text[i] > '9') return std::nullopt;
    digits.push_back(text[i]);
  }
  if (digits.empty() || digits.size() > 4) return std::nullopt;
  if (digits.size() <= 2) digits += "00";
  if (digits.size() == 3) digits.insert(0, "0");
  const int hours = std::stoi(digits.substr(0, 2));
  const int minutes = std::stoi(digits.substr(2));
  if (hours > 14 || minutes > 59) return std::nullopt;
  return (text[0] == '-' ? -1 : 1) * (hours * 3600 + minutes * 60);
}

}  // namespace

std::optional<Zone> Zone::find(const std::string& name) {
  Zone zone;
  if (const auto offset = fixed_offset(name)) {
    zone.offset_s_ = *offset;
    return zone;
  }
  try {
    zone.rules_ = date::locate_zone(name);
  } catch (const std::exception&) {
    return std::nullopt;
  }
  return zone;
}

Zone::Answer Zone::to_utc(std::int64_t local_s) const {
  Answer answer;
  if (rules_ == nullptr) {
    answer.utc_s = local_s - offset_s_;
    answer.from_s = std::numeric_limits<std::int64_t>::min();
    answer.to_s = std::numeric_limits<std::int64_t>::max();
    return answer;
  }
  const date::local_seconds local{std::chrono::seconds{local_s}};
  const date::local_info info = static_cast<const date::time_zone*>(rules_)->get_info(local);
  const auto utc = [local_s](const date::sys_info& i) { return local_s - i.offset.count(); };
  answer.utc_s = utc(info.first);
  if (info.result == date::local_info::unique) {
    // A day's margin on both sides keeps clear of folds and gaps.
    constexpr std::int64_t margin = 86400;
    const std::int64_t offset = info.first.offset.count();
    answer.from_s = info.first.begin.time_since_epoch().count() + offset + margin;
    answer.to_s = info.first.end.time_since_epoch().count() + offset - margin;
  } else if (info.result == date::local_info::ambiguous) {
    answer.is = Answer::Is::twice;
    answer.second_s = utc(info.second);
  } else {
    answer.is = Answer::Is::never;
  }
  return answer;
}

}  // namespace vacuary::log
