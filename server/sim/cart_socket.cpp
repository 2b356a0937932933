// A virtual cart's WebSocket over TCP or TLS: see cart_socket.hpp and protocol/README.md,
// "Connecting".
#include "server/sim/cart_socket.hpp"

#include <openssl/err.h>
#include <openssl/ssl.h>
#include <openssl/x509.h>

#include <boost/asio/ip/address.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/host_name_verification.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/ssl/ssl_stream.hpp>
#include <boost/beast/websocket.hpp>
#include <boost/beast/websocket/ssl.hpp>
#include <chrono>
#include <stdexcept>
#include <type_traits>

#include "protocol/codec.hpp"

namespace tagline::sim {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace websocket = beast::websocket;
using asio::use_awaitable;
using asio::ip::tcp;
using namespace std::chrono_literals;

namespace {

constexpr auto connect_patience = 5s;
constexpr auto silence = 15s;

using Plain = beast::tcp_stream;
using Secure = beast::ssl_stream<beast::tcp_stream>;

template <class Below>
class SocketOver : public CartSocket {
 public:
  template <class... More>
  SocketOver(asio::io_context& io, const ServiceAddress& service, More&... more)
      : service_{service}, stream_{io, more...}, resolver_{io} {}

  asio::awaitable<void> open() override {
    tcp().expires_after(connect_patience);
    const auto found =
        co_await resolver_.async_resolve(service_.host, service_.port, use_awaitable);
    co_await tcp().async_connect(found, use_awaitable);
    tcp().socket().set_option(tcp::no_delay{true});
    if constexpr (std::is_same_v<Below, Secure>) co_await shake_hands();
    tcp().expires_never();

    websocket::stream_base::timeout timeout{};
    timeout.handshake_timeout = connect_patience;
    timeout.idle_timeout = silence;
    timeout.keep_alive_pings = true;
    stream_.set_option(timeout);
    stream_.set_option(websocket::stream_base::decorator([](websocket::request_type& request) {
      request.set(beast::http::field::sec_websocket_protocol, protocol::cart_subprotocol);
    }));
    stream_.read_message_max(protocol::max_frame_bytes);
    websocket::response_type response;
    co_await stream_.async_handshake(response, service_.host + ":" + service_.port, service_.target,
                                     use_awaitable);
    if (response[beast::http::field::sec_websocket_protocol] != protocol::cart_subprotocol) {
      throw std::runtime_error("what answers there doesn't speak " +
                               std::string{protocol::cart_subprotocol});
    }
    stream_.text(true);
  }

  asio::awaitable<std::string> read() override {
    beast::flat_buffer buffer;
    co_await stream_.async_read(buffer, use_awaitable);
    if (!stream_.got_text()) throw std::runtime_error("the service sent a binary frame");
    co_return beast::buffers_to_string(buffer.data());
  }

  asio::awaitable<void> write(const std::string& text) override {
    co_await stream_.async_write(asio::buffer(text), use_awaitable);
  }

  void cut() override { tcp().close(); }

  [[nodiscard]] CloseFrame close_frame() const override {
    const auto& why = stream_.reason();
    return {static_cast<std::uint16_t>(why.code),
            std::string{why.reason.data(), why.reason.size()}};
  }

 private:
  beast::tcp_stream& tcp() { return beast::get_lowest_layer(stream_); }

  asio::awaitable<void> shake_hands() {
    Secure& secure = stream_.next_layer();
    boost::system::error_code no_address;
    asio::ip::make_address(service_.host, no_address);
    // Which of several names is meant is told by name only (RFC 6066, 3).
    // SSL_set_tlsext_host_name, a macro with an old-style cast, does the same.
    if (no_address)
      SSL_ctrl(secure.native_handle(), SSL_CTRL_SET_TLSEXT_HOSTNAME, TLSEXT_NAMETYPE_host_name,
               service_.host.data());
    secure.set_verify_callback(asio::ssl::host_name_verification(service_.host));
    try {
      co_await secure.async_handshake(asio::ssl::stream_base::client, use_awaitable);
    } catch (const boost::system::system_error&) {
      const long verdict = SSL_get_verify_result(secure.native_handle());
      if (verdict == X509_V_OK) throw;
      throw std::runtime_error(std::string("its certificate is not trusted, or not for \"") +
                               service_.host + "\": " + X509_verify_cert_error_string(verdict));
    }
  }

  ServiceAddress service_;
  websocket::stream<Below> stream_;
  tcp::resolver resolver_;
};

}  // namespace

std::shared_ptr<asio::ssl::context> trusting(const std::filesystem::path& root) {
  auto context = std::make_shared<asio::ssl::context>(asio::ssl::context::tls_client);
  SSL_CTX_set_min_proto_version(context->native_handle(), TLS1_2_VERSION);
  context->set_verify_mode(asio::ssl::verify_peer);
  boost::system::error_code error;
  if (root.empty())
    context->set_default_verify_paths(error);
  else
    context->load_verify_file(root.string(), error);
  ERR_clear_error();
  if (error)
    throw std::invalid_argument(
        root.empty() ? "this machine's root certificates can't be read (" + error.message() +
                           "); name the one to trust with --tls-root"
                     : "there is no certificate in " + root.string() + " (" + error.message() +
                           "); it must be PEM, beginning with BEGIN CERTIFICATE");
  return context;
}

std::unique_ptr<CartSocket> new_socket(asio::io_context& io, const ServiceAddress& service,
                                       const std::shared_ptr<asio::ssl::context>& tls) {
  if (service.tls) return std::make_unique<SocketOver<Secure>>(io, service, *tls);
  return std::make_unique<SocketOver<Plain>>(io, service);
}

}  // namespace tagline::sim
