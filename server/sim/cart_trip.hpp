// What a cart of a fast run has been told to do, point by point, and how far it has come with it:
// the points it knows it passed and those its wheels passed, which differ where a tag went unread.
#pragma once

#include <vector>

#include "server/control/outcome.hpp"

namespace tagline::sim {

class CartTrip {
 public:
  using Step = control::Step;

  /// Takes the points, unless they are older than what it has.
  void take(const control::TellAuthority& told);
  /// As if it had never been told anything.
  void forget();

  /// It knows where on its trip it is.
  [[nodiscard]] bool begun() const { return passed_ != 0; }
  [[nodiscard]] bool told_nothing() const { return told_.empty(); }
  /// It has come to where the trip ends.
  [[nodiscard]] bool at_end() const {
    return told_.back().act == control::ToldAct::stop && driven_ == told_.back().step;
  }
  /// The last step told; 0 if none is.
  [[nodiscard]] Step until() const { return told_.empty() ? 0 : told_.back().step; }

  /// The last point whose tag it read, and the last one it drove over.
  [[nodiscard]] Step passed() const { return passed_; }
  [[nodiscard]] Step driven() const { return driven_; }
  /// Null if nothing is told of that step.
  [[nodiscard]] const control::ToldPoint* slot(Step step) const;
  [[nodiscard]] const control::ToldPoint* here() const { return slot(driven_); }
  [[nodiscard]] const control::ToldPoint* next() const { return slot(driven_ + 1); }
  /// The next step, from next() on, over whose point it must come to a stand.
  [[nodiscard]] Step next_halt() const;
  /// Something was to be done at the place of a tag that it did not see.
  [[nodiscard]] bool missed_halt() const { return passed_ < driven_ && halts_at(driven_); }

  void drive_over_point() { ++driven_; }
  enum class Reading {
    expected,  // passed() is that point now
    again,     // the point it passed last
    strange,   // no point that is still ahead
  };
  Reading read(PointIx point);

  /// What was done over the point it stands at.
  [[nodiscard]] bool has_handled(control::Handling what) const {
    return handled_step_ == driven_ && handled_ == what;
  }
  [[nodiscard]] bool has_turned() const { return turned_step_ == driven_; }
  void note_handled(control::Handling what);
  /// After a turn it drives forward.
  void note_turned();

  /// Forward, or with its tail first.
  [[nodiscard]] floor::Gear gear() const { return gear_; }
  /// As the next point asks, of which something must be told.
  void shift() { gear_ = next()->gear; }

 private:
  [[nodiscard]] bool halts_at(Step step) const;

  std::vector<control::ToldPoint> told_;
  Step passed_{0}, driven_{0};
  Step handled_step_{0}, turned_step_{0};
  control::Handling handled_{control::Handling::load};
  floor::Gear gear_{floor::Gear::forward};
};

}  // namespace tagline::sim
