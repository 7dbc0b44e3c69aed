#include "log/strand.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace vacuary::log {

Result<std::unique_ptr<Strand>> Strand::open(const StrandPlan& plan, const Options& options) {
  const std::vector<std::filesystem::path>& paths = plan.files;
  const plan::ChannelMap& map = plan.map;
  auto first = open_log_file(paths.front(), map, options);
  Diagnostics diagnostics = first.diagnostics();
  if (!first.ok()) return diagnostics;
  Header header = first.value().header;
  std::vector<LineRange> turned = {first.value().turned};
  std::vector<std::shared_ptr<const Layout>> layouts = {std::make_shared<Layout>(first.value().layout)};
  Options look = options;
  look.received = nullptr;  // they are opened again when their turn comes
  for (std::size_t i = 1; i < paths.size(); ++i) {
    auto further = open_log_file(paths[i], map, look, &header);
    for (const Diagnostic& d : further.diagnostics()) diagnostics.push_back(d);
    if (!further.ok()) return diagnostics;
    layouts.push_back(std::make_shared<Layout>(std::move(further.value().layout)));
    turned.push_back(further.value().turned);
    for (std::string& unmapped : further.value().header.unmapped) {
      auto& all = header.unmapped;
      if (std::find(all.begin(), all.end(), unmapped) == all.end()) all.push_back(std::move(unmapped));
    }
  }
  for (const std::filesystem::path& path : paths) header.files.push_back(path.string());
  Splitter splitter(paths, std::move(layouts), std::move(first).value(), map, options);
  return Result<std::unique_ptr<Strand>>(
      std::unique_ptr<Strand>(
          new Strand(std::move(header), std::move(turned), map, std::move(splitter), options)),
      std::move(diagnostics));
}

void Strand::stop_at_header(std::uint64_t line) {
  Diagnostic d;
  d.rule = "second-header";
  d.where = Place{header_.files[static_cast<std::size_t>(current_->place.file)], line, 1, 1, ""};
  d.message = newest_first_ ? "another header stands here, with other columns or units than the first: the "
                              "rows below it were taken for "
                              "the first one's, those above it were not read"
                            : "another header stands here, with other columns or units than the first; the "
                              "rows from here on were "
                              "not read";
  d.remedy = "split the log at the header of what follows and name both parts";
  diagnostics_.push_back(std::move(d));
}

// Most rows are older than the ones before them: nothing was lost, the log is in another order.
bool Strand::tell_out_of_order() {
  const Tally& tally = merger_.tally();
  const auto count = [&](Oddity what) { return tally.count[static_cast<std::size_t>(what)]; };
  const std::uint64_t dropped = count(Oddity::backward_stamp) + count(Oddity::joined_export);
  if (dropped < 20 || dropped < (long_form_ ? 1 : 20) * tally.rows) return false;
  Diagnostic d;
  d.where = Place::whole_file(header_.file);
  std::string order;
  if (newest_first_) {
    d.rule = "not-newest-first";
    order = "not newest first, though the channel map says so";
    d.remedy = "leave newest_first out of the channel map";
  } else if (long_form_) {
    d.rule = "not-by-time";
    order = "not in the order of time";
    d.remedy =
        "if it is newest first, state newest_first = true under [file] in the channel map; else sort it by "
        "time: (head -n 1 LOG; tail -n +2 LOG | sort -s) > SORTED, for a log whose header is its first line "
        "and whose stamps begin the lines and sort as text";
  } else {
    d.rule = "newest-first";
    order = "newest first";
    d.remedy = "state newest_first = true under [file] in the channel map";
  }
  d.message =
      fmt::format("the log is {}: {} rows are older than the ones before them, so that only {} could be read",
                  order, dropped, tally.rows);
  diagnostics_.push_back(std::move(d));
  return true;
}

// Names in the map that no row has, most likely misspelt.
void Strand::tell_never_named() {
  for (const std::size_t c : merger_.never_named()) {
    Diagnostic d;
    d.severity = Severity::warning;
    d.rule = "missing-column";
    d.where = Place::whole_file(header_.file);
    d.message = fmt::format("no row of the log is about '{}', which the channel map lists",
                            header_.channels[c].header);
    d.remedy = "compare its name with those in the log's channel column, letter by letter";
    diagnostics_.push_back(std::move(d));
  }
}

// Where rows hold what has changed alone, empty cells begin again behind most values, and nearly all would be
// taken for missing. Where columns are empty as wholes they do not.
void Strand::tell_mostly_empty() {
  if (long_form_ || on_change_) return;
  constexpr std::uint64_t least_rows = 20;
  const Tally& tally = merger_.tally();
  const auto numbers = std::count_if(header_.channels.begin(), header_.channels.end(),
                                     [](const ChannelInfo& channel) { return !channel.text; });
  const std::uint64_t cells = tally.rows * static_cast<std::uint64_t>(numbers);
  const std::uint64_t empty = tally.count[static_cast<std::size_t>(Oddity::missing_cell)];
  if (2 * empty <= cells) return;
  const bool on_change = tally.rows >= least_rows && merger_.is_sparse();
  Diagnostic d;
  d.severity = on_change ? Severity::error : Severity::warning;
  d.rule = "mostly-empty";
  d.where = Place::whole_file(header_.file);
  d.message = fmt::format("{:.0f} % of the cells that should hold numbers are empty{}",
                          100 * static_cast<double>(empty) / static_cast<double>(cells),
                          on_change ? ", mostly behind each value, as where only what has changed is written"
                                    : ", and taken for readings that are missing");
  d.remedy =
      "if an empty cell means \"as before\", state mode = \"on_change\" under [logging] in the channel map";
  if (on_change) d.remedy += "; if it means that a reading is missing, nothing can be said of this run";
  diagnostics_.push_back(std::move(d));
}

Block* Strand::next() {
  if (lent_) pipeline_.give_back(std::move(lent_));
  if (finished_) return nullptr;
  if (!started_) {
    current_ = pipeline_.take();
    started_ = true;
  }
  if (!current_) {
    finished_ = true;
    return nullptr;
  }
  const bool stopped = current_->parsed.stopped;
  std::unique_ptr<Work> ahead = stopped ? nullptr : pipeline_.take();
  merger_.merge(current_->place, current_->parsed, ahead ? &ahead->parsed : nullptr);
  if (stopped) stop_at_header(merger_.stopped_at());
  if (!ahead) {
    finished_ = true;
    if (!tell_out_of_order()) tell_never_named();
    tell_mostly_empty();
    if (!stopped && pipeline_.failure()) diagnostics_.push_back(*pipeline_.failure());
  }
  lent_ = std::move(current_);
  current_ = std::move(ahead);
  return &lent_->parsed.block;
}

}  // namespace vacuary::log
