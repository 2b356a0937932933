// A run of the core once more: the same start, the same events, and whether the same comes of them.
#pragma once

#include <memory>
#include <optional>
#include <string>

#include "server/control/core.hpp"
#include "server/floor/track.hpp"
#include "server/replay/block.hpp"
#include "server/replay/start_bytes.hpp"

namespace tagline::replay {

/// What came of an event this time.
struct Retold {
  control::Outcome outcome;
  /// What the core said when it threw; then there is no outcome, and it takes no more events.
  std::optional<std::string> broke;
  /// The same as when it was written down.
  bool same{};
};

class Rerun {
 public:
  /// `track` must outlive it. Throws std::exception if the core can't start from this.
  Rerun(const floor::Track& track, const Start& start);
  /// A second one in the same state, that goes its own way from here.
  [[nodiscard]] std::unique_ptr<Rerun> copy() const;

  /// Events in the order in which they were written. Throws BadBytes if one is earlier than the one
  /// before.
  Retold feed(const Entry& entry);
  /// After the last entry of a block: all that came of its events is the same, as far as 64 bits
  /// can tell. False if any of its entries was not.
  bool block_ends(std::uint64_t chain);

  [[nodiscard]] const control::Core& core() const { return *core_; }
  /// Of the latest event, or of the start.
  [[nodiscard]] Instant now() const { return now_; }

 private:
  Rerun(std::unique_ptr<control::Core> core, Instant now, Chain chain)
      : core_(std::move(core)), now_(now), chain_(chain) {}

  std::unique_ptr<control::Core> core_;
  Instant now_;
  Chain chain_;  // of the present block
};

}  // namespace tagline::replay
