#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "log/log.hpp"
#include "log/merge.hpp"
#include "log/pipeline.hpp"

namespace vacuary::log {
namespace {

struct Sorted {
  std::filesystem::path path;
  Instant first;
};

// Several files of one run are read in the order of their first stamps.
Result<std::vector<std::filesystem::path>> by_first_stamp(const std::vector<std::filesystem::path>& files,
                                                          const plan::ChannelMap& map,
                                                          const Options& options) {
  if (files.size() < 2) return files;
  std::vector<Sorted> sorted;
  Diagnostics failures;
  for (const std::filesystem::path& path : files) {
    auto opened = open_log_file(path, map, options);
    if (opened.ok()) {
      sorted.push_back({path, opened.value().first.value_or(Instant{})});
    } else {
      for (const Diagnostic& d : opened.diagnostics()) failures.push_back(d);
    }
  }
  if (!failures.empty()) return failures;
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const Sorted& a, const Sorted& b) { return a.first < b.first; });
  std::vector<std::filesystem::path> out;
  for (Sorted& one : sorted) out.push_back(std::move(one.path));
  return out;
}

}  // namespace

const char* name(Oddity oddity) {
  switch (oddity) {
    case Oddity::gap:
      return "gap";
    case Oddity::repeated_stamp:
      return "repeated stamp";
    case Oddity::backward_stamp:
      return "backward stamp";
    case Oddity::daylight_saving_fold:
      return "daylight-saving fold";
    case Oddity::clock_step:
      return "clock step";
    case Oddity::missing_cell:
      return "missing cell";
    case Oddity::not_a_number:
      return "not a number";
    case Oddity::bad_value:
      return "bad-value code";
    case Oddity::overrange:
      return "overrange";
    case Oddity::unreadable_cell:
      return "unreadable cell";
    case Oddity::stuck_value:
      return "stuck value";
    case Oddity::quantisation_change:
      return "quantisation change";
    case Oddity::contradictory_unit:
      return "contradictory unit";
    case Oddity::wrong_field_count:
      return "wrong field count";
    case Oddity::cut_last_line:
      return "cut last line";
    case Oddity::repeated_header:
      return "repeated header";
    case Oddity::joined_export:
      return "two exports pasted together";
    case Oddity::unreadable_time:
      return "unreadable time";
    case Oddity::too_long_line:
      return "too long line";
    case Oddity::bad_encoding:
      return "bad encoding";
    case Oddity::count_:
      break;
  }
  return "";
}

int Header::find(const plan::Channel& channel) const {
  for (std::size_t i = 0; i < channels.size(); ++i) {
    if (channels[i].channel == channel) return static_cast<int>(i);
  }
  return -1;
}

struct Reader::State {
  State(Header h, const plan::ChannelMap& map, Splitter splitter, const Options& options)
      : header(std::move(h)),
        figures(header, options),
        merger(header, map, figures),
        pipeline(std::move(splitter), figures, options) {}

  void give_back(std::unique_ptr<Work>& work) {
    if (work) pipeline.give_back(std::move(work));
  }
  void stop_at_header(std::uint64_t line) {
    Diagnostic d;
    d.rule = "second-header";
    d.where = Place{header.files[static_cast<std::size_t>(current->slab.file)], line, 1, 1, ""};
    d.message =
        "another header stands here, with other columns or units than the first; the rows from here on were "
        "not read";
    d.remedy = "split the log at this line and name both parts";
    diagnostics.push_back(std::move(d));
  }

  // Nearly all rows are older than the first ones: nothing was lost, the log is written from its end.
  bool tell_newest_first() {
    const Tally& tally = merger.tally();
    const auto count = [&](Oddity what) { return tally.count[static_cast<std::size_t>(what)]; };
    const std::uint64_t dropped = count(Oddity::backward_stamp) + count(Oddity::joined_export);
    if (dropped < 20 || tally.rows * 20 > dropped) return false;
    Diagnostic d;
    d.rule = "newest-first";
    d.where = Place::whole_file(header.file);
    d.message = fmt::format(
        "the log is newest first: {} rows are older than the ones before them, so that only {} could be read",
        dropped, tally.rows);
    d.remedy =
        "export it oldest first, or turn it round: (head -n 1 LOG; tail -n +2 LOG | tac) > TURNED, for a log "
        "whose header is its first line";
    diagnostics.push_back(std::move(d));
    return true;
  }

