// One WebSocket (RFC 6455) as the rest of this folder sees it: a link that texts go out on, and a
// peer that is told what comes in. All on the network thread.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include "server/access/budget.hpp"

namespace tagline::net {

using access::Allowance;
using access::Budget;

/// A text shared by everybody it is sent to.
using SharedText = std::shared_ptr<const std::string>;

/// The near end, kept by the network.
class WsLink {
 public:
  virtual ~WsLink() = default;
  /// Queues a text frame. Over the queue's bound the link is closed instead.
  virtual void send(SharedText text) = 0;
  /// Sends what is queued, then a close frame; cuts the connection if the other side dawdles.
  /// The peer's on_closed has been called when this returns. Later calls do nothing.
  virtual void close(std::uint16_t code, std::string_view reason) = 0;
  /// Stops and goes on reading, so that a flood backs up at its sender.
  virtual void pause_reading(bool pause) = 0;
};

/// What stands behind a link. Lives as long as the link does.
class WsPeer {
 public:
  virtual ~WsPeer() = default;
  virtual void on_open(WsLink& link) = 0;
  virtual void on_text(std::string_view text) = 0;
  /// Called once, when no more will come in or go out.
  virtual void on_closed() = 0;
};

/// How one kind of link is kept.
struct WsRules {
  std::string subprotocol;
  std::size_t max_frame_bytes{1024};
  /// A first message must come in this time; 0 = none need come at all.
  std::chrono::milliseconds first_message{0};
  /// A message that has begun must be whole in this time.
  std::chrono::milliseconds whole_message{10'000};
  /// A ping goes out this often; with nothing heard for `silence` the link is closed.
  std::chrono::milliseconds ping_every{5'000};
  std::chrono::milliseconds silence{15'000};
  /// Close code for all of these.
  std::uint16_t silence_code{1001};
  /// Bound of the outgoing queue, and the close code beyond it.
  std::size_t queue_texts{1'000};
  std::size_t queue_bytes{4u << 20};
  std::uint16_t queue_code{1013};
  /// Texts that the other side may send; beyond that it is read no faster.
  Allowance texts{20, 100};
  /// Pings and pongs; beyond that the link is closed at once.
  Allowance controls{2, 20};
  /// Held back without a break for this long it is closed. RFC 6455, 7.4.1: 1008, a policy.
  std::chrono::milliseconds flood_time{10'000};
  std::uint16_t flood_code{1008};
};

}  // namespace tagline::net
