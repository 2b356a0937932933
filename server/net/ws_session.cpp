// One WebSocket connection (RFC 6455): frames in and out, pings, silence, and a clean end.
#include <boost/beast/core/buffers_to_string.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <deque>

#include "server/net/session.hpp"

namespace tagline::net {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace websocket = beast::websocket;
using beast::error_code;

/// For the other side to answer our close frame.
constexpr std::chrono::milliseconds close_time{2'000};

class WsSession : public WsLink, public Swept, public std::enable_shared_from_this<WsSession> {
 public:
  WsSession(Network::State& state, beast::tcp_stream stream, UpgradeRequest request,
            Upgrade upgrade, std::unique_ptr<Counted> counted)
      : state_(state),
        counted_(std::move(counted)),
        request_(std::move(request)),
        peer_(std::move(upgrade.peer)),
        rules_(std::move(upgrade.rules)),
        ws_(std::move(stream)) {}

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
    ws_.control_callback([this](websocket::frame_type, beast::string_view) { heard(); });
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
    if (!writing_) write_next();
  }

  void close(std::uint16_t code, std::string_view reason) override {
    if (closing_) return;
    closing_ = true;
    close_by_ = Steady::now() + close_time;
    close_reason_ =
        websocket::close_reason(static_cast<websocket::close_code>(code),
                                beast::string_view(reason.data(), reason.size()).substr(0, 123));
    tell_closed();
    if (reading_paused_) pause_reading(false);  // the answering close frame must be read
    if (!writing_) send_close();
  }

  void pause_reading(bool pause) override {
    if (pause == reading_paused_) return;
    reading_paused_ = pause;
    if (!pause && !reading_) read_next();
    // With no read outstanding nothing else would keep the session alive.
    paused_self_ = pause ? shared_from_this() : nullptr;
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
      close(rules_.silence_code, "no message came in time");
    } else if (now - last_heard_ > rules_.silence && !reading_paused_) {
      close(rules_.silence_code, "no sign of life");
    } else if (now - last_ping_ > rules_.ping_every && !pinging_) {
      last_ping_ = now;
      pinging_ = true;
      ws_.async_ping({}, [self](const error_code&) { self->pinging_ = false; });
    }
  }

 private:
  void opened() {
    request_ = {};
    opened_ = last_heard_ = last_ping_ = Steady::now();
    state_.sockets.insert(this);
    open_ = true;
    peer_->on_open(*this);
    if (!reading_ && !reading_paused_) read_next();
  }

  void heard() { last_heard_ = Steady::now(); }

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
      if (!ws_.got_text()) {
        close(websocket::close_code::unknown_data, "only text frames are spoken here");
      } else {
        const auto bytes = buffer_.cdata();
        peer_->on_text({static_cast<const char*>(bytes.data()), bytes.size()});
      }
    }
    buffer_.consume(buffer_.size());
    if (!reading_paused_ && !reading_) read_next();
  }

  void write_next() {
    writing_ = true;
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
    ws_.async_close(close_reason_, [self = shared_from_this()](const error_code&) {});
  }

  void tell_closed() {
    if (!open_) return;
    open_ = false;
    peer_->on_closed();
  }

  void cut_after_close_frame() {
    error_code ignored;
    beast::get_lowest_layer(ws_).socket().shutdown(asio::ip::tcp::socket::shutdown_send, ignored);
  }

  void cut() {
    closing_ = true;
    tell_closed();
    beast::get_lowest_layer(ws_).close();
  }

  Network::State& state_;
  std::unique_ptr<Counted> counted_;
  UpgradeRequest request_;
  std::unique_ptr<WsPeer> peer_;
  WsRules rules_;
  websocket::stream<beast::tcp_stream, false> ws_;
  beast::flat_buffer buffer_;
  std::deque<SharedText> queue_;  // its front is being written while writing_
  std::size_t queued_bytes_{0};
  bool open_{false}, reading_{false}, reading_paused_{false}, writing_{false}, pinging_{false};
  bool closing_{false}, got_text_{false};
  std::shared_ptr<WsSession> paused_self_;
  websocket::close_reason close_reason_;
  Steady::time_point opened_, last_heard_, last_ping_, close_by_;
};

}  // namespace

void serve_websocket(Network::State& state, beast::tcp_stream stream, UpgradeRequest request,
                     Upgrade upgrade, std::unique_ptr<Counted> counted) {
  std::make_shared<WsSession>(state, std::move(stream), std::move(request), std::move(upgrade),
                              std::move(counted))
      ->start();
}

}  // namespace tagline::net
