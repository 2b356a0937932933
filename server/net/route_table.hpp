// Every place of the interface, and what asking there is. Nobody gets to a place that isn't here,
// so one that is forgotten is shut, not open.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "server/access/action.hpp"

namespace tagline::net {

struct Route {
  /// GET stands for HEAD too; SOCKET is an upgrade to a WebSocket.
  std::string_view method;
  /// "{}" is any one piece.
  std::string_view path;
  /// Nothing: for everybody, signed in or not.
  std::optional<access::Action> action;
  /// In the audit log, where what is asked there gets into it.
  std::string_view what{};
};

std::span<const Route> all_routes();

/// Null if there is none.
const Route* find_route(std::string_view method, const std::vector<std::string>& pieces);

/// "GET, HEAD, POST": what can be asked there; "" if nothing can.
std::string methods_at(const std::vector<std::string>& pieces);

/// What a request is about, for the audit log: "carts/cart-1" of /api/carts/cart-1/stop.
std::string about_of(const std::vector<std::string>& pieces);

}  // namespace tagline::net
