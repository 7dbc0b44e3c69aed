// What a block's rows say of each channel, by step: worked out on the thread that parsed them.
#pragma once

#include <vector>

#include "log/kernels.hpp"
#include "log/log.hpp"

namespace vacuary::log {

class FigureMaker {
 public:
  FigureMaker(const Header& header, const Options& options);
  // Fills block.parts from its rows, texts and breaks; leaves them empty if nobody wants figures.
  // Any thread, `seconds` is its scratch.
  void make(Block& block, std::vector<double>& seconds) const;

 private:
  const Kernels* kernels_;
  bool wanted_ = false;
  int step_ = -1;
  std::vector<int> numeric_;    // channels
  std::vector<Bounds> bounds_;  // by channel
};

}  // namespace vacuary::log
