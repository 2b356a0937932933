// The way one cart's reader takes over the floor, behind it and just ahead: the legs it drove, in
// order, by driven distance. Forward it grows at its head, taking a branch at each point; backward
// the reader goes back along what it drove. The body trails behind the reader on it.
#pragma once

#include <optional>
#include <vector>

#include "server/floor/polyline.hpp"
#include "server/floor/ways.hpp"
#include "server/sim/referee.hpp"

namespace tagline::sim {

/// A cart that starts again this close behind a point can still follow any of its tapes: they
/// part gradually and the tape sensor is wide (common practice, no source), mm.
inline constexpr double fork_zone = 110;

/// The body of a cart whose long axis runs through its reader and through `tail`, the place on the
/// trail (length - reader_to_nose) behind it; where the two coincide, along the reader's heading.
Rectangle body_through(const floor::CartBody& cart, const floor::Spot& reader,
                       const floor::Spot& tail);

/// What a cart does at the next point.
struct Choice {
  floor::Branch branch{floor::Branch::straight};
  /// Leave the tape, drive straight on.
  bool straight_on{false};
};

/// A point under the reader's path.
struct Mark {
  PointIx point;
  /// Where the reader is against it, mm; negative before it.
  double reader{};
};

class Trail {
 public:
  /// The reader `beyond` mm (|beyond| small) past the point of the pose, on the tape it came by.
  Trail(const floor::Ways& ways, PoseIx standing, double beyond);

  void forward(double distance, Choice choice);
  void backward(double distance);
  /// Before setting off forward from a stand: takes another branch if the fork was only just
  /// passed.
  void choose_again(Choice choice);
  /// A turn on the spot at the point last passed has ended towards this move's segment.
  void turn_into(const floor::Move& move);

  /// The move that a turn on the spot here leads into; nothing if there is none.
  [[nodiscard]] const floor::Move* turn_move(floor::Branch branch) const;
  /// The points at both ends of the leg the reader is on.
  [[nodiscard]] std::vector<Mark> marks() const;
  [[nodiscard]] bool on_tape() const;
  /// The poses at both ends of the leg the reader is on; nothing off the tape, or where what lies
  /// behind has been forgotten.
  [[nodiscard]] std::optional<PoseIx> behind() const;
  [[nodiscard]] std::optional<PoseIx> ahead() const { return leg().at_end; }
  /// The segment the reader is on and how far along, in driving direction, mm.
  [[nodiscard]] std::optional<SegmentIx> segment() const;
  [[nodiscard]] double along() const;
  [[nodiscard]] floor::Spot spot() const { return at(reader_); }
  /// The body: its long axis runs through the reader and through the place on the trail
  /// (length - reader_to_nose) behind it.
  [[nodiscard]] Rectangle body() const;

 private:
  struct Leg {
    floor::Polyline tape;
    double start{};
    std::optional<SegmentIx> segment;  // none: off the tape
    std::optional<PointIx> from, to;
    std::optional<PoseIx> at_end;
  };
  [[nodiscard]] floor::Spot at(double driven) const;
  [[nodiscard]] const Leg& leg() const { return legs_[here_]; }
  [[nodiscard]] static double end(const Leg& leg) { return leg.start + leg.tape.length(); }
  [[nodiscard]] Leg leg_into(PoseIx pose, double start) const;
  [[nodiscard]] Leg next_leg(Choice choice) const;
  /// Forgets the legs ahead of the one the reader is on.
  void drop_ahead();
  void forget_old();

  const floor::Ways* ways_;
  std::vector<Leg> legs_;
  /// Leg the reader is on.
  std::size_t here_{};
  double reader_{};
};

}  // namespace tagline::sim
