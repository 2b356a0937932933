// See outcome_bytes.hpp.
#include "server/replay/outcome_bytes.hpp"

#include "server/replay/bytes.hpp"

namespace tagline::replay {

std::string outcome_bytes(const control::Outcome& outcome) {
  Bytes bytes;
  put(bytes, outcome);
  return std::move(bytes.all);
}

Digest digest_of(const control::Outcome& outcome) {
  if (outcome.records.empty() && outcome.messages.empty() && outcome.answers.empty() &&
      outcome.changes.empty() && outcome.trace.empty()) {
    return {};
  }
  Hash hash;
  put(hash, outcome);
  return {Digest::What::something, hash.value()};
}

}  // namespace tagline::replay
