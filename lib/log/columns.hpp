// Which column is which channel, in what unit.
#pragma once

#include <functional>
#include <set>
#include <string>
#include <vector>

#include "log/layout.hpp"

namespace vacuary::log {

struct HeaderCell {
  std::string text;                    // without quotation marks and outer blanks
  std::string units_line;              // what the line of units says, if there is one
  std::size_t offset = 0, length = 0;  // in the header's record
};

[[nodiscard]] std::string list_headers(const std::vector<HeaderCell>& cells);
// The column with this header, exactly or without unit brackets; -1: none.
[[nodiscard]] int column_named(const std::vector<HeaderCell>& cells, const std::string& name);

class ColumnMapper {
 public:
  ColumnMapper(const plan::ChannelMap& map, const Options& options, const Header* like, Layout& layout,
               Header& header, std::function<Place(std::size_t)> place_of_column)
      : map_(map),
        options_(options),
        like_(like),
        layout_(layout),
        header_(header),
        place_of_column_(std::move(place_of_column)) {}

  // False when the log cannot be read like this; diagnostics() says why. Each may be called once.
  [[nodiscard]] bool map_wide(const std::vector<HeaderCell>& cells);
  [[nodiscard]] bool map_long(int quality_column);  // -1: none
  [[nodiscard]] Diagnostics& diagnostics() { return diagnostics_; }

 private:
  struct Match {
    std::optional<plan::Channel> channel;
    const plan::Column* column = nullptr;
    bool ignored = false;
  };
  [[nodiscard]] Match match(const std::string& text) const;
  [[nodiscard]] bool wanted(const plan::Channel& channel) const;
  void add(std::size_t column, const Match& match, const HeaderCell& cell);
  [[nodiscard]] bool find_quality(std::size_t column, const Match& match);
  [[nodiscard]] std::optional<Unit> unit_of(std::size_t column, const Match& match, const HeaderCell& cell);
  [[nodiscard]] std::optional<Unit> stated_unit(std::size_t column, const Match& match,
                                                const HeaderCell& cell);
  [[nodiscard]] CellRule rule(const Match& match, const Unit& unit) const;
  [[nodiscard]] int place_channel(ChannelInfo info, CellRule rule, std::size_t column);
  [[nodiscard]] bool finish(const std::vector<HeaderCell>& cells);
  void complain(Severity severity, std::string rule, std::size_t column, std::string message,
                std::string remedy);
  void report_missing_map_columns(const std::vector<HeaderCell>& cells);

  const plan::ChannelMap& map_;
  const Options& options_;
  const Header* like_;
  Layout& layout_;
  Header& header_;
  std::function<Place(std::size_t)> place_of_column_;
  const std::vector<HeaderCell>* cells_ = nullptr;  // of a wide log
  int quality_column_ = -1;                         // of the column in hand
  std::set<std::string> headers_;                   // of the log, whole
  std::set<const plan::Column*> used_;
  std::size_t known_ = 0;  // columns that are channels, wanted or not
  Diagnostics diagnostics_;
};

}  // namespace vacuary::log
