// Logs for the tests of `run`, without files: the text of a well-formed log to a header and a block
// (the plain reading, nothing odd in it), and a block cut into smaller ones.
#pragma once

#include <cmath>
#include <cstdlib>
#include <limits>
#include <sstream>
#include <string>
#include <vector>

#include "log/log.hpp"
#include "plan/plan.hpp"
#include "run/run.hpp"

namespace vacuary::run::test {

struct PlainLog {
  log::Header header;
  log::Block block;
};

inline std::vector<std::string> cells_of(const std::string& line) {
  std::vector<std::string> cells(1);
  for (const char c : line) {
    if (c == ',') {
      cells.emplace_back();
    } else {
      cells.back() += c;
    }
  }
  return cells;
}
inline std::string line_of(const std::vector<std::string>& cells) {
  std::string line;
  for (std::size_t c = 0; c < cells.size(); ++c) line += (c > 0 ? "," : "") + cells[c];
  return line;
}

inline Unit unit_of(const std::string& text, Kind kind) {
  const auto parsed = parse_unit(text, kind);
  const Unit* found = std::get_if<Unit>(&parsed);
  return found != nullptr ? *found : Unit{text, kind, 1, 0, FlowBasis::amount};
}

inline double si_of(double value, const Unit& unit, const GasReference& gas) {
  const double si = (value + unit.offset) * unit.factor;
  if (unit.kind != Kind::flow) return si;
  WrittenFlow flow;
  flow.basis = unit.basis;
  flow.value_si = si;
  return flow.resolve(gas).value();
}

// Headers are `name [unit]` with channel names of channel.hpp, time is RFC 3339.
inline PlainLog read_plainly(const std::string& csv, const GasReference& gas) {
  PlainLog log;
  std::istringstream in(csv);
  std::string line;
  std::getline(in, line);
  const std::vector<std::string> heads = cells_of(line);
  for (std::size_t c = 1; c < heads.size(); ++c) {
    const std::size_t open = heads[c].find(" [");
    const auto channel = plan::parse_channel(heads[c].substr(0, open));
    log::ChannelInfo info;
    info.channel = channel.value();
    info.header = heads[c];
    info.text = plan::is_text(info.channel.what);
    if (open != std::string::npos) {
      info.unit =
          unit_of(heads[c].substr(open + 2, heads[c].size() - open - 3), plan::kind_of(info.channel.what));
    } else if (!info.text) {
      info.unit = {"", plan::kind_of(info.channel.what), 1, 0, FlowBasis::amount};
    }
    log.header.channels.push_back(info);
  }
  log.header.file = "log.csv";
  log.block.values.resize(log.header.channels.size());
  log.block.texts.resize(log.header.channels.size());
  std::vector<std::string> text(log.header.channels.size(), "\n");
  std::uint64_t number = 1;
  while (std::getline(in, line)) {
    ++number;
    const std::vector<std::string> cells = cells_of(line);
    Instant time;
    if (!from_rfc3339(cells[0], time)) continue;
    for (std::size_t c = 0; c + 1 < cells.size(); ++c) {
      const std::string& cell = cells[c + 1];
      if (log.header.channels[c].text) {
        if (cell != text[c]) log.block.texts[c].push_back({log.block.rows(), cell});
        text[c] = cell;
        continue;
      }
      char* end = nullptr;
      const double value = std::strtod(cell.c_str(), &end);
      const bool good = !cell.empty() && *end == '\0';
      log.block.values[c].push_back(good ? si_of(value, log.header.channels[c].unit, gas)
                                         : std::numeric_limits<double>::quiet_NaN());
    }
    log.block.time.push_back(time);
    log.block.line.push_back(number);
  }
  return log;
}

// Rows [from, to) of a block as a block of its own.
inline log::Block part(const log::Block& whole, std::size_t from, std::size_t to) {
  log::Block out;
  const auto cut = [&](const auto& v) {
    using V = std::decay_t<decltype(v)>;
    return V(v.begin() + static_cast<std::ptrdiff_t>(from), v.begin() + static_cast<std::ptrdiff_t>(to));
  };
  out.time = cut(whole.time);
  out.line = cut(whole.line);
  for (const auto& column : whole.values) out.values.push_back(column.empty() ? column : cut(column));
  for (const auto& changes : whole.texts) {
    auto& mine = out.texts.emplace_back();
    for (const log::TextChange& change : changes) {
      if (change.row >= from && change.row < to) mine.push_back({change.row - from, change.text});
    }
  }
  for (const std::size_t at : whole.breaks) {
    if (at >= from && at < to) out.breaks.push_back(at - from);
  }
  return out;
}

// The account of a log, fed in blocks of `rows` rows.
inline Account account_of(const plan::Plan& plan, const plan::ChannelMap& map, const PlainLog& log,
                          std::size_t rows = 1000, bool rows_alone = false) {
  Accountant accountant(plan, map, log.header, {24, 720, 1});
  if (rows_alone) accountant.show_rows_alone();
  for (std::size_t from = 0; from < log.block.rows(); from += rows) {
    accountant.add(part(log.block, from, std::min(from + rows, log.block.rows())));
  }
  log::Tally tally;
  tally.rows = log.block.rows();
  if (tally.rows > 0) {
    tally.start = log.block.time.front();
    tally.end = log.block.time.back();
  }
  return accountant.finish(tally);
}

}  // namespace vacuary::run::test
