// Outcomes as canonical bytes: equal outcomes have equal bytes, and others differ. Only to be
// compared, never read back.
#pragma once

#include <cstdint>
#include <string>

#include "server/control/outcome.hpp"

namespace tagline::replay {

/// All of an outcome: records, messages, answers, changes, trace.
std::string outcome_bytes(const control::Outcome& outcome);

/// What came of an event, short.
struct Digest {
  enum class What : std::uint8_t {
    something,  // `value` is the hash of the outcome's bytes
    nothing,    // an empty outcome
    broke,      // the core threw: no outcome
  };
  What what{What::nothing};
  std::uint64_t value{};
  bool operator==(const Digest&) const = default;
};
Digest digest_of(const control::Outcome& outcome);

}  // namespace tagline::replay
