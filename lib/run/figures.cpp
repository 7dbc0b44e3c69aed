#include "run/figures.hpp"

#include <cmath>

namespace vacuary::run {

Figures::Figures(const plan::Plan& plan, const log::Header& header) {
  for (std::size_t c = 0; c < header.channels.size(); ++c) {
    const log::ChannelInfo& info = header.channels[c];
    if (info.text) continue;
    watched_.push_back(
        {info.channel, info.unit, static_cast<int>(c), info.channel.what == plan::What::angle});
  }
  const plan::Channel vessel{"chamber", plan::What::pressure};
  if (header.find(vessel) < 0 && !plan.chamber.gauges.empty()) {
    watched_.push_back({vessel, unit("mbar", Kind::pressure), -1, false});
  }
  steps_.assign(plan.recipe.steps.size(), std::vector<One>(watched_.size()));
  last_.assign(watched_.size(), no_value);
}

double Figures::reading(const Watched& watched, const Row& row) const {
  return watched.column < 0 ? row.pressure_pa : row.at(watched.column);
}

void Figures::add(const Row& row) {
  for (std::size_t i = 0; i < watched_.size(); ++i) {
    const double now = reading(watched_[i], row);
    if (!row.first && !row.gap && row.step_before >= 0 && !watched_[i].angle) {
      One& one = steps_[static_cast<std::size_t>(row.step_before)][i];
      const double area = (row.hold ? last_[i] : 0.5 * (now + last_[i])) * row.dt_s;
      if (!std::isnan(area)) {
        one.integral.add(area);
        one.covered_s.add(row.dt_s);
      }
    }
    last_[i] = now;
    if (row.step < 0) continue;
    One& one = steps_[static_cast<std::size_t>(row.step)][i];
    if (std::isnan(now)) {
      ++one.bad;
      continue;
    }
    ++one.good;
    one.least = std::fmin(one.least, now);
    one.greatest = std::fmax(one.greatest, now);
    one.last = now;
    one.plain.add(now);
  }
}

std::vector<Figure> Figures::of(std::size_t step) const {
  std::vector<Figure> figures;
  for (std::size_t i = 0; i < watched_.size(); ++i) {
    const One& one = steps_[step][i];
    if (one.good == 0) continue;
    Figure figure;
    figure.channel = watched_[i].channel;
    figure.unit = watched_[i].unit;
    figure.minimum_si = one.least;
    figure.maximum_si = one.greatest;
    figure.last_si = one.last;
    figure.integral_si_s = one.integral.value();
    const double covered_s = one.covered_s.value();
    figure.mean_si =
        covered_s > 0 ? figure.integral_si_s / covered_s : one.plain.value() / static_cast<double>(one.good);
    figure.good = one.good;
    figure.bad = one.bad;
    figures.push_back(figure);
  }
  return figures;
}

}  // namespace vacuary::run
