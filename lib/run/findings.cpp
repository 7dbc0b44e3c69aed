#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "run/watch.hpp"

namespace vacuary::run {
namespace {

constexpr std::size_t most_of_one_rule = 40;  // in one step

bool overlaps(const Finding& cause, const Deviation& other) {
  return other.start <= cause.covers_to && other.end >= cause.covers_from;
}

bool covers(const Finding& cause, const Finding& other) {
  if (&cause == &other || cause.covers.empty() || !overlaps(cause, other.deviation)) return false;
  const auto has = [&](const std::string& name) {
    return std::find(cause.covers.begin(), cause.covers.end(), name) != cause.covers.end();
  };
  if (has("rule:" + other.deviation.rule)) return true;
  return other.limit && (has("*") || has(other.deviation.channel));
}

void fold(Deviation& cause, const std::string& what) {
  if (what.empty()) return;
  static const std::string also = " Beyond their limits through it: ";
  const bool first = cause.effect.find(also) == std::string::npos;
  if (!first && !cause.effect.empty() && cause.effect.back() == '.') cause.effect.pop_back();
  cause.effect += (first ? also : "; ") + what + ".";
}

void fold_all(std::vector<Finding>& sorted, std::vector<char>& hidden, bool limits) {
  for (std::size_t i = 0; i < sorted.size(); ++i) {
    if (sorted[i].limit != limits || hidden[i] != 0) continue;
    for (std::size_t j = 0; j < sorted.size(); ++j) {
      if (hidden[j] != 0 || (limits && sorted[j].limit) || !covers(sorted[j], sorted[i])) continue;
      hidden[i] = 1;
      fold(sorted[j].deviation, sorted[i].folded);
      break;
    }
  }
}

bool same_limit(const Deviation& a, const Deviation& b) {
  return a.rule == "limit-exceeded" && a.rule == b.rule && a.step == b.step && a.channel == b.channel;
}

bool worse(const Deviation& a, const Deviation& b) {
  return std::abs(*a.worst - *a.limit) > std::abs(*b.worst - *b.limit);
}

// Three and more excursions of one channel in one step are one deviation.
std::vector<Deviation> gathered(std::vector<Deviation> all) {
  std::vector<Deviation> out;
  for (Deviation& d : all) {
    const auto alike = [&](const Deviation& other) { return same_limit(d, other); };
    const auto count = std::count_if(all.begin(), all.end(), alike);
    const auto first = std::find_if(out.begin(), out.end(), alike);
    if (count < 3 || first == out.end()) {
      out.push_back(d);
      if (count >= 3)
        out.back().effect = fmt::format("{} times in this step, the first of them. ", count) + d.effect;
      continue;
    }
    if (worse(d, *first)) {
      first->worst = d.worst;
      first->limit = d.limit;
    }
    first->end = d.end;
    first->integral = first->integral.value_or(0) + d.integral.value_or(0);
    if (first->mean_change && d.mean_change) first->mean_change->value += d.mean_change->value;
  }
  return out;
}

}  // namespace

void Findings::add(Finding finding) {
  if (row_ == nullptr) {
    keep(std::move(finding));
  } else {
    fresh_.emplace_back(row_, std::move(finding));
  }
}

void Findings::settle() {
  row_ = nullptr;
  std::stable_sort(fresh_.begin(), fresh_.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  for (auto& [row, finding] : fresh_) keep(std::move(finding));
  fresh_.clear();
}

void Findings::keep(Finding finding) {
  const auto alike = [&](const Finding& other) {
    return other.deviation.rule == finding.deviation.rule && other.deviation.step == finding.deviation.step;
  };
  if (static_cast<std::size_t>(std::count_if(all_.begin(), all_.end(), alike)) >= most_of_one_rule) {
    ++untold_;
    return;
  }
  all_.push_back(std::move(finding));
}

std::vector<Deviation> Findings::told() const {
  std::vector<Finding> sorted = all_;
  const auto by_start = [](const Finding& a, const Finding& b) {
    return a.deviation.start < b.deviation.start;
  };
  std::stable_sort(sorted.begin(), sorted.end(), by_start);
  std::vector<char> hidden(sorted.size());
  // Mere excursions first, so that what explains them is itself still there to be explained.
  for (const bool limits : {true, false}) fold_all(sorted, hidden, limits);
  std::vector<Deviation> told;
  for (std::size_t i = 0; i < sorted.size(); ++i) {
    if (hidden[i] == 0) told.push_back(std::move(sorted[i].deviation));
  }
  return gathered(std::move(told));
}

std::string nm(double metres) {
  const double value = std::abs(metres) * 1e9;
  return value < 0.05 ? "less than 0.1 nm" : fmt::format("{:.{}f} nm", value, value < 20 ? 1 : 0);
}

std::string duration_words(double seconds) {
  if (seconds < 120) return fmt::format("{:.3g} s", seconds);
  if (seconds < 7200) return fmt::format("{:.3g} min", seconds / 60);
  return fmt::format("{:.3g} h", seconds / 3600);
}

std::string of_wanted(const Scene& scene, double metres) {
  if (!scene.plan.optic) return {};
  const double wanted = scene.plan.optic->film.thickness.value.value();
  return fmt::format(" ({:.1f} % of the {:.0f} nm wanted)", 100 * std::abs(metres) / wanted, wanted * 1e9);
}

double flow_in(const Scene& scene, double mol_s, const Unit& unit) {
  const MolarFlow flow = MolarFlow::from_value(mol_s);
  return WrittenFlow::of(flow, unit.basis, scene.plan.chamber.reference).value_si / unit.factor;
}

std::string flow_words(const Scene& scene, double mol_s, const Unit& unit) {
  return fmt::format("{:.2g} {}", flow_in(scene, mol_s, unit), unit.symbol);
}

Estimate<Length> length_estimate(double metres, double standard_m) {
  return {Length::from_value(metres), Length::from_value(std::abs(standard_m))};
}

}  // namespace vacuary::run
