// What a builder does about accounts and tokens, and a supervisor with the audit log.
#pragma once

#include "server/floor/floor.hpp"
#include "server/net/doorkeeper.hpp"
#include "server/net/registry.hpp"
#include "server/net/sign_in.hpp"

namespace tagline::net {

/// On the network thread.
class AccessAdmin {
 public:
  /// All must outlive it.
  AccessAdmin(Registry& registry, SignIn& sign_in, const floor::Floor& floor)
      : registry_(registry), sign_in_(sign_in), floor_(floor) {}

  // Of /api/accounts, /api/tokens and /api/audit; the doorkeeper has let the visitor in.
  void accounts(const Request& request, const Target& target, const Visitor& visitor,
                Respond respond);
  void tokens(const Request& request, const Target& target, Respond respond);
  void audit(const Target& target, const Respond& respond);

 private:
  void list_accounts(const Respond& respond) const;
  void add_account(const Request& request, const Respond& respond);
  void set_password(const Request& request, const std::string& name, const Visitor& visitor,
                    const Respond& respond);
  void list_tokens(const Respond& respond) const;
  void add_token(const Request& request, Respond respond);

  Registry& registry_;
  SignIn& sign_in_;
  const floor::Floor& floor_;
};

}  // namespace tagline::net
