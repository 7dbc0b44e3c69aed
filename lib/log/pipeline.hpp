// Slabs cut and parsed by several threads, handed out in file order.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <thread>
#include <vector>

#include "log/figures.hpp"
#include "log/split.hpp"

namespace vacuary::log {

struct Work {
  SlabPlace place;
  Parsed parsed;
  unsigned owner = 0;
};

class Pipeline {
 public:
  // Options::threads counts the thread that calls take(), which helps while it would wait.
  Pipeline(Splitter splitter, const FigureMaker& figures, const Options& options);
  Pipeline(const Pipeline&) = delete;
  Pipeline& operator=(const Pipeline&) = delete;
  ~Pipeline();

  // The next slab in file order, parsed; null at the end.
  [[nodiscard]] std::unique_ptr<Work> take();
  void give_back(std::unique_ptr<Work> work);
  // Why the bytes ended before their time. After take() gave null.
  [[nodiscard]] const std::optional<Diagnostic>& failure() const { return splitter_.failure(); }

 private:
  [[nodiscard]] bool can_start(unsigned thread) const {
    return !splitting_ && !ended_ && !free_[thread].empty();
  }
  void step(std::unique_lock<std::mutex>& lock, unsigned thread);
  void help(unsigned thread);

  const Kernels* kernels_;
  const FigureMaker& figures_;
  Splitter splitter_;  // used by the thread that set splitting_
  std::mutex mutex_;   // guards all below
  std::condition_variable changed_;
  bool splitting_ = false, ended_ = false, stop_ = false;
  // Each thread has its own, so that what it fills is still in its core's cache from the last time.
  std::vector<std::vector<std::unique_ptr<Work>>> free_;
  std::map<std::uint64_t, std::unique_ptr<Work>> done_;
  std::uint64_t cut_ = 0;  // slabs cut so far
  std::uint64_t taken_ = 0;
  bool alone_ = true;                 // set before any helper runs
  std::vector<std::thread> helpers_;  // for the thread that made this only
};

}  // namespace vacuary::log
