// See cart_trip.hpp.
#include "server/sim/cart_trip.hpp"

namespace tagline::sim {

using control::ToldAct;
using control::ToldPoint;

void CartTrip::take(const control::TellAuthority& told) {
  if (told.points.empty()) return;
  const Step first = told.points.front().step;
  const Step last = told.points.back().step;
  if (begun() && (first > passed_ || (!told_.empty() && last < told_.back().step))) return;
  told_ = told.points;
  if (begun()) return;
  passed_ = driven_ = first;
  gear_ = floor::Gear::forward;
}

void CartTrip::forget() {
  told_.clear();
  passed_ = driven_ = handled_step_ = turned_step_ = 0;
}

const ToldPoint* CartTrip::slot(Step step) const {
  if (told_.empty() || step < told_.front().step || step > told_.back().step) return nullptr;
  return &told_[static_cast<std::size_t>(step - told_.front().step)];
}

bool CartTrip::halts_at(Step step) const {
  const ToldPoint* at = slot(step);
  const ToldPoint* after = slot(step + 1);
  if (at == nullptr || after == nullptr) return true;
  if (at->act == ToldAct::turn || at->act == ToldAct::load || at->act == ToldAct::unload) {
    return true;
  }
  // The first point was passed before; how the cart came to it is not told.
  const floor::Gear gear = step == told_.front().step ? gear_ : at->gear;
  return gear != after->gear;
}

CartTrip::Step CartTrip::next_halt() const {
  Step step = driven_ + 1;
  while (!halts_at(step)) ++step;
  return step;
}

CartTrip::Reading CartTrip::read(PointIx point) {
  for (Step step = passed_ + 1; slot(step) != nullptr; ++step) {
    if (slot(step)->point != point) continue;
    passed_ = driven_ = step;
    return Reading::expected;
  }
  const ToldPoint* last = slot(passed_);
  return last != nullptr && last->point == point ? Reading::again : Reading::strange;
}

void CartTrip::note_handled(control::Handling what) {
  handled_step_ = driven_;
  handled_ = what;
}

void CartTrip::note_turned() {
  turned_step_ = driven_;
  gear_ = floor::Gear::forward;
}

}  // namespace tagline::sim
