// When each cart will be where, if all go on as planned and pass in the order of their ranks.
#pragma once

#include <optional>
#include <vector>

#include "server/traffic/guard.hpp"

namespace tagline::traffic {

/// What is known of a cart besides its itinerary.
struct Outlook {
  /// When it can go on from the end of its authority, handling there included; never before now.
  Instant ready;
  /// It stands there then, and has to set off.
  bool standing{};
  /// Per step of its itinerary: how long it will stand there to be loaded or unloaded. May be
  /// shorter than the steps: none beyond.
  std::vector<Duration> dwell;
  /// What its time counts for where the times of several are added up; at least 1. Grows while it
  /// waits, so that nobody waits for ever while others pass.
  std::int64_t weight{1};

  [[nodiscard]] Duration dwell_at(std::size_t step) const {
    return step < dwell.size() ? dwell[step] : Duration{0};
  }
};

/// A cart that is planned anew: the others are forecast as if it stood where its authority ends
/// until `gone_by`, and then nowhere.
struct LeftOut {
  CartIx cart;
  Instant gone_by;
};

/// Between one cart's reading of the tag that frees track and the next cart's setting off.
inline constexpr Duration handover_time{400};

/// Worked out as far as it is asked for: an answer takes in only the carts that come before, where
/// tracks meet, so it costs the same in a large fleet.
class Forecast {
 public:
  /// One outlook per cart; those of carts without an itinerary are not looked at. `guard` and
  /// `outlooks` must not change while the forecast is in use.
  Forecast(const Guard& guard, const std::vector<Outlook>& outlooks, Instant now,
           std::optional<LeftOut> left_out = {});

  /// When the cart sets off towards step i of its itinerary, and when it reads the tag there.
  /// Steps up to the authority: as far as they can be reckoned back.
  [[nodiscard]] Instant departs(CartIx cart, std::size_t i) const;
  [[nodiscard]] Instant arrives(CartIx cart, std::size_t i) const;
  /// The cart's step i is out of everybody's way from then; max() if it rests there.
  [[nodiscard]] Instant clears(CartIx cart, std::size_t i) const;
  /// Until the cart's last handling, or until its rest if none is left.
  [[nodiscard]] Duration left(CartIx cart) const;
  /// The same times its weight.
  [[nodiscard]] Duration weighty_left(CartIx cart) const {
    return left(cart) * (*outlooks_)[cart.value].weight;
  }
  /// How much of that, and of the way to its rest, is waiting for others to clear.
  [[nodiscard]] Duration waits(CartIx cart) const;
  [[nodiscard]] const Guard& guard() const { return *guard_; }
  [[nodiscard]] bool leaves_out(CartIx cart) const { return left_out_ && left_out_->cart == cart; }

 private:
  struct Times {
    std::vector<Instant> departs, arrives;  // as far as known
    Duration waits{};                       // so far
  };
  Times& begun(CartIx cart) const;
  /// Works the cart's times out up to step i. Calls itself only for advances of lower rank.
  Times& up_to(CartIx cart, std::size_t i) const;

  const Guard* guard_;
  const std::vector<Outlook>* outlooks_;
  Instant now_;
  std::optional<LeftOut> left_out_;
  mutable std::vector<Times> times_;
};

/// What a move takes, setting off included if the cart stands before it (or must stand to turn or
/// to change gear).
Duration time_of(const floor::Move& move, bool standing, const floor::CartBody& cart);

}  // namespace tagline::traffic
