// What is too old is deleted a little at a time, so that no commit waits long for it.
#pragma once

#include "server/store/prepared.hpp"

namespace tagline::store {

/// The rules are Store::tidy()'s. The caller opens and ends the transaction.
class Retention {
 public:
  explicit Retention(const SQLite::Database& database);

  /// Deletes some of what is older than `before`. Throws SQLite::Exception.
  void remove_some(Instant before);

 private:
  Prepared reads_, job_events_, jobs_, run_, blocks_, audit_, floors_;
  Prepared cart_quarters_, merge_quarters_, tag_quarters_;
};

}  // namespace tagline::store
