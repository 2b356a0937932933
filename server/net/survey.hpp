// A survey: a person drives or pushes one cart along the tape by hand, and the tags it reads are
// noted in order, for a floor to be drawn from them (API.md, "A survey"). It only listens: nothing
// here reaches a cart. The cart is off the floor, so the books keep no track for it; therefore a
// survey begins only while no other cart can drive, and ends when one may.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "server/net/cart_listener.hpp"
#include "server/net/release.hpp"

namespace tagline::net {

struct SurveyRead {
  std::uint64_t number{};  // from 1
  std::string tag;
  /// When it arrived, counted from the survey's beginning.
  Duration at{};
  /// For how long the cart said that it stood since the read before.
  Duration stood{};
  /// It was kept in the cart while there was no link: nobody knows when it was read.
  bool late{false};
};

/// On one thread; knows no clock and no JSON.
class Survey : public CartListener {
 public:
  /// Further ones aren't noted: some twice as many as a floor file has room for.
  static constexpr std::size_t most_reads = 6'000;

  /// `names` of the carts by CartIx; must outlive it. `now` is the service's clock; reads that come
  /// within `late_for` after a welcome may have been kept in the cart.
  Survey(const std::vector<std::string>& names, std::function<Instant()> now, Duration late_for);

  /// What is known of the carts, as it is shown everywhere else. May end the survey.
  void see(const Views& views);

  struct Refusal {
    /// Last part of the problem's type.
    std::string name;
    /// What is wrong and what to do.
    std::string text;
  };
  /// Nothing: it has begun, and an ended one is forgotten.
  std::optional<Refusal> begin(CartIx cart, const std::string& by);
  /// False: none is running.
  bool end(const std::string& by);

  struct State {
    CartIx cart{};
    std::string by;
    Instant since{};
    /// Why it ended, one sentence; "" while it is running.
    std::string ended;
    std::vector<SurveyRead> reads;
    /// The cart has said since then that its wheels turn: so it tells when it stands.
    bool tells_moving{false};
  };
  /// The running one, or the last one.
  [[nodiscard]] const std::optional<State>& state() const { return state_; }
  [[nodiscard]] bool connected(CartIx cart) const { return carts_[cart.value].connected; }

  void welcomed(CartIx cart) override;
  void has_read(CartIx cart, const std::string& tag) override;
  void says_moving(CartIx cart, bool moving) override;

 private:
  struct Cart {
    /// Nothing is known of it yet: it may be anywhere.
    bool on_floor{true};
    bool connected{false};
    std::optional<Instant> welcomed;
  };
  [[nodiscard]] bool running() const { return state_ && state_->ended.empty(); }
  /// Why another cart than `cart` may drive, one sentence; "": none can.
  [[nodiscard]] std::string who_may_drive(CartIx cart) const;

  const std::vector<std::string>& names_;
  std::function<Instant()> now_;
  Duration late_for_;
  std::vector<Cart> carts_;
  bool all_stopped_{false};

  std::optional<State> state_;
  bool moving_{false};               // as it said last
  std::optional<Instant> standing_;  // since when, after it had moved
  Duration stood_{};                 // since the last read
};

}  // namespace tagline::net
