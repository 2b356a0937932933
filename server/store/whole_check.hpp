// Looks through the whole database file behind a service that runs already. At the start only what
// recovery reads is checked (database.hpp), because a year of history takes longer to read through
// than a works can stand still; this finds what is wrong with the rest, some seconds later.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>

namespace tagline::store {

class WholeCheck {
 public:
  /// Begins at once, on a thread of its own that yields to all others and only reads. `damaged` is
  /// called on that thread, at most once, with what is wrong and what to do.
  WholeCheck(const std::filesystem::path& folder, std::function<void(const std::string&)> damaged);
  /// Leaves off if it hasn't ended.
  ~WholeCheck();
  WholeCheck(const WholeCheck&) = delete;
  WholeCheck& operator=(const WholeCheck&) = delete;

  /// Until it has ended.
  void wait();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tagline::store
