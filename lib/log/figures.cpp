#include "log/figures.hpp"

namespace vacuary::log {

FigureMaker::FigureMaker(const Header& header, const Options& options)
    : kernels_(&kernels(options.instructions)),
      wanted_(options.figures),
      step_(header.find({"run", plan::What::step})),
      bounds_(header.channels.size()) {
  for (std::size_t c = 0; c < header.channels.size(); ++c) {
    if (header.channels[c].text) continue;
    numeric_.push_back(static_cast<int>(c));
    const auto stated = options.bounds.find(header.channels[c].channel.name());
    if (stated != options.bounds.end()) bounds_[c] = stated->second;
  }
}

void FigureMaker::make(Block& block, std::vector<double>& seconds) const {
  block.parts.clear();
  if (!wanted_ || block.rows() == 0) return;
  // An interval before which something is missing counts for nothing.
  const std::size_t n = block.rows();
  seconds.resize(n);
  seconds[0] = 0;
  for (std::size_t i = 1; i < n; ++i)
    seconds[i] = static_cast<double>(block.time[i].ns - block.time[i - 1].ns) * 1e-9;
  for (const std::size_t row : block.breaks) seconds[row] = 0;

  const auto add = [&](std::size_t from, std::size_t to) {
    if (from == to) return;
    block.parts.push_back({from, to, {}});
    std::vector<Figures>& of = block.parts.back().of;
    of.resize(block.values.size());
    for (const int channel : numeric_) {
      const auto c = static_cast<std::size_t>(channel);
      kernels_->figures(block.values[c].data() + from, seconds.data() + from, to - from, bounds_[c], of[c]);
    }
  };
  std::size_t from = 0;
  if (step_ >= 0) {
    for (const TextChange& change : block.texts[static_cast<std::size_t>(step_)]) {
      add(from, change.row);
      from = change.row;
    }
  }
  add(from, n);
}

}  // namespace vacuary::log
