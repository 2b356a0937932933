// Live updates for boards: the subscribers of /live and what each of them still needs.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>

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
  /// Both must outlive it.
  LiveHub(BoardModel& model, const ServiceClock& clock) : model_(model), clock_(clock) {}

  [[nodiscard]] static WsRules rules();
  /// `may_stay`: whether whoever opened it is still signed in.
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
  void broadcast(const SharedText& text);

  BoardModel& model_;
  const ServiceClock& clock_;
  std::set<Peer*> peers_;
  /// When there was a board last; never before the first.
  std::optional<std::chrono::steady_clock::time_point> watched_;
};

}  // namespace tagline::net
