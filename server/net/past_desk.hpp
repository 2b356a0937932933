// Answers /api/past (API.md). What is asked is worked out on a thread of its own of the lowest
// priority, one thing at a time and each for a bounded time, so that whoever looks at the past
// keeps no cart waiting.
#pragma once

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <thread>

#include "server/net/http_message.hpp"
#include "server/net/past.hpp"

namespace tagline::net {

class PastDesk {
 public:
  /// That may wait; who comes then is told to come back.
  static constexpr std::size_t most_waiting = 4;
  /// For one answer. A moment far from what is in memory takes several.
  static constexpr std::chrono::milliseconds longest_work{1'500};
  /// In one answer.
  static constexpr int most_boards = 121;

  /// `past` may be null: then there is none. `post` runs a task on the network thread. Both must
  /// outlive it.
  PastDesk(Past* past, std::function<void(std::function<void()>)> post);
  ~PastDesk();
  PastDesk(const PastDesk&) = delete;
  PastDesk& operator=(const PastDesk&) = delete;

  /// On the network thread. `target` begins with api/past.
  void handle(const Request& request, const Target& target, Respond respond);
  /// The service stops: nothing more is worked out, and who waits is told so.
  void stop();

 private:
  using Work = std::function<std::string(const Past::GiveUp&)>;
  struct Waiting {
    Work work;
    Respond respond;
  };
  void add(Work work, Respond respond);
  void run();
  [[nodiscard]] Response answer(const Work& work) const;

  Past* past_;
  std::function<void(std::function<void()>)> post_;
  std::atomic<bool> stopping_{false};
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<Waiting> queue_;  // under mutex_
  std::thread thread_;
};

}  // namespace tagline::net
