// Makes what was recorded fit the floor and the fleet of today, before anything is loaded.
#pragma once

#include <string>
#include <vector>

#include "server/store/names.hpp"
#include "server/store/prepared.hpp"

namespace tagline::store {

/// What was found to differ.
struct Reconciled {
  bool floor_changed{};
  bool from_backup{};
  /// What a person should know, one sentence or two each.
  std::vector<std::string> notes;
};

/// The caller opens and ends the transaction. Throws SQLite::Exception.
///
/// - Floor changed: every path goes, its cart is in doubt, everything is stopped.
/// - Put back from a backup: the same, since what happened after it is not known.
/// - A cart on the floor is no longer in the fleet: its path goes, and everything is stopped,
///   since it may stand in the way unseen until a person says it doesn't. If it was off the floor
///   it is forgotten: another cart that gets its name later is another one.
/// - A station that is gone, or has no capacity any more: the loads counted at it are forgotten.
/// - An open job names a station that is gone, or a cart that is gone: it ends as cancelled, or as
///   stranded if its load was on; with its cart gone before the load was on it is queued again.
Reconciled reconcile(SQLite::Database& database, const Names& names, Instant now);

}  // namespace tagline::store
