// Stands before every route and socket: who asks, and may they? What no table allows is refused.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "server/access/book.hpp"
#include "server/net/clock.hpp"
#include "server/net/http_message.hpp"
#include "server/net/route_table.hpp"
#include "server/net/visitor.hpp"

namespace tagline::net {

/// On the network thread.
class Doorkeeper {
 public:
  /// With an open door everybody comes in with that role, and what they carry doesn't count. Both
  /// references must outlive it.
  Doorkeeper(access::Book& book, const ServiceClock& clock, std::optional<access::Role> open_door)
      : book_(book), clock_(clock), open_door_(open_door) {}

  /// Somebody came in. `visitor` is nothing for who isn't signed in, where that is no matter.
  struct Admitted {
    std::optional<Visitor> visitor{};
    /// Null for a file of the page.
    const Route* route{};
  };
  /// Somebody didn't. `visitor` and `route` are known if they were only told that they may not.
  struct Refusal {
    Response response{};
    std::optional<Visitor> visitor{};
    const Route* route{};
  };
  /// `method` is the request's, or SOCKET; `is_file`: there is a file of the page at that place,
  /// which everybody may have.
  std::variant<Admitted, Refusal> admit(const Request& request, std::string_view method,
                                        const std::vector<std::string>& pieces, bool is_file);

  /// Whether what they carry still holds. Who has a board open all day uses it all day: if it
  /// holds, it counts as used now.
  [[nodiscard]] bool may_stay(const Visitor& visitor);
  [[nodiscard]] bool open() const { return open_door_.has_value(); }

 private:
  [[nodiscard]] std::optional<Visitor> recognise(const Request& request) const;
  [[nodiscard]] std::optional<Visitor> by_token(std::string_view authorization) const;
  [[nodiscard]] std::optional<Visitor> by_cookie(const Request& request) const;

  access::Book& book_;
  const ServiceClock& clock_;
  std::optional<access::Role> open_door_;
};

/// 401 with how to get in; `setup`: while there is no account at all.
Response sign_in_first(bool setup);
/// 403, for a reason of action.hpp.
Response no_right(const Visitor& visitor, access::Action action, access::Refused why);

}  // namespace tagline::net
