// A hole in what the film hangs on: from the last row whose power and shutter were read to the next, with
// rows between that say neither, or with rows missing.
//
// A hole is laid when it closes, since what lies behind it says as much of it as what lies before. Where a
// device was silent so briefly that nothing can have happened and be over, its readings are taken as going
// straight from one to the other, as between the rows of any log. Where it was silent for longer, they may
// have been anything that they can be: the estimate is the same straight line, or what the supply's energy
// counter says, and its uncertainty the root mean square of the distance to it (rectangular, JCGM 100 4.3.7
// and F.2.4.5). Source of how brief: a supply that trips is at power again after more than three seconds, and
// a large shutter takes seconds for each way (common practice).
#pragma once

#include <cstddef>
#include <vector>

#include "run/row.hpp"

namespace vacuary::run {

// Where the optic went in the interval before a row.
struct Way {
  double from_rad = 0, to_rad = 0;  // unwrapped angle of the optic
  bool stands = false;              // its reading does, and should not
  bool speed_moved = false;         // the digits of its speed
  double moved_rad = 0, expected_rad = no_value;
};

class Hole {
 public:
  // A row in it, and the interval before it.
  struct At {
    Instant time;
    double power_w = no_value, open = no_value;  // no_value: not read
    double pressure_pa = no_value;
    bool missing = false;  // rows are, before this one
    bool outside = false;  // the interval before it is none of the film's
    Way way;
  };
  struct Device {
    double rated_w = 0;
    double power_usual_s = 0, shutter_usual_s = 0;  // distances at which they are read anyway
    // By the supply's counter from the first row to the last, if it was read there, and what its digits leave
    // open of that.
    double counted_j = no_value, count_slack_j = 0;
    bool rounded = false;  // the counter knows better than the stamps, however brief it was
    bool lost = false;     // nobody knows how long it was
  };
  struct Laid {
    std::vector<double> energy_j;  // through the shutter, of the interval before each row
    double sum_j = 0, low_j = 0, high_j = 0;
    double edges_j2 = 0;    // variance: what was read is not the same on either side of a brief silence
    double supplied_j = 0;  // through the shutter or not
    double bounded_s = 0;   // how long it was anything between bounds
    bool by_counter = false;
    bool open = false;     // the shutter, as far as it was read
    bool shutter = false;  // it was the shutter alone that was not read
    // Standard uncertainty about the estimate of what is between bounds.
    [[nodiscard]] double standard_j() const;
  };

  void begin(const At& first) { rows_.assign(1, first); }
  void add(const At& row);
  [[nodiscard]] bool open() const { return !rows_.empty(); }
  [[nodiscard]] const std::vector<At>& rows() const { return rows_; }
  // Rows without a reading of one or the other.
  [[nodiscard]] std::size_t unread() const { return unread_; }
  // `hold`: a reading stands until the next.
  [[nodiscard]] Laid lay(const Device& device, bool hold) const;
  void clear() {
    rows_.clear();
    unread_ = 0;
  }

  // So long a silence of either may hide what happened in it.
  static constexpr double brief_power_s = 3, brief_shutter_s = 5;
  // More are joined in pairs.
  static constexpr std::size_t most_rows = 4096;

 private:
  std::vector<At> rows_;
  std::size_t unread_ = 0;
};

// At what distance something is read that has a reading in every so many rows only: as regularly as that,
// the rows between are not silent but of a slower device.
class Rhythm {
 public:
  void row(double dt_s, bool read);
  // 0: in every row, or at no regular distance.
  [[nodiscard]] double usual_s() const { return same_ >= told_by ? usual_s_ : 0; }

 private:
  static constexpr int told_by = 3;  // distances
  double since_s_ = 0, usual_s_ = 0;
  std::size_t since_rows_ = 0, usual_rows_ = 0;
  int same_ = 0;
};

}  // namespace vacuary::run
