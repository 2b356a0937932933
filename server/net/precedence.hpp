// Whose messages have to wait until what was decided before them is on disk, and whose need not.
#pragma once

#include <vector>

#include "server/net/journal.hpp"
#include "server/net/release.hpp"

namespace tagline::net {

/// What outcomes that are not let out yet keep back. A cart's messages keep their order. Another
/// cart's may go first, as long as nothing they can depend on would be unknown after a crash: that
/// is so of how a job gets on and where a cart is on its way to, and not so of what makes track
/// free or lets carts go (a cart taken off the floor, a doubt that ends, a release, a zone, a
/// downtime), for which everybody waits.
struct KeptBack {
  std::vector<CartIx> carts{};
  bool everybody{false};
};

/// Looks at outcomes in the order they are decided.
class Precedence {
 public:
  /// Adds what the outcome keeps back of those after it until it is let out.
  void add(const Batch& batch, const Release& release, KeptBack& to);

 private:
  bool keeps_everybody_back(const control::Record& record);

  /// Carts whose last record, if there was one, said that they may go and are known to be where
  /// they are; by number.
  std::vector<bool> free_to_go_;
};

/// True if nothing that is kept back concerns the release's messages and acknowledgement, and it
/// has no answers, which tell of the whole works and wait for it.
bool may_go_before(const KeptBack& kept_back, const Release& release);

}  // namespace tagline::net
