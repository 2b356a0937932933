// Live updates for boards: the subscribers of /live and what each of them still needs.
#pragma once

#include <chrono>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "server/net/board_model.hpp"
#include "server/net/clock.hpp"
#include "server/net/ws_link.hpp"

namespace tagline::net {

inline constexpr std::string_view live_subprotocol = "tagline.live.1";

/// Where a client that was connected before left off.
struct ResumeFrom {
  std::string run;
  std::uint64_t since{};
};

/// All on the network thread.
class LiveHub {
 public:
  /// Runs the task soon, after what else is waiting to be done.
  using Post = std::function<void(std::function<void()>)>;

  /// Both must outlive it. What goes to all boards goes to a few at a time, with what carts say in
  /// between: two hundred boards would keep a read of a tag waiting for milliseconds.
  LiveHub(BoardModel& model, const ServiceClock& clock, Post post)
      : model_(model), clock_(clock), post_(std::move(post)) {}

  [[nodiscard]] static WsRules rules();
  /// `may_stay`: whether whoever opened it is still signed in; asked again and again while it is
  /// open.
  std::unique_ptr<WsPeer> new_peer(
      std::optional<ResumeFrom> from, std::function<bool()> may_stay = [] { return true; });
  /// Closes the links of those who may not stay.
  void close_left(std::uint16_t code, std::string_view reason);

  /// After the last board has gone revisions are made for so long, for when it comes back; then
  /// what changes is put together into the first one for the next board.
  static constexpr std::chrono::seconds remembers_boards{60};

  /// Sends everybody what changed since the last time, as one revision.
  void publish();
  void send_time();
  void close_all(std::uint16_t code, std::string_view reason);

 private:
  class Peer;
  void make_revision();
  /// A text, and who has not been sent it yet.
  struct Round {
    SharedText text;
    std::vector<Peer*> left;
  };
  void broadcast(SharedText text);
  void send_some();
  void send_rest();

  BoardModel& model_;
  const ServiceClock& clock_;
  Post post_;
  std::set<Peer*> peers_;
  std::deque<Round> rounds_;
  bool sending_{false};  // send_some() is posted
  /// When there was a board last; never before the first.
  std::optional<std::chrono::steady_clock::time_point> watched_;
};

}  // namespace tagline::net
