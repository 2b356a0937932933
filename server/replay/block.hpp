// A block of events: what is kept of some that came one after the other, and a check that all of it
// is as it was written.
//
//   block  = { entry } digest seal
//   entry  = head later event [ short digest ]
//   head   = one byte: code of the kind of event, and in the two highest bits Digest::What
//   later  = ms since the entry before; since the block's beginning for the first
//   digest = 8 bytes: hash of the outcomes of all entries; short digest = 4 bytes, of that entry's
//
// So an event costs 3 bytes when nothing came of it and about 20 when a tag was read. A difference
// in what came of an event is found at that event, but for one time in 4,000 million; and then with
// the block's digest.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "server/replay/event_bytes.hpp"
#include "server/replay/outcome_bytes.hpp"

namespace tagline::replay {

/// An event that the core was given, and what came of it.
struct TimedEvent {
  Instant at;
  control::Event event;
  Digest digest;
};

/// Hash of all that came of a row of events.
class Chain {
 public:
  void add(const Digest& digest);
  [[nodiscard]] std::uint64_t value() const { return hash_.value(); }

 private:
  Hash hash_;
};

/// A block that is being filled.
class Block {
 public:
  /// Not before the one added last.
  void add(const TimedEvent& event);
  [[nodiscard]] std::string bytes() const;
  [[nodiscard]] std::size_t size() const { return entries_.all.size(); }
  [[nodiscard]] std::size_t count() const { return count_; }
  /// Of the first event and of the last; only for a block that has one.
  [[nodiscard]] Instant begins() const { return begins_; }
  [[nodiscard]] Instant ends() const { return ends_; }

 private:
  Bytes entries_;
  Chain chain_;
  std::size_t count_{0};
  Instant begins_, ends_;
};

/// One entry read back.
struct Entry {
  Instant at;
  control::Event event;
  Digest::What what{};
  std::uint32_t short_digest{};
};
std::uint32_t short_of(const Digest& digest);

struct BlockRead {
  std::vector<Entry> entries;
  /// Chain::value() of them all.
  std::uint64_t chain{};
};
/// Throws BadBytes.
BlockRead read_block(std::string_view bytes, Instant begins, const EventReader& reader);

}  // namespace tagline::replay
