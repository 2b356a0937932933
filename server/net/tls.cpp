// Reading the certificate and its key.
#include "server/net/tls.hpp"

#include <openssl/err.h>
#include <openssl/ssl.h>
#include <openssl/x509.h>

#include <array>
#include <boost/asio/ssl/context.hpp>
#include <fstream>

namespace tagline::net {
namespace {

namespace ssl = boost::asio::ssl;

constexpr const char* ciphers_of_1_2 = "ECDHE+AESGCM:ECDHE+CHACHA20:!aNULL:!SHA1";

void must_be_readable(const std::filesystem::path& file, const std::string& what) {
  if (!std::ifstream(file).good())
    throw TlsError("can't read the " + what + " " + file.string() +
                   "; give the path of a PEM file that this user may read");
}

/// Nobody is at hand to type one, so a key behind a password can't be opened.
int no_password(char*, int, int, void*) { return 0; }

void must_be_in_date(SSL_CTX* context, const std::filesystem::path& file) {
  const X509* certificate = SSL_CTX_get0_certificate(context);
  const ASN1_TIME* last = X509_get0_notAfter(certificate);
  int days = 0, seconds = 0;
  if (ASN1_TIME_diff(&days, &seconds, nullptr, last) == 0 || days < 0 || seconds < 0)
    throw TlsError("the certificate in " + file.string() +
                   " has run out; browsers and carts would turn away: put a new one there");
}

}  // namespace

std::shared_ptr<ssl::context> load_tls(const TlsFiles& files) {
  must_be_readable(files.certificate, "certificate");
  must_be_readable(files.key, "certificate's key");
  auto context = std::make_shared<ssl::context>(ssl::context::tls_server);
  SSL_CTX* raw = context->native_handle();
  boost::system::error_code error;
  SSL_CTX_set_min_proto_version(raw, TLS1_2_VERSION);
  if (SSL_CTX_set_cipher_list(raw, ciphers_of_1_2) != 1)
    throw TlsError("this machine's OpenSSL has none of the ciphers that are safe");
  SSL_CTX_set_default_passwd_cb(raw, no_password);
  // A client could have the service compute handshakes again and again on one connection.
  SSL_CTX_set_options(raw, SSL_OP_NO_RENEGOTIATION | SSL_OP_NO_COMPRESSION);
  context->use_certificate_chain_file(files.certificate.string(), error);
  if (error)
    throw TlsError("there is no certificate in " + files.certificate.string() + " (" +
                   error.message() + "); it must be PEM, beginning with BEGIN CERTIFICATE");
  context->use_private_key_file(files.key.string(), ssl::context::pem, error);
  if (error)
    throw TlsError("the key in " + files.key.string() + " can't be used (" + error.message() +
                   "); it must be PEM without a password, and of the certificate in " +
                   files.certificate.string());
  must_be_in_date(raw, files.certificate);
  ERR_clear_error();
  return context;
}

}  // namespace tagline::net
