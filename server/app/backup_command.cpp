// See backup_command.hpp.
#include "server/app/backup_command.hpp"

#include <chrono>
#include <cstdio>
#include <string>

#include "server/app/bad_input.hpp"
#include "server/net/time_text.hpp"
#include "server/store/backup.hpp"
#include "server/store/store.hpp"

namespace tagline::app {
namespace {

std::string in_words(const store::BackupFacts& facts) {
  const auto count = [](std::size_t n, const std::string& one) {
    return std::to_string(n) + " " + one + (n == 1 ? "" : "s");
  };
  std::string text = count(facts.all_jobs, "job") + ", " + std::to_string(facts.open_jobs) +
                     " of them open, " + std::to_string((facts.bytes + 1023) / 1024) + " KiB";
  if (facts.latest == Instant{}) return text + ", nothing written yet";
  return text + ", up to " + net::time_text(facts.latest);
}

}  // namespace

int backup(const BackupOptions& options) try {
  const auto facts = store::back_up(options.data, options.file);
  std::printf("Backed up %s to %s: %s.\n", options.data.c_str(), options.file.c_str(),
              in_words(facts).c_str());
  return 0;
} catch (const store::StoreError& error) {
  throw BadInput(error.what());
}

int restore(const BackupOptions& options) try {
  const auto now = std::chrono::time_point_cast<Duration>(std::chrono::system_clock::now());
  const auto facts = store::restore(options.data, options.file, now);
  std::printf(
      "Put %s in place in %s: %s. The record that was there is kept beside it.\n"
      "What happened after the backup is not in it. When the service starts, everything is stopped "
      "and every cart is in doubt until a person has said where it stands.\n",
      options.file.c_str(), options.data.c_str(), in_words(facts).c_str());
  return 0;
} catch (const store::StoreError& error) {
  throw BadInput(error.what());
}

}  // namespace tagline::app
