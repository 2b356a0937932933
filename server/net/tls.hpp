// The certificate that the service shows, and what TLS it speaks. Apart from network.hpp, because
// OpenSSL stays behind these.
#pragma once

#include <filesystem>
#include <memory>
#include <stdexcept>
#include <string>

namespace boost::asio::ssl {
class context;
}

namespace tagline::net {

/// Can't be used; what() says which file, why, and what to do.
struct TlsError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

struct TlsFiles {
  /// PEM: the service's own certificate first, then those between it and the root.
  std::filesystem::path certificate;
  /// PEM, without a password.
  std::filesystem::path key;
};

/// TLS 1.2 and 1.3 only (RFC 8996 does away with the older ones; RFC 9325, 3.1.1); of 1.2 only
/// ciphers with forward secrecy and authenticated encryption (RFC 9325, 4.2). The caller keeps it
/// as long as any connection. Throws TlsError: a file that can't be read, a key that isn't the
/// certificate's, a certificate that has run out.
std::shared_ptr<boost::asio::ssl::context> load_tls(const TlsFiles& files);

}  // namespace tagline::net
