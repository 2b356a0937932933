// When a survey may run, and what it notes.
#include "server/net/survey.hpp"

namespace tagline::net {

Survey::Survey(const std::vector<std::string>& names, std::function<Instant()> now,
               Duration late_for)
    : names_(names), now_(std::move(now)), late_for_(late_for), carts_(names.size()) {}

void Survey::see(const Views& views) {
  if (views.all_stopped) all_stopped_ = *views.all_stopped;
  for (const CartShown& shown : views.carts) {
    Cart& cart = carts_.at(shown.cart.cart.value);
    cart.on_floor = shown.cart.mode != control::CartMode::off_floor;
    cart.connected = shown.cart.connected;
  }
  if (!running()) return;
  if (carts_[state_->cart.value].on_floor) {
    state_->ended = names_[state_->cart.value] + " was set down on the floor.";
  } else if (!all_stopped_) {
    state_->ended = who_may_drive(state_->cart);
  }
}

std::string Survey::who_may_drive(CartIx cart) const {
  for (std::uint32_t k = 0; k < carts_.size(); ++k)
    if (CartIx{k} != cart && carts_[k].on_floor)
      return names_[k] + " is on the floor and may drive: not everything is stopped.";
  return {};
}

std::optional<Survey::Refusal> Survey::begin(CartIx cart, const std::string& by) {
  const std::string& name = names_[cart.value];
  if (running())
    return Refusal{"survey_runs", state_->by + " has a survey running with " +
                                      names_[state_->cart.value] + ". End that one first."};
  if (!carts_[cart.value].connected)
    return Refusal{"not_connected",
                   name + " isn't connected. Switch it on where it has radio, and wait for it."};
  if (carts_[cart.value].on_floor)
    return Refusal{"on_floor", name +
                                   " is on the floor. Take it off first (on the board: Remove "
                                   "from the floor), so that nothing is planned with it."};
  if (!all_stopped_) {
    const std::string who = who_may_drive(cart);
    if (!who.empty())
      return Refusal{"carts_may_drive", who +
                                            " Nothing keeps a cart away from one that is driven "
                                            "by hand: press Stop all first, and see that all "
                                            "stand, or take the others off the floor."};
  }
  // A stop reaches only who is connected; who isn't drives on to its authority's end.
  for (std::uint32_t k = 0; k < carts_.size(); ++k)
    if (carts_[k].on_floor && !carts_[k].connected)
      return Refusal{"carts_may_drive",
                     names_[k] +
                         " is on the floor without a link, so nobody knows that it stands. "
                         "Wait until it is back, or take it off the floor."};
  state_ = State{cart, by, now_(), {}, {}, false};
  standing_.reset();
  stood_ = {};
  moving_ = false;
  return std::nullopt;
}

bool Survey::end(const std::string& by) {
  if (!running()) return false;
  state_->ended = by + " has ended it.";
  return true;
}

void Survey::welcomed(CartIx cart) { carts_.at(cart.value).welcomed = now_(); }

void Survey::has_read(CartIx cart, const std::string& tag) {
  if (!running() || cart != state_->cart || state_->reads.size() >= most_reads) return;
  const Instant now = now_();
  // One that reads while it says that it stands has been moved all the same: how long it stood
  // before that isn't known.
  if (standing_) standing_ = now;
  const auto& welcomed = carts_[cart.value].welcomed;
  const bool late = welcomed && now - *welcomed < late_for_;
  state_->reads.push_back({state_->reads.size() + 1, tag, now - state_->since, stood_, late});
  stood_ = {};
}

void Survey::says_moving(CartIx cart, bool moving) {
  if (!running() || cart != state_->cart) return;
  if (moving) {
    state_->tells_moving = true;
    if (standing_) stood_ += now_() - *standing_;
    standing_.reset();
  } else if (moving_) {
    standing_ = now_();
  }
  moving_ = moving;
}

}  // namespace tagline::net
