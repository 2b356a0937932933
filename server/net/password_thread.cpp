// The thread and its two queues.
#include "server/net/password_thread.hpp"

#include <spdlog/spdlog.h>

#include <exception>
#include <utility>

#include "server/net/low_priority.hpp"

namespace tagline::net {

PasswordThread::PasswordThread(access::HashCost cost,
                               std::function<void(std::function<void()>)> post)
    : cost_(cost), nobody_(access::hash_of_nobody(cost)), post_(std::move(post)) {
  thread_ = std::thread([this] { run(); });
}

PasswordThread::~PasswordThread() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    wake_.notify_one();
  }
  thread_.join();
}

bool PasswordThread::check(Whose whose, std::string password, std::string hash,
                           std::function<void(std::optional<bool>)> done) {
  return add(whose, [this, password = std::move(password), hash = std::move(hash),
                     done = std::move(done)] {
    std::optional<bool> right;
    try {
      right = access::is_password(password, hash);
    } catch (const std::exception& error) {
      spdlog::error("{}", error.what());
    }
    post_([done, right] { done(right); });
  });
}

bool PasswordThread::make(Whose whose, std::string password, const access::Salt& salt,
                          std::function<void(std::optional<std::string>)> done) {
  return add(whose, [this, password = std::move(password), salt, done = std::move(done)] {
    std::optional<std::string> hash;
    try {
      hash = access::hash_password(password, salt, cost_);
    } catch (const std::exception& error) {
      spdlog::error("{}", error.what());
    }
    post_([done, hash = std::move(hash)] { done(hash); });
  });
}

bool PasswordThread::add(Whose whose, Task task) {
  const std::lock_guard lock(mutex_);
  auto& queue = whose == Whose::known ? known_ : strangers_;
  if (queue.size() >= most_waiting) return false;
  queue.push_back(std::move(task));
  wake_.notify_one();
  return true;
}

void PasswordThread::run() {
  if (!give_way_to_others())
    spdlog::warn("the thread that hashes passwords runs at the usual priority");
  std::unique_lock lock(mutex_);
  for (;;) {
    wake_.wait(lock, [this] { return stopping_ || !known_.empty() || !strangers_.empty(); });
    if (stopping_) return;
    auto& queue = known_.empty() ? strangers_ : known_;
    const Task task = std::move(queue.front());
    queue.pop_front();
    lock.unlock();
    task();
    lock.lock();
  }
}

}  // namespace tagline::net
