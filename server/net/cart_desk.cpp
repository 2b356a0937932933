// Cart sessions: greeting, numbering, acknowledgement.
#include "server/net/cart_desk.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>

#include "server/net/wire_translation.hpp"

namespace tagline::net {
namespace {

using protocol::CloseCode;

SharedText encoded(const protocol::ServiceMessage& message) {
  return std::make_shared<const std::string>(protocol::encode(message));
}

std::uint16_t number(CloseCode code) { return static_cast<std::uint16_t>(code); }

}  // namespace

class CartDesk::Peer : public WsPeer {
 public:
  Peer(CartDesk& desk, std::uint64_t number, std::string address)
      : desk_(desk), number_(number), address_(std::move(address)) {}

  void on_open(WsLink& link) override { link_ = &link; }

  void on_text(std::string_view text) override {
    auto decoded = protocol::decode_cart_message(text);
    if (const auto* error = std::get_if<protocol::DecodeError>(&decoded))
      return close(CloseCode::malformed, protocol::close_reason(*error));
    const auto& message = std::get<protocol::CartMessage>(decoded);
    if (const auto* hello = std::get_if<protocol::Hello>(&message)) return greet_or_wait(*hello);
    if (!cart_) return close(CloseCode::out_of_order, "the first message must be a hello");
    take(message);
  }

  void on_closed() override {
    link_ = nullptr;
    desk_.waiting_.erase(this);
    if (!cart_) return;
    Entry& entry = desk_.carts_[cart_->value];
    if (entry.peer == this) {
      entry.peer = nullptr;
      if (!quiet_) spdlog::info("{}: link lost", entry.known.id);
      if (!quiet_) desk_.inbox_.post(control::CartLinkLost{*cart_}, std::nullopt);
    }
    cart_.reset();
  }

  void welcome(Instant now) {
    if (!link_) return;
    welcomed_ = true;
    // Everything handed over before the greeting has taken effect: outcomes keep their order.
    protocol::Seq& acked = desk_.carts_[cart_->value].acked;
    acked = std::max(acked, greeted_taken_);
    if (desk_.listener_) desk_.listener_->welcomed(*cart_);
    link_->send(encoded(protocol::Welcome{greeted_taken_, now.time_since_epoch().count()}));
  }

  void send(const SharedText& text) {
    if (link_ && welcomed_) link_->send(text);
  }

  /// The message numbered `seq` has taken effect.
  void done(protocol::Seq seq) {
    if (link_) link_->send(encoded(protocol::Ack{seq}));
    if (in_flight_ > 0) --in_flight_;
    if (link_ && in_flight_ == most_in_flight / 2) link_->pause_reading(false);
  }

  /// Looks at the greeting that had to wait, if its time has come.
  void tick(Budget::Time now) {
    if (now < greet_at_) return;
    desk_.waiting_.erase(this);
    link_->pause_reading(false);
    greet(greeting_);
  }

  void close(CloseCode code, std::string_view reason, bool quiet = false) {
    quiet_ = quiet;
    if (!quiet)
      spdlog::warn("{}: link closed with {}: {}",
                   cart_ ? desk_.carts_[cart_->value].known.id : std::string("a cart"),
                   number(code), reason);
    if (link_) link_->close(number(code), reason);
  }

  [[nodiscard]] std::uint64_t number_of_link() const { return number_; }

 private:
  void greet_or_wait(const protocol::Hello& hello) {
    if (cart_) return close(CloseCode::out_of_order, "a second hello on one connection");
    if (!desk_.wrong_keys_.suspect(address_, desk_.now_)) return greet(hello);
    // Nobody with the right key is locked out; but trying many keys takes long.
    greeting_ = hello;
    greet_at_ = desk_.now_ + delay_of_suspects;
    desk_.waiting_.insert(this);
    link_->pause_reading(true);
  }

  void greet(const protocol::Hello& hello) {
    const auto cart = desk_.check_key(hello);
    if (!cart) {
      desk_.wrong_keys_.note(address_, desk_.now_);
      return close(CloseCode::wrong_key, "unknown cart or wrong key");
    }
    Entry& entry = desk_.carts_[cart->value];
    if (entry.peer) return close(CloseCode::duplicate, "this cart is connected already");
    cart_ = cart;
    entry.peer = this;
    const bool rebooted = has_rebooted(entry.boot, hello);
    if (entry.boot != hello.boot) {
      entry.boot = hello.boot;
      entry.taken = entry.acked = 0;
    }
    greeted_taken_ = entry.taken;
    spdlog::info("{}: connected{}", entry.known.id, rebooted ? ", after a loss of power" : "");
    desk_.inbox_.post(to_event(*cart, hello, rebooted), Origin{*cart, number_, 0});
  }

