// Who asks, and whether they may.
#include "server/net/doorkeeper.hpp"

#include "server/net/cookies.hpp"

namespace tagline::net {
namespace {

using access::Refused;
using access::Role;

constexpr std::string_view bearer = "bearer ";

/// RFC 6750, 2.1; the scheme's case doesn't matter (RFC 9110, 11.1).
std::optional<std::string_view> bearer_token(std::string_view authorization) {
  if (authorization.size() <= bearer.size()) return std::nullopt;
  if (access::key_of(authorization.substr(0, bearer.size())) != bearer) return std::nullopt;
  return authorization.substr(bearer.size());
}

Response unsafe_change(std::string_view detail) {
  return problem(403, "csrf", "It isn't sure that the page of this service asks", detail);
}

/// Another site's page could have a browser send the cookie along, but neither knows the session's
/// own word nor can say that it is this service's page.
std::optional<Response> refuse_forged(const Request& request, const Visitor& visitor, bool socket) {
  if (!request.origin)
    return unsafe_change("What is asked with a session's cookie must have an Origin.");
  if (socket) return std::nullopt;  // a browser can send no field of its own with an upgrade
  if (!request.csrf || !access::same(*request.csrf, visitor.csrf))
    return unsafe_change(
        "Send the csrf of /api/me along in X-Tagline-Csrf; if it was, read it again.");
  return std::nullopt;
}

}  // namespace

Response sign_in_first(bool setup) {
  Response response = problem(
      401, "sign_in", "Nobody is signed in",
      setup ? "There is no account yet: set the service up with the code on its console."
            : "Sign in, or send Authorization: Bearer with a token. A session may have ended.");
  std::string body = *response.body;
  body.insert(body.size() - 1, setup ? ",\"setup\":true" : ",\"setup\":false");
  response.body = std::make_shared<const std::string>(std::move(body));
  // RFC 9110, 11.6.1: a 401 names a way in.
  response.headers.emplace_back("WWW-Authenticate", "Bearer realm=\"tagline\"");
  return response;
}

Response no_right(const Visitor& visitor, access::Action action, Refused why) {
  std::string detail;
  switch (why) {
    case Refused::only_calls:
      detail = "This token can do nothing but POST /api/call.";
      break;
    case Refused::call_only:
      detail = "Only a token that was made for one call can do this.";
      break;
    case Refused::persons_only:
      detail = "A token can't do this; a person must sign in.";
      break;
    case Refused::role_too_low:
    case Refused::nothing:
      detail = "It takes a " + std::string(access::word(access::right_to(action).least)) +
               ", and " + visitor.name + " is a " +
               std::string(access::word(std::get<Role>(visitor.scope))) + ".";
      break;
  }
  return problem(403, "no_right", "You may not do this", detail);
}

std::optional<Visitor> Doorkeeper::by_token(std::string_view authorization) const {
  const auto secret = bearer_token(authorization);
  if (!secret) return std::nullopt;
  const access::Digest key = access::sha256(*secret);
  const access::Token* token = book_.token(key, clock_.now());
  if (!token) return std::nullopt;
  return Visitor{Visitor::By::token, "token:" + token->name, token->scope, key, {}};
}

std::optional<Visitor> Doorkeeper::by_cookie(const Request& request) const {
  const auto secret = cookie_of(request, session_cookie);
  if (!secret || secret->empty()) return std::nullopt;
  const access::Digest key = access::sha256(*secret);
  const access::Account* account = book_.signed_in(key, clock_.now());
  if (!account) return std::nullopt;
  return Visitor{Visitor::By::session, account->name, account->role, key, access::csrf_of(*secret)};
}

std::optional<Visitor> Doorkeeper::recognise(const Request& request) const {
  if (open_door_)
    return Visitor{
        Visitor::By::open_door, std::string(access::Book::reserved_name), *open_door_, {}, {}};
  // One who shows a token that doesn't hold isn't let in by a cookie instead: that would do
  // something else than was asked.
  if (request.authorization) return by_token(*request.authorization);
  return by_cookie(request);
}

std::variant<Doorkeeper::Admitted, Doorkeeper::Refusal> Doorkeeper::admit(
    const Request& request, std::string_view method, const std::vector<std::string>& pieces,
    bool is_file) {
  if (open_door_ && request.forwarded_for)
    return Refusal{problem(403, "open_door", "This door is open to this machine only",
                           "The service was started with --open-door, which is not for use behind "
                           "a proxy."),
                   std::nullopt, nullptr};
  const Route* route = find_route(method, pieces);
  const auto visitor = recognise(request);
  const bool reads = method == "GET" || method == "HEAD";
  if ((route && !route->action) || (is_file && reads)) return Admitted{visitor, route};
  if (!visitor) return Refusal{sign_in_first(!book_.has_accounts()), std::nullopt, route};
  if (!route) {
    if (const std::string methods = methods_at(pieces); !methods.empty())
      return Refusal{method_not_allowed(method, methods), visitor, nullptr};
    return Refusal{
        not_found("The board is at /, the interface under /api: server/net/API.md has "
                  "every place. WebSockets are at /cart for carts and /live for boards."),
        visitor, nullptr};
  }
  const Refused why = access::refuse(visitor->scope, visitor->is_person(), *route->action);
  if (why != Refused::nothing)
    return Refusal{no_right(*visitor, *route->action, why), visitor, route};
  if (visitor->by == Visitor::By::session && !reads)
    if (auto forged = refuse_forged(request, *visitor, method == "SOCKET"))
      return Refusal{std::move(*forged), visitor, route};
  book_.seen(visitor->key, clock_.now());
  return Admitted{visitor, route};
}

bool Doorkeeper::may_stay(const Visitor& visitor) {
  if (visitor.by == Visitor::By::open_door) return true;
  const Instant now = clock_.now();
  const bool holds = visitor.by == Visitor::By::session
                         ? book_.signed_in(visitor.key, now) != nullptr
                         : book_.token(visitor.key, now) != nullptr;
  if (holds) book_.seen(visitor.key, now);
  return holds;
}

}  // namespace tagline::net
