// See forecast.hpp.
#include "server/traffic/forecast.hpp"

#include <algorithm>

#include "server/floor/drive_time.hpp"

namespace tagline::traffic {

Duration time_of(const floor::Move& move, bool standing, const floor::CartBody& cart) {
  Duration time = move.time;
  if (standing || move.turn_round || move.gear == floor::Gear::back) {
    time += floor::lost_setting_off(cart.speed, cart);
  }
  if (move.turn_round || move.gear == floor::Gear::back) {
    time += floor::lost_stopping(cart.speed, cart);
  }
  return time;
}

Forecast::Forecast(const Guard& guard, const std::vector<Outlook>& outlooks, Instant now,
                   std::optional<LeftOut> left_out)
    : guard_(&guard),
      outlooks_(&outlooks),
      now_(now),
      left_out_(left_out),
      times_(guard.cart_count()) {}

Forecast::Times& Forecast::begun(CartIx cart) const {
  Times& times = times_[cart.value];
  if (!times.arrives.empty()) return times;
  const floor::Ways& ways = guard_->track().ways();
  const Itinerary& itinerary = *guard_->itinerary(cart);
  const std::size_t authority = itinerary.authority;
  times.departs.assign(authority + 1, now_);
  times.arrives.assign(authority + 1, now_);
  times.arrives[authority] = std::max(now_, (*outlooks_)[cart.value].ready);
  for (std::size_t i = authority; i > 0; --i) {
    const auto& move = *ways.find_move(itinerary.steps[i - 1], itinerary.steps[i]);
    times.arrives[i - 1] = std::max(now_, times.arrives[i] - move.time);
    times.departs[i] = times.arrives[i - 1];
  }
  return times;
}

Forecast::Times& Forecast::up_to(CartIx cart, std::size_t last) const {
  Times& times = begun(cart);
  const floor::Ways& ways = guard_->track().ways();
  const Itinerary& mine = *guard_->itinerary(cart);
  const auto ranks = guard_->ranks(cart);
  const Outlook& outlook = (*outlooks_)[cart.value];
  for (std::size_t i = times.arrives.size(); i <= last; ++i) {
    Instant depart = times.arrives[i - 1];
    if (i - 1 > mine.authority) depart += outlook.dwell_at(i - 1);
    bool stands = i - 1 == mine.authority ? outlook.standing : depart > times.arrives[i - 1];
    const auto free_arrive = [&, freely = depart, stood = stands](const floor::Move& move) {
      return freely + time_of(move, stood, ways.floor().cart);
    };
    const Rank my_rank = ranks[i];
    guard_->for_each_rival(cart, mine.steps[i], [&](Use use) {
      const std::size_t theirs = guard_->itinerary(use.cart)->authority;
      if (use.step > theirs) {
        if (leaves_out(use.cart)) return;
        const Rank other = guard_->ranks(use.cart)[use.step];
        if (other > my_rank || (other == my_rank && use.cart > cart)) return;
      }
      const Instant clear = clears(use.cart, use.step);
      if (clear == Instant::max() || clear + handover_time <= depart) return;
      depart = clear + handover_time;
      stands = true;
    });
    const floor::Move& move = *ways.find_move(mine.steps[i - 1], mine.steps[i]);
    const Instant arrive = depart + time_of(move, stands, ways.floor().cart);
    times.waits += arrive - free_arrive(move);
    times.departs.push_back(depart);
    times.arrives.push_back(arrive);
  }
  return times;
}

Instant Forecast::departs(CartIx cart, std::size_t i) const { return up_to(cart, i).departs[i]; }

Instant Forecast::arrives(CartIx cart, std::size_t i) const { return up_to(cart, i).arrives[i]; }

Instant Forecast::clears(CartIx cart, std::size_t i) const {
  const Itinerary& itinerary = *guard_->itinerary(cart);
  if (leaves_out(cart) && i >= itinerary.authority) return left_out_->gone_by;
  return i + 1 < itinerary.steps.size() ? arrives(cart, i + 1) : Instant::max();
}

Duration Forecast::waits(CartIx cart) const {
  return up_to(cart, guard_->itinerary(cart)->steps.size() - 1).waits;
}

Duration Forecast::left(CartIx cart) const {
  const Itinerary& itinerary = *guard_->itinerary(cart);
  const Outlook& outlook = (*outlooks_)[cart.value];
  std::size_t last = itinerary.steps.size() - 1;
  while (last > itinerary.authority && outlook.dwell_at(last) == Duration{0}) --last;
  if (last == itinerary.authority && outlook.dwell_at(last) == Duration{0}) {
    last = itinerary.steps.size() - 1;
  }
  return arrives(cart, last) - now_;
}

}  // namespace tagline::traffic
