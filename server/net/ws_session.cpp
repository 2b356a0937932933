// One WebSocket connection (RFC 6455): frames in and out, pings, silence, and a clean end.
#include <spdlog/spdlog.h>

#include <boost/asio/post.hpp>
#include <boost/beast/core/buffers_to_string.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <deque>
#include <optional>

#include "server/net/session.hpp"

namespace tagline::net {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace websocket = beast::websocket;
using beast::error_code;

/// For the other side to answer our close frame.
constexpr std::chrono::milliseconds close_time{2'000};
/// Texts go out together as long as fewer bytes wait, and fewer have gathered.
constexpr std::size_t most_gathered = 16'384;

class WsSession : public WsLink, public Swept, public std::enable_shared_from_this<WsSession> {
 public:
  WsSession(Network::State& state, Stream stream, UpgradeRequest request, Upgrade upgrade,
            std::unique_ptr<Crowd::Place> place)
      : state_(state),
        place_(std::move(place)),
        request_(std::move(request)),
        peer_(std::move(upgrade.peer)),
        rules_(std::move(upgrade.rules)),
        texts_(rules_.texts),
        controls_(rules_.controls),
        ws_(std::move(stream)) {
    place_->end_by([this] { cut(); });
  }

  ~WsSession() override { state_.sockets.erase(this); }

  void start() {
    auto timeout = websocket::stream_base::timeout::suggested(beast::role_type::server);
    timeout.handshake_timeout = std::chrono::seconds(10);
    timeout.idle_timeout = websocket::stream_base::none();  // sweep() looks after that
    timeout.keep_alive_pings = false;
    ws_.set_option(timeout);
    ws_.set_option(websocket::stream_base::decorator(
        [name = rules_.subprotocol](websocket::response_type& response) {
          response.set(beast::http::field::server, "tagline");
          if (!name.empty()) response.set(beast::http::field::sec_websocket_protocol, name);
        }));
    ws_.read_message_max(rules_.max_frame_bytes);
    ws_.auto_fragment(false);  // a small cart is spared putting frames together
    ws_.text(true);
    ws_.control_callback([this](websocket::frame_type, beast::string_view) { got_control(); });
    ws_.async_accept(request_, [self = shared_from_this()](const error_code& error) {
      if (!error) self->opened();
    });
  }

  // ---- WsLink ----
  void send(SharedText text) override {
    if (closing_) return;
    if (queue_.size() >= rules_.queue_texts || queued_bytes_ + text->size() > rules_.queue_bytes) {
      // The text now on its way must stay whole; the rest will not be read in time anyway.
      while (queue_.size() > (writing_ ? 1u : 0u)) {
        queued_bytes_ -= queue_.back()->size();
        queue_.pop_back();
      }
      close(rules_.queue_code, "too slow: too much waits to be sent to you");
      return;
    }
    queued_bytes_ += text->size();
    queue_.push_back(std::move(text));
    if (writing_) return;
    // Not at once: what answers a read is an acknowledgement and an authority.
    writing_ = true;
    asio::post(ws_.get_executor(), [self = shared_from_this()] { self->write_next(); });
  }

  void close(std::uint16_t code, std::string_view reason) override {
    if (closing_) return;
    closing_ = true;
    close_by_ = Steady::now() + close_time;
    close_reason_ =
        websocket::close_reason(static_cast<websocket::close_code>(code),
                                beast::string_view(reason.data(), reason.size()).substr(0, 123));
    tell_closed();
    peer_pauses_ = held_back_ = false;  // the answering close frame must be read
    consider_reading();
    if (!writing_) send_close();
  }

  void pause_reading(bool pause) override {
    peer_pauses_ = pause;
    consider_reading();
  }

  // ---- Swept ----
  void sweep(Steady::time_point now) override {
    const auto self = shared_from_this();
    if (closing_) {
      if (now > close_by_) cut();
      return;
    }
    const bool awaits_first = rules_.first_message.count() > 0 && !got_text_;
    if (awaits_first && now - opened_ > rules_.first_message) {
      give_up(rules_.silence_code, "no message came in time");
    } else if (now - last_heard_ > rules_.silence && !reading_stopped()) {
      give_up(rules_.silence_code, "no sign of life");
    } else if (in_pieces_for(now) > rules_.whole_message) {
      give_up(rules_.silence_code, "a message was not whole in time");
    } else if (held_back_ && now - over_since_ > rules_.flood_time) {
      give_up(rules_.flood_code, "too many messages for too long");
    } else if (now - last_ping_ > rules_.ping_every && !pinging_) {
      last_ping_ = now;
      pinging_ = true;
      ws_.async_ping({}, [self](const error_code&) { self->pinging_ = false; });
    }
    if (!closing_) read_on_if_room(now);
  }

 private:
  void opened() {
    request_ = {};
    opened_ = last_heard_ = last_ping_ = Steady::now();
    state_.sockets.insert(this);
    open_ = true;
    if (rules_.first_message.count() == 0) place_->settle();
    peer_->on_open(*this);
    consider_reading();
  }

  /// Closes a link by the network's own rules, which nobody else can tell of.
  void give_up(std::uint16_t code, std::string_view reason) {
    if (closing_) return;
    spdlog::warn("a link from {} closed with {}: {}", place_->address(), code, reason);
    close(code, reason);
  }

  void heard() { last_heard_ = Steady::now(); }

  /// A ping, pong or close frame. Beast reads on by itself, so they can't be held back.
  void got_control() {
    heard();
    const bool room = controls_.has_room(last_heard_);
    controls_.spend(last_heard_);
    if (room || closing_) return;
    asio::post(ws_.get_executor(), [self = shared_from_this()] {  // not inside Beast's reading
      self->give_up(self->rules_.flood_code, "too many pings or pongs");
    });
  }

  // ---- holding back a side that sends too much ----
  [[nodiscard]] bool reading_stopped() const { return peer_pauses_ || held_back_; }

  void consider_reading() {
    if (!reading_stopped() && !reading_ && !handing_over_) read_next();
    // With no read outstanding nothing else would keep the session alive.
    paused_self_ = reading_stopped() ? shared_from_this() : nullptr;
  }

  void count_text() {
    const auto now = last_heard_;
    texts_.spend(now);
    held_back_ = !texts_.has_room(now);
    if (!held_back_ || over_) return;
    over_ = true;
    over_since_ = now;
  }

  void read_on_if_room(Steady::time_point now) {
    if (over_ && texts_.has_recovered(now)) over_ = false;
    if (!held_back_ || !texts_.has_room(now)) return;
    held_back_ = false;
    consider_reading();
  }

  /// How long the message that is being read has been coming in pieces.
  std::chrono::nanoseconds in_pieces_for(Steady::time_point now) {
    if (ws_.is_message_done())
      in_pieces_since_.reset();
    else if (!in_pieces_since_)
      in_pieces_since_ = now;
    return in_pieces_since_ ? now - *in_pieces_since_ : std::chrono::nanoseconds(0);
  }

  void read_next() {
    reading_ = true;
    ws_.async_read(buffer_, [self = shared_from_this()](const error_code& error, std::size_t) {
      self->reading_ = false;
      self->got(error);
    });
  }

  void got(const error_code& error) {
    if (error) {
      // Beast has already answered a broken frame with its close code (1002, 1007, 1009).
      closing_ = true;
      close_by_ = Steady::now() + close_time;
      tell_closed();
      if (error != websocket::error::closed) cut_after_close_frame();
      return;
    }
    heard();
    if (!closing_) {
      got_text_ = true;
      place_->settle();
      in_pieces_since_.reset();
      count_text();
      handing_over_ = true;
      if (!ws_.got_text()) {
        close(websocket::close_code::unknown_data, "only text frames are spoken here");
      } else {
        const auto bytes = buffer_.cdata();
        peer_->on_text({static_cast<const char*>(bytes.data()), bytes.size()});
      }
    }
    buffer_.consume(buffer_.size());
    handing_over_ = false;
    consider_reading();
  }

  void write_next() {
    writing_ = true;
    Stream& stream = ws_.next_layer();
    stream.gather(queue_.size() > 1 && queued_bytes_ < most_gathered &&
                  stream.gathered() < most_gathered);
    ws_.async_write(asio::buffer(*queue_.front()),
                    [self = shared_from_this()](const error_code& error, std::size_t) {
                      self->writing_ = false;
                      self->wrote(error);
                    });
  }

  void wrote(const error_code& error) {
    queued_bytes_ -= queue_.front()->size();
    queue_.pop_front();
    if (error) {
      cut();
    } else if (!queue_.empty()) {
      write_next();
    } else if (closing_) {
      send_close();
    }
  }

  void send_close() {
    if (!ws_.is_open()) return cut();
    ws_.next_layer().gather(false);
    ws_.async_close(close_reason_, [self = shared_from_this()](const error_code&) {});
  }

  void tell_closed() {
    if (!open_) return;
    open_ = false;
    peer_->on_closed();
  }

  void cut_after_close_frame() {
    error_code ignored;
    ws_.next_layer().tcp().socket().shutdown(asio::ip::tcp::socket::shutdown_send, ignored);
  }

  void cut() {
    closing_ = true;
    peer_pauses_ = held_back_ = false;
    paused_self_ = nullptr;
    tell_closed();
    ws_.next_layer().tcp().close();
  }

  Network::State& state_;
  std::unique_ptr<Crowd::Place> place_;
  UpgradeRequest request_;
  std::unique_ptr<WsPeer> peer_;
  WsRules rules_;
  Budget texts_, controls_;
  websocket::stream<Stream, false> ws_;
  beast::flat_buffer buffer_;
  std::deque<SharedText> queue_;  // its front is being written while writing_
  std::size_t queued_bytes_{0};
  bool open_{false}, reading_{false}, writing_{false}, pinging_{false};
  bool closing_{false}, got_text_{false};
  bool peer_pauses_{false};
  bool held_back_{false};     // no text is read until there is room again
  bool over_{false};          // held back since, without a break that mattered
  bool handing_over_{false};  // the text in buffer_ is still in use
  Steady::time_point over_since_;
  std::optional<Steady::time_point> in_pieces_since_;
  std::shared_ptr<WsSession> paused_self_;
  websocket::close_reason close_reason_;
  Steady::time_point opened_, last_heard_, last_ping_, close_by_;
};

}  // namespace

void serve_websocket(Network::State& state, Stream stream, UpgradeRequest request, Upgrade upgrade,
                     std::unique_ptr<Crowd::Place> place) {
  std::make_shared<WsSession>(state, std::move(stream), std::move(request), std::move(upgrade),
                              std::move(place))
      ->start();
}

}  // namespace tagline::net
