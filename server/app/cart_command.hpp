// `tagline cart`: virtual carts in a process of their own, speaking only the cart link.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

namespace tagline::app {

struct CartOptions {
  std::filesystem::path floor;
  std::filesystem::path fleet;
  std::string url;                 // ws://host:port/cart, or wss://
  std::filesystem::path tls_root;  // PEM; empty: what this machine trusts
  std::vector<std::string> carts;  // ids; empty: the whole fleet
  int pace{1};
  std::uint64_t seed{1};
  double miss_rate{0};
  bool person{false};
  double stall_rate{0}, drop_rate{0};  // per hour and cart
  std::filesystem::path report;        // empty: none
};

/// Runs until SIGINT or SIGTERM. Throws BadInput.
int run_carts(const CartOptions& options);

}  // namespace tagline::app
