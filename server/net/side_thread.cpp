// The thread and its queue.
#include "server/net/side_thread.hpp"

#include <spdlog/spdlog.h>
#include <sys/resource.h>
#include <unistd.h>

#include <algorithm>

namespace tagline::net {

SideThread::SideThread(std::size_t places) : places_(places) {
  thread_ = std::thread([this] { run(); });
}

SideThread::~SideThread() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    queue_.clear();
    wake_.notify_one();
  }
  thread_.join();
}

SideThread::Taken SideThread::add(const std::string& who, Task task) {
  const std::lock_guard lock(mutex_);
  const auto theirs = static_cast<std::size_t>(std::ranges::count(queue_, who, &Item::who)) +
                      (busy_with_ == who ? 1u : 0u);
  if (theirs >= places_) return Taken::has_one;
  if (queue_.size() >= most_waiting) return Taken::full;
  queue_.push_back({who, std::move(task)});
  wake_.notify_one();
  return Taken::yes;
}

void SideThread::run() {
  // On Linux a thread has a priority of its own (setpriority(2)). If it can't be lowered it works
  // all the same.
  constexpr int as_low_as_it_goes = 19;
  if (setpriority(PRIO_PROCESS, static_cast<id_t>(gettid()), as_low_as_it_goes) != 0)
    spdlog::warn("a thread for what takes long runs at the usual priority");
  std::unique_lock lock(mutex_);
  for (;;) {
    wake_.wait(lock, [this] { return stopping_ || !queue_.empty(); });
    if (stopping_) return;
    const Item item = std::move(queue_.front());
    queue_.pop_front();
    busy_with_ = item.who;
    lock.unlock();
    const std::function<void()> answer = item.task();
    lock.lock();
    busy_with_.clear();
    lock.unlock();
    answer();
    lock.lock();
  }
}

}  // namespace tagline::net
