// The two cookies (RFC 6265): the session, and what a browser is known again by.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "server/net/http_message.hpp"

namespace tagline::net {

inline constexpr std::string_view session_cookie = "tagline-session";
inline constexpr std::string_view device_cookie = "tagline-device";

/// The value that came with a request. Nothing if there is none, or two that differ: somebody else
/// has then slipped one in, and it can't be told which. Over TLS only the name with "__Host-"
/// counts (RFC 6265bis, 4.1.3.2): no other host and no page without TLS can have set that one.
std::optional<std::string> cookie_of(const Request& request, std::string_view name);

/// A Set-Cookie field: not for scripts (HttpOnly), not with another site's requests
/// (SameSite=Strict), and over TLS only over TLS (Secure). `seconds` 0 has the browser forget it.
std::pair<std::string, std::string> set_cookie(const Request& request, std::string_view name,
                                               std::string_view value, long long seconds);

}  // namespace tagline::net
