// Subscribers of /live.
#include "server/net/live_hub.hpp"

#include <vector>

namespace tagline::net {

namespace {

/// A tenth of a millisecond, about.
constexpr std::size_t boards_at_a_go = 8;

}  // namespace

class LiveHub::Peer : public WsPeer {
 public:
  Peer(LiveHub& hub, std::optional<ResumeFrom> from, std::function<bool()> may_stay)
      : hub_(hub), from_(std::move(from)), may_stay_(std::move(may_stay)) {}

  void on_open(WsLink& link) override {
    hub_.make_revision();  // so that the snapshot's revision has everything the snapshot shows
    link_ = &link;
    hub_.peers_.insert(this);
    const Instant now = hub_.clock_.now();
    if (from_) {
      if (const auto missed = hub_.model_.resume(from_->run, from_->since, now)) {
        for (const SharedText& text : *missed) send(text);
        return;
      }
    }
    send(std::make_shared<const std::string>(hub_.model_.snapshot(now)));
  }

  void on_text(std::string_view) override {}

  void on_closed() override {
    link_ = nullptr;
    hub_.peers_.erase(this);
    for (Round& round : hub_.rounds_) std::erase(round.left, this);
    hub_.watched_ = std::chrono::steady_clock::now();
  }

  void send(const SharedText& text) {
    if (link_) link_->send(text);
  }

  [[nodiscard]] bool may_stay() const { return may_stay_(); }

  void close(std::uint16_t code, std::string_view reason) {
    if (link_) link_->close(code, reason);
  }

 private:
  LiveHub& hub_;
  std::optional<ResumeFrom> from_;
  std::function<bool()> may_stay_;
  WsLink* link_{nullptr};
};

WsRules LiveHub::rules() {
  WsRules rules;
  rules.subprotocol = std::string(live_subprotocol);
  rules.max_frame_bytes = 1024;
  // A resuming client may be sent every change that is kept, and must not count as slow for it.
  rules.queue_texts = BoardModel::kept_changes + 1'000;
  rules.queue_bytes = BoardModel::kept_bytes + (4u << 20);
  return rules;
}

std::unique_ptr<WsPeer> LiveHub::new_peer(std::optional<ResumeFrom> from,
                                          std::function<bool()> may_stay) {
  return std::make_unique<Peer>(*this, std::move(from), std::move(may_stay));
}

void LiveHub::publish() {
  if (peers_.empty() &&
      (!watched_ || std::chrono::steady_clock::now() - *watched_ > remembers_boards))
    return;
  make_revision();
}

void LiveHub::make_revision() {
  if (const SharedText change = model_.next_change(clock_.now())) broadcast(change);
}

void LiveHub::send_time() {
  broadcast(std::make_shared<const std::string>("{\"type\":\"time\",\"time\":\"" +
                                                time_text(clock_.now()) + "\"}"));
}

void LiveHub::broadcast(SharedText text) {
  if (peers_.empty()) return;
  rounds_.push_back({std::move(text), {peers_.begin(), peers_.end()}});
  if (sending_) return;
  sending_ = true;
  send_some();
}

void LiveHub::send_some() {
  for (std::size_t k = 0; k < boards_at_a_go && !rounds_.empty();) {
    Round& round = rounds_.front();
    if (round.left.empty()) {
      rounds_.pop_front();
      continue;
    }
    Peer* peer = round.left.back();
    round.left.pop_back();
    peer->send(SharedText(round.text));  // may end this one and others
    ++k;
  }
  sending_ = !rounds_.empty();
  if (sending_) post_([this] { send_some(); });
}

void LiveHub::send_rest() {
  while (!rounds_.empty()) {
    Round round = std::move(rounds_.front());
    rounds_.pop_front();
    for (Peer* peer : round.left)
      if (peers_.contains(peer)) peer->send(round.text);
  }
}

void LiveHub::close_all(std::uint16_t code, std::string_view reason) {
  send_rest();
  const std::vector<Peer*> peers(peers_.begin(), peers_.end());
  for (Peer* peer : peers)
    if (peers_.contains(peer)) peer->close(code, reason);
}

void LiveHub::close_left(std::uint16_t code, std::string_view reason) {
  const std::vector<Peer*> peers(peers_.begin(), peers_.end());
  for (Peer* peer : peers)
    if (peers_.contains(peer) && !peer->may_stay()) peer->close(code, reason);
}

}  // namespace tagline::net
