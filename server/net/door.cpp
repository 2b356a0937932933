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

std::optional<Response> refuse_at_door(const Request& request, const HostNames& names) {
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
    if (origin != "http://" + host && origin != "https://" + host)
      return problem(403, "other_origin", "Pages of other sites may not ask here",
                     "The request comes from a page of \"" + origin + "\".");
  }
  return std::nullopt;
}

}  // namespace tagline::net
