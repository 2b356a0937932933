// `tagline serve`: the dispatcher service.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

namespace tagline::app {

struct ServeOptions {
  std::filesystem::path floor;
  std::filesystem::path fleet;
  std::filesystem::path data;
  std::string listen{"127.0.0.1"};
  std::uint16_t port{8080};
  int pace{1};
  int keep_days{400};         // what is older is deleted
  std::filesystem::path web;  // empty: the shipped one
  /// Everybody is let in with this role ("viewer", ...); empty: people sign in.
  std::string open_door{};
  bool setup_code{false};              // for one more builder, though there are accounts
  std::vector<std::string> proxies{};  // believed when they say whom they ask for
  /// PEM files for TLS, both or neither.
  std::filesystem::path tls_certificate{}, tls_key{};
  bool plain_carts{false};          // may link without TLS though there is some
  std::vector<std::string> hosts;   // names the service may be called by
  std::filesystem::path port_file;  // empty: none
};

/// Runs until SIGINT or SIGTERM. Exit code 0, or 3 after an invariant failure. Throws BadInput.
int serve(const ServeOptions& options);

}  // namespace tagline::app
