// One connection of a virtual cart to the service, in the clear or through TLS: a WebSocket, text
// by text. Boost and OpenSSL stay behind it.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include "server/sim/virtual_carts.hpp"

namespace boost::asio::ssl {
class context;
}

namespace tagline::sim {

/// How the other side has ended a connection.
struct CloseFrame {
  std::uint16_t code{};  // 0: it hasn't
  std::string reason{};
};

/// All on the thread that runs its io_context; it must outlive what is awaited. All that is awaited
/// throws when the connection ends or was never made; what() says why.
class CartSocket {
 public:
  virtual ~CartSocket() = default;
  /// Connects, and makes sure that the other side speaks the cart link.
  virtual boost::asio::awaitable<void> open() = 0;
  virtual boost::asio::awaitable<std::string> read() = 0;
  virtual boost::asio::awaitable<void> write(const std::string& text) = 0;
  /// Gone, without a word to the other side.
  virtual void cut() = 0;
  [[nodiscard]] virtual CloseFrame close_frame() const = 0;
};

/// Trusts the certificates whose root is in the PEM file `root`, or, without one, those that this
/// machine trusts; TLS 1.2 and 1.3. Throws std::invalid_argument if the file can't be used.
std::shared_ptr<boost::asio::ssl::context> trusting(const std::filesystem::path& root);

/// `tls` is used, and must be there, if the address asks for it. Then the other side must show a
/// certificate that is trusted and is for that host.
std::unique_ptr<CartSocket> new_socket(boost::asio::io_context& io, const ServiceAddress& service,
                                       const std::shared_ptr<boost::asio::ssl::context>& tls);

}  // namespace tagline::sim
