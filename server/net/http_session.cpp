// One HTTP connection (RFC 9112): requests in, answers out, until it ends or becomes a WebSocket.
#include <algorithm>
#include <array>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/detect_ssl.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/rfc7230.hpp>
#include <boost/beast/http/span_body.hpp>
#include <boost/beast/http/write.hpp>
#include <boost/beast/websocket/rfc6455.hpp>
#include <optional>

#include "server/net/session.hpp"

namespace tagline::net {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using beast::error_code;

constexpr auto as_result = asio::as_tuple(asio::use_awaitable);
/// How much more is read, and how long, so that a refused sender gets to see the refusal.
constexpr std::size_t linger_bytes = 256 * 1024;
constexpr std::chrono::milliseconds linger_time{1'000};

/// `Name` is Beast's word for a field, or its text.
template <class Message, class Name>
std::optional<std::string> field(const Message& message, const Name& name) {
  const auto found = message.find(name);
  if (found == message.end()) return std::nullopt;
  return std::string(found->value());
}

/// On every answer. What is no page has nothing to load, and nobody may frame it; a page has a
/// policy of its own (static_files.cpp) in the place of this one.
constexpr std::array<std::pair<std::string_view, std::string_view>, 7> security_headers{{
    {"Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()"},
    // For browsers that don't know frame-ancestors.
    {"X-Frame-Options", "DENY"},
}};

template <class Message>
Request plain(const Message& message) {
  Request request;
  request.method = std::string(message.method_string());
  request.target = std::string(message.target());
  request.host = field(message, http::field::host);
  request.origin = field(message, http::field::origin);
  request.content_type = field(message, http::field::content_type);
  request.accept_encoding = field(message, http::field::accept_encoding);
  request.if_none_match = field(message, http::field::if_none_match);
  request.if_match = field(message, http::field::if_match);
  request.idempotency_key = field(message, "Idempotency-Key");
  request.authorization = field(message, http::field::authorization);
  request.csrf = field(message, "X-Tagline-Csrf");
  request.forwarded_for = field(message, "X-Forwarded-For");
  request.forwarded_proto = field(message, "X-Forwarded-Proto");
  for (const auto& line : message)
    if (line.name() == http::field::cookie)
      request.cookie = request.cookie ? *request.cookie + "; " + std::string(line.value())
                                      : std::string(line.value());
  const auto twice = [&message](auto name) { return message.count(name) > 1; };
  request.ambiguous = twice(http::field::authorization) || twice(http::field::host) ||
                      twice(http::field::origin) || twice("X-Tagline-Csrf") ||
                      twice("X-Forwarded-For") || twice("X-Forwarded-Proto");
  request.body = message.body();
  return request;
}

std::vector<std::string> offered_subprotocols(const UpgradeRequest& request) {
  std::vector<std::string> offered;
  for (const auto& field : request)
    if (field.name() == http::field::sec_websocket_protocol)
      for (const auto& token : http::token_list(field.value())) offered.emplace_back(token);
  return offered;
}

/// What a request that can't be read is answered with; nothing if the connection is gone.
std::optional<Response> refusal(const error_code& error, const NetLimits& limits,
                                std::size_t most_body) {
  if (error == http::error::header_limit)
    return problem(431, "head_too_large", "The request's head is too large",
                   "At most " + std::to_string(limits.head_bytes) + " bytes are taken.");
  if (error == http::error::body_limit)
    return problem(413, "body_too_large", "The request's body is too large",
                   "At most " + std::to_string(most_body) + " bytes are taken.");
  if (error.category() == make_error_code(http::error::end_of_stream).category() &&
      error != http::error::end_of_stream && error != http::error::partial_message)
    return problem(400, "malformed_request", "This is no HTTP request",
                   "It could not be read: " + error.message() + ".");
  return std::nullopt;
}

/// A place where a handler leaves its answer, now or later.
struct Pending {
  explicit Pending(asio::io_context& io) : ready(io, Steady::time_point::max()) {}
  std::optional<Response> response;
  asio::steady_timer ready;
};

class HttpSession : public Idle {
 public:
  HttpSession(Network::State& state, asio::ip::tcp::socket socket,
              std::unique_ptr<Crowd::Place> place)
      : state_(state), place_(std::move(place)), stream_(std::move(socket)) {
    place_->end_by([this] { cut(); });
  }
  ~HttpSession() override { state_.idle.erase(this); }

  asio::awaitable<void> run() {
    if (state_.tls) {
      const error_code error = co_await begin();
      if (error) co_return;
    }
    // Not `while (co_await ...) {}`: GCC 12 gets a wait in a loop's condition wrong.
    bool more = true;
    while (more) {
      more = co_await serve_one();
    }
  }

  void cut() override { stream_.tcp().cancel(); }

 private:
  using Parser = http::request_parser<http::string_body>;

  /// Finds out whether the other side speaks TLS, and if so agrees on keys with it.
  asio::awaitable<error_code> begin() {
    stream_.tcp().expires_after(state_.limits.first_request_time);
    auto [error, encrypted] = co_await beast::async_detect_ssl(stream_.tcp(), buffer_, as_result);
    if (error || !encrypted) co_return error;
    Stream::Tls& tls = stream_.encrypt(*state_.tls);
    auto [refused, used] =
        co_await tls.async_handshake(asio::ssl::stream_base::server, buffer_.data(), as_result);
    buffer_.consume(used);
    co_return refused;
  }

  /// True if the connection stays open for another request.
  asio::awaitable<bool> serve_one() {
    Parser parser;
    parser.header_limit(static_cast<std::uint32_t>(state_.limits.head_bytes));
    // Who asks is known with the head only; until then nothing of the body is taken in.
    parser.body_limit(std::max(state_.limits.body_bytes, state_.limits.largest_body_bytes));
    most_body_ = state_.limits.body_bytes;
    const error_code error = co_await read(parser);
    if (error) {
      if (auto response = refusal(error, state_.limits, most_body_)) {
        co_await answer(std::move(*response), 11, false, false);
        co_await linger();
      } else {
        co_await hang_up();
      }
      co_return false;
    }
    UpgradeRequest message = parser.release();
    Request request = plain(message);
    request.address = place_->address();
    request.over_tls = stream_.tls() != nullptr;
    if (beast::websocket::is_upgrade(message)) {
      auto decided = state_.handler->on_upgrade(request, offered_subprotocols(message));
      if (auto* upgrade = std::get_if<Upgrade>(&decided)) {
        stream_.tcp().expires_never();
        serve_websocket(state_, std::move(stream_), std::move(message), std::move(*upgrade),
                        std::move(place_));
        co_return false;
      }
      co_await answer(std::move(std::get<Response>(decided)), message.version(), false, false);
      co_await hang_up();
      co_return false;
    }
    place_->settle();
    stream_.tcp().expires_never();
    Response response = co_await decide(request);
    const bool keep = message.keep_alive() && !state_.finishing;
    const bool sent = co_await answer(std::move(response), message.version(), keep,
                                      message.method() == http::verb::head);
    if (!keep || !sent) co_await hang_up();
    co_return keep&& sent;
  }

  asio::awaitable<error_code> read(Parser& parser) {
    const NetLimits& limits = state_.limits;
    stream_.tcp().expires_after(first_ ? std::min(limits.first_request_time, limits.request_time)
                                       : limits.request_time);
    first_ = false;
    if (!state_.finishing) state_.idle.insert(this);
    auto [head_error, head_size] =
        co_await http::async_read_header(stream_, buffer_, parser, as_result);
    state_.idle.erase(this);
    if (head_error) co_return head_error;
    if (const error_code too_large = limit_body(parser)) co_return too_large;
    if (beast::iequals(parser.get()[http::field::expect], "100-continue")) {
      http::response<http::empty_body> go_on(http::status::continue_, 11);
      auto [error, size] = co_await http::async_write(stream_, go_on, as_result);
      if (error) co_return error;
    }
    if (parser.is_done()) co_return error_code{};
    auto [body_error, body_size] = co_await http::async_read(stream_, buffer_, parser, as_result);
    co_return body_error;
  }

  error_code limit_body(Parser& parser) {
    const auto length = parser.content_length();
    if (parser.chunked() || (length && *length > most_body_)) {
      Request head = plain(parser.get());
      head.address = place_->address();
      if (const auto most = state_.handler->most_body(head)) most_body_ = *most;
    }
    if (length && *length > most_body_) return http::error::body_limit;
    parser.body_limit(most_body_);
    return {};
  }

  asio::awaitable<Response> decide(const Request& request) {
    const auto pending = std::make_shared<Pending>(state_.io);
    state_.handler->on_request(request, [pending](Response response) {
      pending->response = std::move(response);
      pending->ready.cancel();
    });
    while (!pending->response) {
      co_await pending->ready.async_wait(as_result);
    }
    co_return std::move(*pending->response);
  }

  asio::awaitable<bool> answer(Response response, unsigned version, bool keep, bool head_only) {
    http::response<http::span_body<const char>> out(static_cast<http::status>(response.status),
                                                    version);
    out.set(http::field::server, "tagline");
    for (const auto& [name, value] : security_headers) out.set(name, value);
    for (const auto& [name, value] : response.headers)
      if (name == "Set-Cookie")  // of which an answer may have several
        out.insert(http::field::set_cookie, value);
      else
        out.set(name, value);
    out.keep_alive(keep);
    const bool bodiless = response.status == 204 || response.status == 304;
    if (!bodiless) {
      out.set(http::field::content_type, response.content_type);
      out.content_length(response.body->size());
    }
    stream_.tcp().expires_after(state_.limits.answer_time);
    if (head_only || bodiless) {
      http::response<http::empty_body> head(std::move(out.base()));
      http::response_serializer<http::empty_body> serializer(head);
      auto [error, size] = co_await http::async_write_header(stream_, serializer, as_result);
      co_return !error;
    }
    out.body() = {response.body->data(), response.body->size()};
    auto [error, size] = co_await http::async_write(stream_, out, as_result);
    co_return !error;
  }

  asio::awaitable<void> hang_up() {
    if (Stream::Tls* tls = stream_.tls()) {
      stream_.tcp().expires_after(Stream::longest_goodbye);
      co_await tls->async_shutdown(as_result);
    }
    error_code ignored;
    stream_.tcp().socket().shutdown(asio::ip::tcp::socket::shutdown_send, ignored);
  }

  /// Closing at once with bytes unread would reset the connection and could lose the answer.
  asio::awaitable<void> linger() {
    co_await hang_up();
    stream_.tcp().expires_after(linger_time);
    std::array<char, 4096> scrap{};
    for (std::size_t taken = 0; taken < linger_bytes;) {
      auto [error, size] = co_await stream_.tcp().async_read_some(asio::buffer(scrap), as_result);
      if (error) break;
      taken += size;
    }
  }

  Network::State& state_;
  std::unique_ptr<Crowd::Place> place_;
  Stream stream_;
  beast::flat_buffer buffer_;
  bool first_{true};  // request of this connection
  std::size_t most_body_{0};
};

}  // namespace

asio::awaitable<void> serve_http(Network::State& state, asio::ip::tcp::socket socket,
                                 std::unique_ptr<Crowd::Place> place) {
  HttpSession session(state, std::move(socket), std::move(place));
  co_await session.run();
}

}  // namespace tagline::net
