// Where the body of one cart lies on the tape: the legs it drove and those just ahead, by driven
// distance of its reader. Like Trail, but without a copy of the tape, and able to say how far the
// body will go straight on, which the referee of fast runs lives by.
#pragma once

#include <optional>
#include <vector>

#include "server/floor/polyline.hpp"
#include "server/floor/ways.hpp"
#include "server/sim/referee.hpp"

namespace tagline::sim {

/// All tape of a floor, both ways, as runs of one heading.
class TapeTable {
 public:
  struct Run {
    double from{};  // driven distance at which it begins
    double heading{};
    floor::Position at, along;
    double scale{};  // mm on the plan per driven mm
  };
  struct Tape {
    std::vector<Run> runs;
    double length{};
  };
  explicit TapeTable(const floor::Ways& ways);
  [[nodiscard]] const floor::Ways& ways() const { return *ways_; }
  [[nodiscard]] const Tape& operator[](PoseIx pose) const {
    const floor::Pose& p = (*ways_)[pose];
    return tapes_[2 * p.by.value + (p.reversed ? 1 : 0)];
  }
  /// The most mm on the plan that a driven mm can be.
  [[nodiscard]] double most_scale() const { return most_scale_; }

 private:
  const floor::Ways* ways_;
  std::vector<Tape> tapes_;
  double most_scale_{1};
};

class TapeWalk {
 public:
  struct Leg {
    /// The pose at its end; none for a leg off the tape, which goes straight on.
    std::optional<PoseIx> pose;
    /// Of a leg off the tape: where it starts, and its heading.
    floor::Position from{};
    double heading{};
    /// Reader distance at which it begins, and its length, mm.
    double start{}, length{};
    /// What this cart makes of the speed limit there, 0 to 1.
    double factor{1};
    [[nodiscard]] double end() const { return start + length; }
  };

  TapeWalk(const TapeTable& tapes, PoseIx standing) : tapes_{&tapes} { set_on(standing); }

  /// Set down with its reader over the point of the pose, its body on some tape that leads there.
  void set_on(PoseIx standing);
  /// The leg that ends at the point last passed. Legs after it lie ahead.
  [[nodiscard]] const Leg& home() const { return legs_[home_]; }
  [[nodiscard]] const Leg* ahead(std::size_t count) const {
    return home_ + count < legs_.size() ? &legs_[home_ + count] : nullptr;
  }
  [[nodiscard]] const Leg* behind(std::size_t count) const {
    return home_ >= count ? &legs_[home_ - count] : nullptr;
  }
  /// The next leg ahead of ahead(count - 1) is the one into `pose`; those beyond are forgotten
  /// unless it was so already. True if that changed something.
  bool lead_on(std::size_t count, PoseIx pose, double factor);
  /// A leg straight on from the home point, off the tape.
  void straight_on(double length);
  /// The next point ahead has been passed.
  void pass_forward();
  /// Backing: the point before the home leg has been passed; everything ahead is forgotten.
  void pass_backward();
  /// A turn on the spot has ended towards `move`: the reader is `offset` mm along its tape, which
  /// is where this gives, and home is the point it turned at.
  double turn_into(const floor::Move& move, double offset, double factor);

  /// The body with its reader at `x`.
  [[nodiscard]] Rectangle body(double x) const;
  [[nodiscard]] floor::Spot spot(double x) const;
  /// Reader distance up to which (forward) and down to which (backing) the whole body keeps its
  /// heading; x itself where it lies in a bend.
  struct Straight {
    double low{}, high{};
  };
  [[nodiscard]] Straight straight(double x) const;
  /// The legs the body lies on, from the one under its tail to the one under its reader.
  struct Span {
    const Leg* first{};
    const Leg* last{};
  };
  [[nodiscard]] Span under(double x) const;

 private:
  [[nodiscard]] std::size_t leg_at(double x) const;
  [[nodiscard]] Leg leg_into(PoseIx pose, double start, double factor) const;
  [[nodiscard]] double reader_to_tail() const;
  void forget_old();

  const TapeTable* tapes_;
  std::vector<Leg> legs_;
  std::size_t home_{};
};

}  // namespace tagline::sim
