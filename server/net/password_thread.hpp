// Passwords are hashed here and nowhere else: on a thread of its own, one at a time, behind
// everything that carts and boards wait for. A storm of people signing in, or of somebody who
// guesses, takes one thread of low priority and the memory of one hash.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "server/access/password.hpp"

namespace tagline::net {

class PasswordThread {
 public:
  /// That may wait of each kind; a hash takes some 50 ms, so nobody waits much longer than a
  /// second.
  static constexpr std::size_t most_waiting = 16;

  /// Whose it is: somebody who is known (from this browser, or signed in) goes before strangers,
  /// and strangers can't fill their queue.
  enum class Whose { known, stranger };

  /// `post` runs a task on the thread that answers; it must outlive this.
  PasswordThread(access::HashCost cost, std::function<void(std::function<void()>)> post);
  ~PasswordThread();
  PasswordThread(const PasswordThread&) = delete;
  PasswordThread& operator=(const PasswordThread&) = delete;

  /// Whether `hash` is that password's; nothing if it couldn't be found out. `done` is posted.
  /// False, and nothing is done: too many wait.
  [[nodiscard]] bool check(Whose whose, std::string password, std::string hash,
                           std::function<void(std::optional<bool>)> done);
  /// The password's hash; nothing if there is none to be had.
  [[nodiscard]] bool make(Whose whose, std::string password, const access::Salt& salt,
                          std::function<void(std::optional<std::string>)> done);

  /// A hash that no password has, as dear as the others.
  [[nodiscard]] const std::string& nobody() const { return nobody_; }

 private:
  using Task = std::function<void()>;
  bool add(Whose whose, Task task);
  void run();

  access::HashCost cost_;
  std::string nobody_;
  std::function<void(std::function<void()>)> post_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<Task> known_, strangers_;  // under mutex_
  bool stopping_{false};                // under mutex_
  std::thread thread_;
};

}  // namespace tagline::net
