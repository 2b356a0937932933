// What pages ask of the past: a port, so that this folder need not know of the journal's store.
// server/app puts the journal of runs behind it, and works a run out again with the same core.
#pragma once

#include <functional>
#include <stdexcept>
#include <string>

#include "server/floor/units.hpp"

namespace tagline::net {

/// Some boards of the past, `step` apart; one if `from` is `to`.
struct PastAsked {
  Instant from;
  Instant to;
  Duration step{1};
};

/// Nothing is known of that moment, or of that run; what() says what is.
struct PastUnknown : std::runtime_error {
  using std::runtime_error::runtime_error;
};
/// The run can't be worked out again there: damaged, of another program, or it comes out
/// differently. what() says from when on.
struct PastBroken : std::runtime_error {
  using std::runtime_error::runtime_error;
};
/// It takes longer than `give_up` allowed; what has been worked out is kept, so asking again gets
/// further. what() says how far it is.
struct PastNotYet : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// Used by one thread. All texts are bodies of API.md; all may throw std::exception.
class Past {
 public:
  /// Asked often while it works; true: stop here.
  using GiveUp = std::function<bool()>;

  virtual ~Past() = default;
  /// Which moments can be shown.
  virtual std::string spans() = 0;
  virtual std::string boards(const PastAsked& asked, const GiveUp& give_up) = 0;
  /// The floor that a run was on.
  virtual std::string floor(std::int64_t run) = 0;
  /// Nobody has asked for a while: may let go of what it keeps in memory.
  virtual void rest() = 0;
};

}  // namespace tagline::net
