// Says whether two bodies touch, for runs far faster than real time: instead of looking at every
// pair at every step it looks again at a pair only when it could have come to touch. Knows only
// where bodies are and how fast they can be, nothing of the service's books.
//
// Method: conservative advancement (B. Mirtich, "Impulse-based dynamic simulation of rigid body
// systems", PhD thesis, Berkeley 1996): two bodies that are d apart and can close at most at speed
// w do not touch before d / w. Here the best of three bounds is taken:
//   - their readers are D apart and no corner is farther from its reader than r: (D - ra - rb) over
//     the sum of both speeds, whatever they do;
//   - both keep their heading for a while (straight tape): along each of the four axes of the two
//     rectangles, the free space over the speed at which they can close along that axis;
//   - else the free space over the sum of the speeds of their fastest corners. Reader and tail are
//     driven at the same speed v over a chord c, so the body turns at most at 2 v / (c - 2 v t)
//     until t from now; t is held to c / 8v.
// A pair at rest is not looked at until one of them stirs. Pairs far apart are not even listed:
// each body has an anchor, renewed before it is `skin` away from it; only bodies whose anchors are
// close are pairs (neighbour lists with a skin: L. Verlet, Physical Review 159, 1967), found
// through a grid of cells.
// Looks at one pair are at least 2 ms apart: a graze that lasts less can slip, which at 0.4 m/s is
// an overlap of at most some 2 mm.
#pragma once

#include <cstdint>
#include <functional>
#include <queue>
#include <unordered_map>
#include <vector>

#include "server/sim/referee.hpp"

namespace tagline::sim {

/// One body at one moment, as far as the referee needs it.
struct SeenMotion {
  Rectangle body;
  floor::Position reader;
  /// It stands, and whoever moves it calls stirred() first.
  bool still{};
  /// Highest speed of its reader, mm/s.
  double speed{};
  /// Until so long from now, at least, it keeps its heading, s; and the way it goes then.
  double straight_s{};
  floor::Position going{};
  /// From the reader to the place where its tail lies on the tape, mm.
  double chord{1};
  /// Turning on the spot: highest speed of a corner, mm/s; 0 if it doesn't.
  double swing{};
};

class ClosingReferee {
 public:
  using Look = std::function<SeenMotion(std::size_t body, double now)>;

  /// `reach`: the farthest corner of a body from its reader, mm. `speed`: the highest of any, mm/s.
  ClosingReferee(std::size_t bodies, double reach, double speed, Look look);

  /// The body has been set down.
  void enter(std::size_t body, double now);
  /// It has been lifted off the floor; it may be set down again.
  void leave(std::size_t body);
  /// It is about to set off, or has been moved by hand.
  void stirred(std::size_t body, double now);
  /// The next moment at which look() must be called; infinity if never.
  [[nodiscard]] double due() const { return queue_.empty() ? never : queue_.top().at; }
  /// Looks at what is due at `now`.
  void look(double now);

  struct Contact {
    std::size_t a{}, b{};
    double at{};
    SeenMotion first, second;
  };
  /// Pairs that came to touch (a pair that stays in touch counts once).
  [[nodiscard]] const std::vector<Contact>& contacts() const { return contacts_; }
  /// Least free space seen between two bodies at any look, mm; infinity before two came close.
  [[nodiscard]] double least_gap() const { return least_gap_; }
  [[nodiscard]] std::uint64_t looks() const { return looks_; }

 private:
  static constexpr double never = std::numeric_limits<double>::infinity();
  struct Pair {
    double next{never};  // of the entry in the queue that counts
    bool listed{false}, touching{false};
  };
  struct Due {
    double at{};
    std::uint32_t a{}, b{};  // a == b: renew the anchor
    bool operator>(const Due& other) const {
      return std::tie(at, a, b) > std::tie(other.at, other.a, other.b);
    }
  };
  struct Body {
    floor::Position anchor{};
    std::int64_t cell{};
    double renew{never};
    bool entered{false};
  };

  Pair& pair(std::size_t a, std::size_t b);
  [[nodiscard]] std::int64_t cell_of(floor::Position at) const;
  void anchor(std::size_t body, double now);
  void look_at(std::size_t a, std::size_t b, double now);
  void schedule(std::size_t a, std::size_t b, double at);
  template <class Each>
  void around(std::size_t body, const Each& each);
  [[nodiscard]] bool close(std::size_t a, std::size_t b) const;

  Look look_;
  double reach_, speed_, near_;
  std::vector<Body> bodies_;
  std::vector<Pair> pairs_;
  std::unordered_map<std::int64_t, std::vector<std::uint32_t>> cells_;
  std::priority_queue<Due, std::vector<Due>, std::greater<>> queue_;
  std::vector<Contact> contacts_;
  double least_gap_{never};
  std::uint64_t looks_{0};
};

}  // namespace tagline::sim
