// A request and its answer as plain data, so that routes can be written and tested without the
// HTTP library.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace tagline::net {

struct Request {
  std::string method;  // "GET", "POST", ...
  std::string target;  // as sent: path and query, percent-encoded
  /// Where it comes from: an IP address; behind a proxy that is trusted, the one that the proxy
  /// tells (door.hpp).
  std::string address{};
  /// It came over TLS, as far as is known: to a proxy that is trusted.
  bool over_tls{false};
  // Header fields; nothing where the request has none.
  std::optional<std::string> host;
  std::optional<std::string> origin;
  std::optional<std::string> content_type;
  std::optional<std::string> accept_encoding;
  std::optional<std::string> if_none_match;
  std::optional<std::string> if_match{};
  std::optional<std::string> idempotency_key;
  /// All of the field's lines, joined by "; ".
  std::optional<std::string> cookie{};
  std::optional<std::string> authorization{};
  std::optional<std::string> csrf{};  // X-Tagline-Csrf
  std::optional<std::string> forwarded_for{}, forwarded_proto{};
  /// It has a field twice that says who asks: then nobody can tell.
  bool ambiguous{false};
  std::string body;
};

struct Response {
  int status{200};
  std::string content_type{"application/json"};
  std::vector<std::pair<std::string, std::string>> headers;
  std::shared_ptr<const std::string> body{std::make_shared<const std::string>()};
  // For the audit log only, not sent: the name of the problem, and what was made, if its name was
  // not known before.
  std::string problem{};
  std::string about{};
};

/// Called exactly once, at once or later, on the network thread.
using Respond = std::function<void(Response)>;

/// A path cut at its slashes and percent-decoded piece by piece ("/api/carts/a%2Fb" has three
/// pieces, the last "a/b"), and the parameters of the query.
struct Target {
  std::vector<std::string> pieces;
  std::vector<std::pair<std::string, std::string>> query;
  /// The first value of a parameter.
  [[nodiscard]] std::optional<std::string> parameter(std::string_view name) const;
};

/// Nothing if it isn't a path, has a broken percent code, or decodes to a control character or to
/// bytes that are no UTF-8.
std::optional<Target> parse_target(std::string_view target);

/// A whole number without sign, leading zeros or anything else round it.
std::optional<std::uint64_t> whole_number(std::string_view text);

/// Well-formed UTF-8 (RFC 3629: no overlong form, no surrogate).
bool is_utf8(std::string_view text);

/// One value of a body that is wrong: JSON pointer (RFC 6901) and what would be right.
struct BodyFinding {
  std::string pointer;
  std::string detail;
};

/// A problem body (RFC 9457). `name` is the last part of `type`, e.g. "not_found".
Response problem(int status, std::string_view name, std::string_view title, std::string_view detail,
                 const std::vector<BodyFinding>& errors = {});

Response json_response(int status, std::string body);
/// 204.
Response nothing_more();

// The problems that more than one place answers with.
Response not_found(std::string_view detail);
Response method_not_allowed(std::string_view method, std::string_view allow);
Response stopping();
Response store_failed();

}  // namespace tagline::net
