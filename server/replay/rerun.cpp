// See rerun.hpp.
#include "server/replay/rerun.hpp"

namespace tagline::replay {

Rerun::Rerun(const floor::Track& track, const Start& start)
    : core_(std::make_unique<control::Core>(track, start.cart_names, start.policy, start.restored,
                                            start.now)),
      now_(start.now) {}

std::unique_ptr<Rerun> Rerun::copy() const {
  return std::unique_ptr<Rerun>(new Rerun(core_->copy(), now_, chain_));
}

Retold Rerun::feed(const Entry& entry) {
  if (entry.at < now_) throw BadBytes("its events are not in the order of time");
  now_ = entry.at;
  Retold retold;
  Digest digest{Digest::What::broke, 0};
  try {
    retold.outcome = core_->handle(entry.at, entry.event);
    digest = digest_of(retold.outcome);
  } catch (const std::exception& error) {
    retold.broke = error.what();
  }
  chain_.add(digest);
  retold.same = digest.what == entry.what && short_of(digest) == entry.short_digest;
  return retold;
}

bool Rerun::block_ends(std::uint64_t chain) {
  const bool same = chain_.value() == chain;
  chain_ = {};
  return same;
}

}  // namespace tagline::replay
