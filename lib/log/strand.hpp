// Files of a log that follow each other on one line of time, read as one.
#pragma once

#include <filesystem>
#include <memory>
#include <vector>

#include "log/merge.hpp"
#include "log/pipeline.hpp"
#include "log/strands.hpp"

namespace vacuary::log {

class Strand {
 public:
  [[nodiscard]] static Result<std::unique_ptr<Strand>> open(const StrandPlan& plan, const Options& options);

  [[nodiscard]] const Header& header() const { return header_; }
  [[nodiscard]] const FigureMaker& figures() const { return figures_; }
  // As Reader::next.
  [[nodiscard]] Block* next();
  [[nodiscard]] const Tally& tally() const { return merger_.tally(); }
  [[nodiscard]] const Diagnostics& diagnostics() const { return diagnostics_; }
  // Of a long log, so far.
  [[nodiscard]] std::vector<std::size_t> never_named() const { return merger_.never_named(); }

 private:
  Strand(Header header, std::vector<LineRange> turned, const plan::ChannelMap& map, Splitter splitter,
         const Options& options)
      : header_(std::move(header)),
        long_form_(map.long_form),
        newest_first_(map.newest_first),
        on_change_(map.logging == plan::Logging::on_change),
        figures_(header_, options),
        merger_(header_, std::move(turned), map, figures_),
        pipeline_(std::move(splitter), figures_, options) {}

  void stop_at_header(std::uint64_t line);
  [[nodiscard]] bool tell_out_of_order();
  void tell_never_named();
  void tell_mostly_empty();

  Header header_;
  bool long_form_ = false, newest_first_ = false, on_change_ = false;
  FigureMaker figures_;
  Merger merger_;
  Pipeline pipeline_;
  std::unique_ptr<Work> lent_, current_;
  bool started_ = false, finished_ = false;
  Diagnostics diagnostics_;
};

}  // namespace vacuary::log
