// See forecast.hpp.
#include "server/traffic/forecast.hpp"

#include <algorithm>
#include <tuple>

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
      left_out_(left_out),
      departs_(guard.cart_count()),
      arrives_(guard.cart_count()) {
  const floor::Ways& ways = guard.track().ways();
  const floor::CartBody& body = ways.floor().cart;
  std::vector<std::tuple<Rank, std::uint32_t, std::size_t>> turns;
  std::vector<std::uint8_t> standing(guard.cart_count());
  for (std::uint32_t c = 0; c < guard.cart_count(); ++c) {
    const Itinerary* itinerary = guard.itinerary({c});
    if (itinerary == nullptr) continue;
    const std::size_t authority = itinerary->authority;
    const Instant ready = std::max(now, outlooks[c].ready);
    departs_[c].resize(itinerary->steps.size());
    arrives_[c].resize(itinerary->steps.size());
    standing[c] = outlooks[c].standing ? 1 : 0;
    arrives_[c][authority] = ready;
    for (std::size_t i = authority; i > 0; --i) {
      const auto& move = *ways.find_move(itinerary->steps[i - 1], itinerary->steps[i]);
      arrives_[c][i - 1] = std::max(now, arrives_[c][i] - move.time);
      departs_[c][i] = arrives_[c][i - 1];
    }
    if (leaves_out({c})) continue;
    for (std::size_t i = authority + 1; i < itinerary->steps.size(); ++i) {
      turns.emplace_back(guard.ranks({c})[i], c, i);
    }
  }
  std::ranges::sort(turns);
  for (const auto& [rank, c, i] : turns) {
    const Itinerary& mine = *guard.itinerary({c});
    Instant depart = arrives_[c][i - 1];
    if (i - 1 > mine.authority) depart += outlooks[c].dwell_at(i - 1);
    bool stands = i - 1 == mine.authority ? standing[c] != 0 : depart > arrives_[c][i - 1];
    guard.for_each_rival({c}, mine.steps[i], [&, cart = c, my_rank = rank](Use use) {
      const Itinerary& theirs = *guard.itinerary(use.cart);
      if (leaves_out(use.cart) && use.step > theirs.authority) return;
      if (use.step > theirs.authority) {
        const Rank other = guard.ranks(use.cart)[use.step];
        if (std::pair(other, use.cart.value) > std::pair(my_rank, cart)) return;
      }
      const Instant clear = clears(use.cart, use.step);
      if (clear == Instant::max() || clear + handover_time <= depart) return;
      depart = clear + handover_time;
      stands = true;
    });
    const floor::Move& move = *ways.find_move(mine.steps[i - 1], mine.steps[i]);
    departs_[c][i] = depart;
    arrives_[c][i] = depart + time_of(move, stands, body);
  }
  for (std::uint32_t c = 0; c < guard.cart_count(); ++c) {
    const Itinerary* itinerary = guard.itinerary({c});
    if (itinerary == nullptr || leaves_out({c})) continue;
    std::size_t last = itinerary->steps.size() - 1;
    while (last > itinerary->authority && outlooks[c].dwell_at(last) == Duration{0}) --last;
    if (last == itinerary->authority && outlooks[c].dwell_at(last) == Duration{0}) {
      last = itinerary->steps.size() - 1;
    }
    total_ += arrives_[c][last] - now;
  }
}

Instant Forecast::clears(CartIx cart, std::size_t i) const {
  const Itinerary& itinerary = *guard_->itinerary(cart);
  if (leaves_out(cart) && i >= itinerary.authority) return left_out_->gone_by;
  return i + 1 < itinerary.steps.size() ? arrives_[cart.value][i + 1] : Instant::max();
}

}  // namespace tagline::traffic
