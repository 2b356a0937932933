// Stand-ins for what is on the far side of the parts under test.
#pragma once

#include <deque>
#include <mutex>
#include <string>
#include <utility>
#include <vector>

#include "server/net/journal.hpp"
#include "server/net/release.hpp"
#include "server/net/ws_link.hpp"

namespace tagline::net::test {

class FakeInbox : public Inbox {
 public:
  void post(control::Event event, std::optional<Origin> origin) override {
    posted.emplace_back(std::move(event), origin);
  }
  void find_job(control::JobId, std::function<void(std::optional<control::Job>)> done) override {
    done(std::nullopt);
  }
  std::deque<std::pair<control::Event, std::optional<Origin>>> posted;
};

/// A link that keeps what is sent; closing tells the peer, as the real one does.
class FakeLink : public WsLink {
 public:
  explicit FakeLink(std::unique_ptr<WsPeer> peer) : peer_(std::move(peer)) {
    peer_->on_open(*this);
  }
  void send(SharedText text) override { sent.push_back(*text); }
  void close(std::uint16_t closed_with, std::string_view why) override {
    if (code != 0) return;
    code = closed_with;
    reason = why;
    peer_->on_closed();
  }
  void pause_reading(bool pause) override { paused = pause; }
  void receive(std::string_view text) { peer_->on_text(text); }
  void drop() {
    code = 1006;
    peer_->on_closed();
  }
  std::vector<std::string> sent;
  std::uint16_t code{0};
  std::string reason;
  bool paused{false};

 private:
  std::unique_ptr<WsPeer> peer_;
};

}  // namespace tagline::net::test
