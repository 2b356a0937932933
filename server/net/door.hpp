// What a request must be before anybody looks at what it wants: addressed to this service, and not
// sent by somebody else's page. And what a proxy before it may say.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/net/http_message.hpp"

namespace tagline::net {

/// Names by which the service may be called besides its IP address and "localhost". A page of
/// another site can have its name point here (DNS rebinding), so other names are refused.
using HostNames = std::vector<std::string>;

/// The refusal, if the request may not come in: 400 without a Host, 421 for another's name, 403
/// for another's page.
std::optional<Response> refuse_at_door(const Request& request, const HostNames& names);

/// Addresses of proxies that are believed when they say whom they ask for.
using Proxies = std::vector<std::string>;

/// 308 to https for a page and 403 for the rest, if a service that speaks TLS is asked in the
/// clear. Where it knows no name to send a browser to, it says only that. `cart_link`: an upgrade
/// at /cart, which `plain_carts` lets in.
std::optional<Response> refuse_in_the_clear(const Request& request, bool cart_link,
                                            bool plain_carts);

/// Puts what a believed proxy says in the place of its own address: the last address of
/// X-Forwarded-For, which is the one that the proxy itself saw, and whether X-Forwarded-Proto is
/// https. From anybody else these fields say nothing: everybody can write them.
void see_through_proxy(Request& request, const Proxies& proxies);

/// "192.168.4.20:8080" or "[::1]:8080" or "localhost" -> without the port.
std::string_view host_without_port(std::string_view host);

}  // namespace tagline::net