  void take(const protocol::CartMessage& message) {
    Entry& entry = desk_.carts_[cart_->value];
    const protocol::Seq seq = seq_of(message);
    if (seq <= entry.taken) {
      // Sent again: it counts once. If it has taken effect the cart may have missed the word.
      if (seq <= entry.acked && welcomed_) link_->send(encoded(protocol::Ack{entry.acked}));
      return;
    }
    entry.taken = seq;
    if (desk_.listener_) tell(*desk_.listener_, message);
    desk_.inbox_.post(to_event(*cart_, message), Origin{*cart_, number_, seq});
    if (++in_flight_ == most_in_flight) link_->pause_reading(true);
  }

  void tell(CartListener& listener, const protocol::CartMessage& message) const {
    if (const auto* read = std::get_if<protocol::Read>(&message))
      listener.has_read(*cart_, read->tag);
    if (const auto* state = std::get_if<protocol::State>(&message))
      listener.says_moving(*cart_, state->moving);
  }

  CartDesk& desk_;
  std::uint64_t number_;
  std::string address_;
  WsLink* link_{nullptr};
  protocol::Hello greeting_;  // one that had to wait
  Budget::Time greet_at_{};
  std::optional<CartIx> cart_;
  protocol::Seq greeted_taken_{0};
  bool welcomed_{false};
  bool quiet_{false};
  std::size_t in_flight_{0};
};

CartDesk::CartDesk(const floor::Floor& floor, std::vector<KnownCart> fleet, Inbox& inbox)
    : floor_(floor), inbox_(inbox) {
  carts_.reserve(fleet.size());
  for (KnownCart& known : fleet) {
    Entry entry;
    entry.known = std::move(known);
    carts_.push_back(std::move(entry));
  }
}

CartDesk::~CartDesk() = default;

WsRules CartDesk::rules(std::string_view subprotocol, int pace) {
  WsRules rules;
  rules.subprotocol = std::string(subprotocol);
  rules.max_frame_bytes = protocol::max_frame_bytes;
  rules.first_message = std::chrono::seconds(5);
  rules.silence_code = number(CloseCode::too_slow);
  rules.queue_texts = 500;
  rules.queue_bytes = 2u << 20;
  rules.queue_code = number(CloseCode::too_slow);
  rules.texts = {double{protocol::max_messages_per_s} * pace,
                 double{protocol::max_messages_at_once} * pace};
  rules.flood_code = number(CloseCode::flooding);
  return rules;
}

std::unique_ptr<WsPeer> CartDesk::new_peer(std::string address) {
  return std::make_unique<Peer>(*this, ++last_link_, std::move(address));
}

void CartDesk::tick(Budget::Time now) {
  now_ = now;
  const std::set<Peer*> waiting = waiting_;  // one that is refused leaves
  for (Peer* peer : waiting)
    if (waiting_.contains(peer)) peer->tick(now);
}

std::optional<CartIx> CartDesk::check_key(const protocol::Hello& hello) const {
  // Every cart is looked at, and an unknown one is compared too: the time tells nothing.
  static constexpr access::Digest nobody{};
  std::optional<CartIx> found;
  const access::Digest* key = &nobody;
  for (std::uint32_t k = 0; k < carts_.size(); ++k) {
    if (carts_[k].known.id != hello.cart || carts_[k].shut_out) continue;
    found = CartIx{k};
    key = &carts_[k].known.key;
  }
  const bool right = access::same(*key, access::sha256(hello.key));
  return right ? found : std::nullopt;
}

void CartDesk::change_key(CartIx cart, const access::Digest& key) {
  Entry& entry = carts_[cart.value];
  entry.known.key = key;
  if (Peer* peer = entry.peer) peer->close(CloseCode::wrong_key, "this cart has a new key");
}

void CartDesk::shut_out(CartIx cart, std::string_view reason) {
  Entry& entry = carts_[cart.value];
  entry.shut_out = true;
  if (Peer* peer = entry.peer) peer->close(CloseCode::wrong_key, reason);
}

void CartDesk::deliver(const Release& release) {
  if (release.origin) {
    Entry& entry = carts_[release.origin->cart.value];
    Peer* from = entry.peer;
    if (from && from->number_of_link() != release.origin->link) from = nullptr;
    if (from && release.origin->seq == 0) from->welcome(release.at);
    if (from && release.origin->seq > 0) {
      entry.acked = release.origin->seq;
      from->done(release.origin->seq);
    }
  }
  for (const control::Message& message : release.messages) {
    const CartIx cart = addressee(message);
    if (Peer* peer = carts_[cart.value].peer) peer->send(encoded(to_wire(floor_, message)));
  }
}

void CartDesk::stop_all(const std::string& reason) {
  const SharedText text = encoded(protocol::ServiceStop{reason});
  for (Entry& entry : carts_)
    if (entry.peer) entry.peer->send(text);
}

void CartDesk::close_all(CloseCode code, std::string_view reason) {
  for (Entry& entry : carts_)
    if (Peer* peer = entry.peer) peer->close(code, reason, true);
}

}  // namespace tagline::net
