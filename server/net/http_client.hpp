// A small HTTP client for one request at a time, each on a connection of its own: for the demo,
// which speaks to the service as a person's browser would, and for the tests.
#pragma once

#include <chrono>
#include <cstdint>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace tagline::net {

/// No answer: can't connect, took too long, or what came was no HTTP.
struct ClientError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

struct ClientRequest {
  std::string method{"GET"};
  std::string target{"/"};
  std::vector<std::pair<std::string, std::string>> headers;
  std::string body;
};

struct ClientResponse {
  int status{};
  std::vector<std::pair<std::string, std::string>> headers;
  std::string body;
  /// The first field of that name, whatever its case; "" if there is none.
  [[nodiscard]] std::string header(std::string_view name) const;
};

/// Blocks until the answer is here. A body without a Content-Type is sent as application/json.
/// Throws ClientError.
ClientResponse ask_http(const std::string& address, std::uint16_t port,
                        const ClientRequest& request,
                        std::chrono::milliseconds timeout = std::chrono::seconds(10));

}  // namespace tagline::net
