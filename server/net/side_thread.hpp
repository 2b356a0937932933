// One thread of lowest priority for what takes long and that nobody's cart may wait for, with a
// short queue in which nobody has more than one place.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <thread>

namespace tagline::net {

class SideThread {
 public:
  /// More than so many wait for nothing.
  static constexpr std::size_t most_waiting = 8;

  /// Does what takes long, and gives what is to be done once the person's place is free again: who
  /// has an answer may ask anew.
  using Task = std::function<std::function<void()>()>;
  enum class Taken { yes, has_one, full };

  /// `places`: how many tasks of one person may wait or run at a time.
  explicit SideThread(std::size_t places);
  /// Ends after the task that runs; those that wait are dropped.
  ~SideThread();
  SideThread(const SideThread&) = delete;
  SideThread& operator=(const SideThread&) = delete;

  /// Thread-safe. Neither `task` nor what it gives may throw.
  Taken add(const std::string& who, Task task);

 private:
  struct Item {
    std::string who;
    Task task;
  };
  void run();

  std::size_t places_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<Item> queue_;  // under mutex_
  std::string busy_with_;   // under mutex_: whose task runs; "" if none does
  bool stopping_{false};    // under mutex_
  std::thread thread_;
};

}  // namespace tagline::net
