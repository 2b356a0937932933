// Host and Origin checks.
#include "server/net/door.hpp"

#include <algorithm>

namespace tagline::net {
namespace {

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return out;
}

/// An address can't be rebound, so its exact form doesn't matter here.
bool is_address(std::string_view host) {
  if (host.starts_with('[') && host.ends_with(']')) return true;
  return !host.empty() && host.find_first_not_of("0123456789.") == std::string_view::npos;
}

}  // namespace

std::string_view host_without_port(std::string_view host) {
  if (host.starts_with('[')) return host.substr(0, host.find(']') + 1);
  return host.substr(0, host.find(':'));
}

void see_through_proxy(Request& request, const Proxies& proxies) {
  constexpr std::size_t longest_address = 45;  // of IPv6 with an IPv4 tail
  if (std::find(proxies.begin(), proxies.end(), request.address) == proxies.end()) return;
  if (request.forwarded_proto) request.over_tls = request.forwarded_proto == "https";
  if (!request.forwarded_for) return;
  std::string_view last = *request.forwarded_for;
  last.remove_prefix(std::min(last.size(), last.rfind(',') + 1));
  while (!last.empty() && last.front() == ' ') last.remove_prefix(1);
  while (!last.empty() && last.back() == ' ') last.remove_suffix(1);
  if (last.empty() || last.size() > longest_address ||
      last.find_first_not_of("0123456789abcdefABCDEF.:") != std::string_view::npos)
    return;
  request.address = last;
}

std::optional<Response> refuse_in_the_clear(const Request& request, bool cart_link,
                                            bool plain_carts) {
  if (request.over_tls || (cart_link && plain_carts)) return std::nullopt;
  if (cart_link)
    return problem(403, "tls_only", "This service speaks TLS",
                   "Link with wss:// instead of ws://. For carts that can't, start the service "
                   "with --plain-carts; their keys can then be read along the way.");
  const bool reads = request.method == "GET" || request.method == "HEAD";
  Response response =
      problem(reads ? 308 : 403, "tls_only", "This service speaks TLS",
              "Ask with https:// instead of http://. What was sent could be read along the way.");
  // The Host was looked at by refuse_at_door(): nobody is sent to a stranger.
  if (reads) response.headers.emplace_back("Location", "https://" + *request.host + request.target);
  return response;
}

std::optional<Response> refuse_at_door(const Request& request, const HostNames& names) {
  if (request.ambiguous)
    return problem(
        400, "ambiguous_request", "It can't be told who asks",
        "Authorization, Host, Origin, X-Tagline-Csrf and X-Forwarded-... may each be there "
        "once.");
  if (!request.host || request.host->empty())
    return problem(400, "no_host", "The request has no Host", "Say in Host whom it is for.");
  const std::string host = lower(*request.host);
  const std::string_view name = host_without_port(host);
  const bool known = is_address(name) || name == "localhost" ||
                     std::any_of(names.begin(), names.end(),
                                 [&](const std::string& one) { return lower(one) == name; });
  if (!known)
    return problem(421, "other_host", "This is not the service of that name",
                   "It was asked for as \"" + std::string(name) +
                       "\". If that is its name, start it with --host " + std::string(name) + ".");
  if (request.origin) {
    const std::string origin = lower(*request.origin);
    // A page that came without TLS may be anybody's, whatever its name.
    const bool own =
        origin == "https://" + host || (!request.over_tls && origin == "http://" + host);
    if (!own)
      return problem(403, "other_origin", "Pages of other sites may not ask here",
                     "The request comes from a page of \"" + origin + "\".");
  }
  return std::nullopt;
}

}  // namespace tagline::net
