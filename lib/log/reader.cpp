#include <utility>

#include "log/log.hpp"
#include "log/strand.hpp"
#include "log/strands.hpp"
#include "log/weave.hpp"

namespace vacuary::log {
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
    case Oddity::clock_restart:
      return "clock that began again";
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
    case Oddity::comment_line:
      return "comment line";
    case Oddity::shared_stamp:
      return "shared stamp";
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
  std::unique_ptr<Strand> strand;  // or
  std::unique_ptr<Weaver> weaver;
};

Reader::Reader(std::unique_ptr<State> state) : state_(std::move(state)) {}
Reader::Reader(Reader&&) noexcept = default;
Reader& Reader::operator=(Reader&&) noexcept = default;
Reader::~Reader() = default;

namespace {

// For the checksum of a file in which nothing is to be read.
void pass_over(const std::filesystem::path& file, const plan::ChannelMap& map, const Options& options) {
  auto bytes = open_bytes(file, text_form(map), options.largest_decompressed, options.received);
  if (!bytes.ok()) return;
  std::vector<char> piece(slab_bytes);
  while (bytes.value()->read(piece.data(), piece.size()) == piece.size()) {
  }
}

}  // namespace

Result<Reader> Reader::open(const std::vector<std::filesystem::path>& files, const plan::ChannelMap& map,
                            const Options& options) {
  if (files.empty()) {
    Diagnostic d;
    d.rule = "unreadable-log";
    d.message = "no log file was named";
    d.remedy = "name the plant's export";
    return d;
  }
  auto planned = plan_strands(files, map, options);
  Diagnostics diagnostics = planned.diagnostics();
  if (!planned.has_value()) return diagnostics;
  const StrandPlans& plans = planned.value();
  Options asked = options;
  asked.threads = plans.strands.size() > 1 ? 1 : options.threads;
  std::vector<std::unique_ptr<Strand>> strands;
  for (const StrandPlan& plan : plans.strands) {
    asked.wanted = plan.wanted;
    auto strand = Strand::open(plan, asked);
    for (const Diagnostic& d : strand.diagnostics()) diagnostics.push_back(d);
    if (!strand.ok()) return diagnostics;
    strands.push_back(std::move(strand).value());
    // Further strands of the same files give the same bytes again.
    if (plan.files == plans.strands.back().files) asked.received = nullptr;
  }
  for (const std::filesystem::path& file : plans.unread) pass_over(file, map, options);
  auto state = std::make_unique<State>();
  if (strands.size() == 1) {
    state->strand = std::move(strands.front());
  } else {
    state->weaver = std::make_unique<Weaver>(std::move(strands), map, asked);
  }
  return Result<Reader>(Reader(std::move(state)), std::move(diagnostics));
}

const Header& Reader::header() const {
  return state_->strand ? state_->strand->header() : state_->weaver->header();
}
const Block* Reader::next() { return state_->strand ? state_->strand->next() : state_->weaver->next(); }
const Tally& Reader::tally() const {
  return state_->strand ? state_->strand->tally() : state_->weaver->tally();
}
const Diagnostics& Reader::diagnostics() const {
  return state_->strand ? state_->strand->diagnostics() : state_->weaver->diagnostics();
}

}  // namespace vacuary::log
