#include "run/figures.hpp"

#include <algorithm>
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

Figures::Interval Figures::interval(const Row& row, bool broken) {
  return {row.dt_s,        row.pressure_pa,        row.step,
          row.step_before, !row.first && !row.gap, row.gap != broken || row.jumped_s > 0};
}

void Figures::area(std::size_t i, double now, const Interval& at, bool hold) {
  if (at.counts && at.step_before >= 0 && !watched_[i].angle) {
    One& one = steps_[static_cast<std::size_t>(at.step_before)][i];
    const double area = (hold ? last_[i] : 0.5 * (now + last_[i])) * at.dt_s;
    if (!std::isnan(area)) {
      one.integral.add(area);
      one.covered_s.add(at.dt_s);
    }
  }
  last_[i] = now;
}

void Figures::sum_up(std::size_t i, double now, const Interval& at, bool hold) {
  area(i, now, at, hold);
  if (at.step < 0) return;
  One& one = steps_[static_cast<std::size_t>(at.step)][i];
  if (std::isnan(now)) {
    ++one.bad;
    return;
  }
  ++one.good;
  one.least = lesser(one.least, now);
  one.greatest = greater(one.greatest, now);
  one.last = now;
  one.plain.add(now);
}

void Figures::add(const Row& row) {
  const Interval at = interval(row, row.gap);
  for (std::size_t i = 0; i < watched_.size(); ++i)
    sum_up(i, watched_[i].column < 0 ? row.pressure_pa : row.at(watched_[i].column), at, row.hold);
}

void Figures::add(const log::Block& block, const log::Part& part, const std::vector<Interval>& rows) {
  const int step = rows.front().step;
  const bool plain = !part.of.empty() && std::none_of(rows.begin() + 1, rows.end(), [&](const Interval& at) {
    return at.odd || at.step != step || at.step_before != step;
  });
  for (std::size_t i = 0; i < watched_.size(); ++i) {
    if (watched_[i].column < 0) {
      for (const Interval& at : rows) sum_up(i, at.pressure_pa, at, false);
      continue;
    }
    const auto c = static_cast<std::size_t>(watched_[i].column);
    if (c >= block.values.size() || block.values[c].empty()) {
      for (const Interval& at : rows) sum_up(i, no_value, at, false);
      continue;
    }
    const double* values = block.values[c].data() + part.from;
    if (!plain) {
      for (std::size_t r = 0; r < rows.size(); ++r) sum_up(i, values[r], rows[r], false);
      continue;
    }
    const log::Figures& f = part.of[c];
    area(i, f.first, rows.front(), false);
    last_[i] = f.last;
    if (step < 0) continue;
    One& one = steps_[static_cast<std::size_t>(step)][i];
    if (!watched_[i].angle) {
      one.integral.add(f.integral);
      one.covered_s.add(f.covered_s);
    }
    one.good += f.good;
    one.bad += rows.size() - f.good;
    if (f.good == 0) continue;
    one.least = lesser(one.least, f.least);
    one.greatest = greater(one.greatest, f.greatest);
    one.plain.add(f.sum);
    for (std::size_t r = rows.size(); r > 0; --r) {
      one.last = values[r - 1];
      if (!std::isnan(one.last)) break;
    }
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
