// SQLite's own check of a file, on a connection of its own.
#include "server/store/whole_check.hpp"

#include <SQLiteCpp/Database.h>
#include <sqlite3.h>
#include <sys/resource.h>
#include <unistd.h>

#include <atomic>
#include <thread>

#include "server/store/errors.hpp"

namespace tagline::store {
namespace {

constexpr int lowest_priority = 19;
/// Steps of SQLite's machine between two looks whether to leave off: well under a millisecond.
constexpr int steps_between_looks = 10'000;

}  // namespace

struct WholeCheck::Impl {
  Impl(const std::filesystem::path& folder, std::function<void(const std::string&)> tell)
      : file(folder / "tagline.db"), damaged(std::move(tell)), thread([this] { run(); }) {}

  void run() {
    // On Linux a priority is a thread's. That it can't be lowered is no reason not to look.
    (void)::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), lowest_priority);
    std::string found;
    try {
      SQLite::Database database(file.string(), SQLite::OPEN_READONLY);
      sqlite3_progress_handler(
          database.getHandle(), steps_between_looks,
          [](void* self) { return static_cast<Impl*>(self)->leaving.load() ? 1 : 0; }, this);
      found = database.execAndGet("PRAGMA quick_check(1)").getString();
    } catch (const SQLite::Exception& error) {
      found = error.what();
    }
    if (found == "ok" || leaving) return;
    damaged(file.string() + " is damaged in its history (" + found +
            "). Jobs and carts are not touched by it. Check the disk, then stop the service and "
            "put a backup in its place.");
  }

  std::filesystem::path file;
  std::function<void(const std::string&)> damaged;
  std::atomic<bool> leaving{false};
  std::thread thread;  // last: it uses the others
};

WholeCheck::WholeCheck(const std::filesystem::path& folder,
                       std::function<void(const std::string&)> damaged)
    : impl_(std::make_unique<Impl>(folder, std::move(damaged))) {}

WholeCheck::~WholeCheck() {
  impl_->leaving = true;
  wait();
}

void WholeCheck::wait() {
  if (impl_->thread.joinable()) impl_->thread.join();
}

}  // namespace tagline::store