  // Names in the map that no row has, most likely misspelt.
  void tell_never_named() {
    for (const std::size_t c : merger.never_named()) {
      Diagnostic d;
      d.severity = Severity::warning;
      d.rule = "missing-column";
      d.where = Place::whole_file(header.file);
      d.message = fmt::format("no row of the log is about '{}', which the channel map lists",
                              header.channels[c].header);
      d.remedy = "compare its name with those in the log's channel column, letter by letter";
      diagnostics.push_back(std::move(d));
    }
  }

  Header header;
  FigureMaker figures;
  Merger merger;
  Pipeline pipeline;
  std::unique_ptr<Work> lent, current;
  bool started = false, finished = false;
  Diagnostics diagnostics;
};

Reader::Reader(std::unique_ptr<State> state) : state_(std::move(state)) {}
Reader::Reader(Reader&&) noexcept = default;
Reader& Reader::operator=(Reader&&) noexcept = default;
Reader::~Reader() = default;

Result<Reader> Reader::open(const std::vector<std::filesystem::path>& files, const plan::ChannelMap& map,
                            const Options& options) {
  if (files.empty()) {
    Diagnostic d;
    d.rule = "unreadable-log";
    d.message = "no log file was named";
    d.remedy = "name the plant's export";
    return d;
  }
  auto sorted = by_first_stamp(files, map, options);
  if (!sorted.has_value()) return sorted.diagnostics();
  const std::vector<std::filesystem::path>& paths = sorted.value();

  auto first = open_log_file(paths.front(), map, options);
  Diagnostics diagnostics = first.diagnostics();
  if (!first.ok()) return diagnostics;
  Header header = first.value().header;
  std::vector<std::shared_ptr<const Layout>> layouts = {std::make_shared<Layout>(first.value().layout)};
  for (std::size_t i = 1; i < paths.size(); ++i) {
    auto further = open_log_file(paths[i], map, options, &header);
    for (const Diagnostic& d : further.diagnostics()) diagnostics.push_back(d);
    if (!further.ok()) return diagnostics;
    layouts.push_back(std::make_shared<Layout>(std::move(further.value().layout)));
    for (std::string& unmapped : further.value().header.unmapped) {
      auto& all = header.unmapped;
      if (std::find(all.begin(), all.end(), unmapped) == all.end()) all.push_back(std::move(unmapped));
    }
  }
  for (const std::filesystem::path& path : paths) header.files.push_back(path.string());
  Splitter splitter(paths, std::move(layouts), std::move(first).value(), map, options);
  auto state = std::make_unique<State>(std::move(header), map, std::move(splitter), options);
  return Result<Reader>(Reader(std::move(state)), std::move(diagnostics));
}

const Header& Reader::header() const { return state_->header; }

const Block* Reader::next() {
  State& s = *state_;
  s.give_back(s.lent);
  if (s.finished) return nullptr;
  if (!s.started) {
    s.current = s.pipeline.take();
    s.started = true;
  }
  if (!s.current) {
    s.finished = true;
    return nullptr;
  }
  std::unique_ptr<Work> ahead = s.current->parsed.stopped ? nullptr : s.pipeline.take();
  const bool stopped = s.current->parsed.stopped;
  s.merger.merge(s.current->slab, s.current->parsed, ahead ? &ahead->parsed : nullptr);
  if (stopped) s.stop_at_header(s.merger.stopped_at());
  if (!ahead) {
    s.finished = true;
    if (!s.tell_newest_first()) s.tell_never_named();
    if (!stopped && s.pipeline.failure()) s.diagnostics.push_back(*s.pipeline.failure());
  }
  s.lent = std::move(s.current);
  s.current = std::move(ahead);
  return &s.lent->parsed.block;
}

const Tally& Reader::tally() const { return state_->merger.tally(); }
const Diagnostics& Reader::diagnostics() const { return state_->diagnostics; }

}  // namespace vacuary::log
