#include "log/pipeline.hpp"

#include <utility>

namespace vacuary::log {

Pipeline::Pipeline(Splitter splitter, const FigureMaker& figures, const Options& options)
    : kernels_(&kernels(options.instructions)), figures_(figures), splitter_(std::move(splitter)) {
  constexpr unsigned most_threads = 16;
  // A thread: one that it fills, one that waits its turn, one that is looked at; and as many again, so that
  // nobody waits where one slab takes longer than another.
  constexpr unsigned works = 6;
  unsigned threads = options.threads;
  threads = threads < 1 ? 1 : threads > most_threads ? most_threads : threads;
  free_.resize(threads);
  for (unsigned thread = 0; thread < threads; ++thread) {
    for (unsigned i = 0; i < works; ++i) {
      free_[thread].push_back(std::make_unique<Work>());
      free_[thread].back()->owner = thread;
    }
  }
  alone_ = threads == 1;
  for (unsigned i = 1; i < threads; ++i) helpers_.emplace_back([this, i] { help(i); });
}

Pipeline::~Pipeline() {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    stop_ = true;
  }
  changed_.notify_all();
  for (std::thread& helper : helpers_) helper.join();
}

namespace {

// One for a thread, however many logs it reads by turns: none keeps anything in it from one slab to the next.
ParseScratch& scratch_of_this_thread() {
  thread_local ParseScratch scratch;
  return scratch;
}

}  // namespace

// Cuts one slab and parses it. Only one thread cuts at a time; parsing runs unlocked.
void Pipeline::step(std::unique_lock<std::mutex>& lock, unsigned thread) {
  ParseScratch& scratch = scratch_of_this_thread();
  std::unique_ptr<Work> work = std::move(free_[thread].back());
  free_[thread].pop_back();
  splitting_ = true;
  lock.unlock();
  const bool more = splitter_.next(scratch.slab);
  lock.lock();
  splitting_ = false;
  if (!more) {
    ended_ = true;
    free_[thread].push_back(std::move(work));
    changed_.notify_all();
    return;
  }
  const std::uint64_t number = cut_++;
  if (!alone_) changed_.notify_all();
  lock.unlock();
  work->place = scratch.slab.place;
  parse_slab(*kernels_, scratch, work->parsed);
  figures_.make(work->parsed.block, scratch.seconds);
  lock.lock();
  done_[number] = std::move(work);
  if (!alone_) changed_.notify_all();
}

void Pipeline::help(unsigned thread) {
  std::unique_lock<std::mutex> lock(mutex_);
  while (!stop_ && !ended_) {
    if (can_start(thread)) {
      step(lock, thread);
    } else {
      changed_.wait(lock);
    }
  }
}

std::unique_ptr<Work> Pipeline::take() {
  std::unique_lock<std::mutex> lock(mutex_);
  for (;;) {
    if (const auto found = done_.find(taken_); found != done_.end()) {
      std::unique_ptr<Work> work = std::move(found->second);
      done_.erase(found);
      ++taken_;
      return work;
    }
    if (ended_ && taken_ >= cut_) return nullptr;
    if (can_start(0)) {
      step(lock, 0);
    } else {
      changed_.wait(lock);
    }
  }
}

void Pipeline::give_back(std::unique_ptr<Work> work) {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    free_[work->owner].push_back(std::move(work));
  }
  if (!alone_) changed_.notify_all();
}

}  // namespace vacuary::log
