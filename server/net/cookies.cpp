// Reading and writing cookies.
#include "server/net/cookies.hpp"

namespace tagline::net {
namespace {

std::string full_name(const Request& request, std::string_view name) {
  return (request.over_tls ? "__Host-" : "") + std::string(name);
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

}  // namespace

std::optional<std::string> cookie_of(const Request& request, std::string_view name) {
  if (!request.cookie) return std::nullopt;
  const std::string wanted = full_name(request, name);
  std::optional<std::string> value;
  std::string_view rest = *request.cookie;
  while (!rest.empty()) {
    const std::size_t end = rest.find(';');
    const std::string_view pair = trimmed(rest.substr(0, end));
    rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
    const std::size_t equals = pair.find('=');
    if (equals == std::string_view::npos || trimmed(pair.substr(0, equals)) != wanted) continue;
    const std::string_view found = trimmed(pair.substr(equals + 1));
    if (value && *value != found) return std::nullopt;
    value = found;
  }
  return value;
}

std::pair<std::string, std::string> set_cookie(const Request& request, std::string_view name,
                                               std::string_view value, long long seconds) {
  return {"Set-Cookie", full_name(request, name) + "=" + std::string(value) +
                            "; Path=/; Max-Age=" + std::to_string(seconds) +
                            "; HttpOnly; SameSite=Strict" + (request.over_tls ? "; Secure" : "")};
}

}  // namespace tagline::net
