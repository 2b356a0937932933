// Virtual carts as a process of their own: one or many carts of one World, each with its own
// WebSocket to the service, speaking only the cart link (protocol/README.md). Knows nothing of the
// service but its address.
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::sim {

/// Where the service listens for carts.
struct ServiceAddress {
  std::string host;
  std::string port;
  std::string target;
  bool tls{false};
};

/// From "ws://HOST[:PORT][/TARGET]" or the same with "wss://"; port 80, with TLS 443, and target
/// /cart unless given. Nothing for any other text.
std::optional<ServiceAddress> parse_service_url(std::string_view url);

/// One cart of the fleet, to be set down over the tag of the pose's point.
struct VirtualCartSetup {
  std::string id;
  std::string key;
  PoseIx start;
};

struct VirtualCartOptions {
  /// Must outlive the run.
  const floor::Ways* ways{};
  std::vector<VirtualCartSetup> carts;
  ServiceAddress service;
  /// PEM file with the root certificate that the service's must have; empty: any that this machine
  /// trusts. Only with TLS.
  std::filesystem::path tls_root;
  /// The world runs this many times faster than the clock, 1 to 1000. Must be the service's pace.
  int pace{1};
  std::uint64_t seed{1};
  /// Share of tags passed unread, 0 to 1, and mishaps in a cart's way per hour and cart.
  double miss_rate{0};
  double stalls_per_hour{0};
  /// How often a cart's link is gone for 1 to 30 s of the world, per hour and cart.
  double drops_per_hour{0};
  /// A person stands by, who takes orders on standard input, one a line: "ahead CART" or "behind
  /// CART" pushes the cart along the tape onto the next tag, or back onto the last one.
  bool person{false};
  /// The report is written here every second, whole or not at all; none if empty.
  std::filesystem::path report;
  /// The report is printed to standard output this often; 0 = only at the end.
  std::chrono::seconds print_every{0};
  /// Ends the run as a signal does; for callers that are no process.
  std::stop_token stop;
};

/// Runs until SIGINT, SIGTERM or options.stop, then prints the report as one line of JSON on
/// standard output and returns 0. Lost or refused links are taken up again for ever: after 1 s,
/// then twice as long each time up to 10 s (10 s at once after a wrong key), divided by the pace
/// but at least 100 ms. What goes wrong with a link is told on standard error, with the close code.
///
/// Report: {"carts", "connected", "seconds" (of the world), "body_contacts", "first_contact",
/// "least_gap_mm" (null until two bodies were seen), "least_gap_at", "distance_m", "handled"
/// (loads taken on and given off), "handled_amiss" (taken on by a cart that had one on, or given
/// off by one that had none), "handled_at" ({point: [taken on, given off]}), "dropped" (links cut
/// at drops_per_hour), "refused" (links the service closed with a 44xx code),
/// "stands" ({cart: {"ahead"?: [point, the one before it], "behind"?: the same}}: the tags that it
/// stands between), "slipped_s" (time of the world lost because the machine was too slow for the
/// pace), "seed", "pace"}.
///
/// Throws std::invalid_argument for options that make no sense, or a root that can't be used;
/// std::runtime_error if the report
/// can't be written.
int run_virtual_carts(const VirtualCartOptions& options);

}  // namespace tagline::sim
