// Coming and going: who am I, the first account, signing in and out, and one's own password.
#pragma once

#include <optional>
#include <string>

#include "server/net/doorkeeper.hpp"
#include "server/net/registry.hpp"

namespace tagline::net {

/// On the network thread.
class SignIn {
 public:
  /// Both must outlive it. `setup_code` may be empty: nobody can set anything up.
  SignIn(Registry& registry, const Doorkeeper& doorkeeper, std::string setup_code)
      : registry_(registry), doorkeeper_(doorkeeper), setup_code_(std::move(setup_code)) {}

  /// GET /api/me.
  void me(const std::optional<Visitor>& visitor, const Respond& respond) const;
  /// POST /api/setup.
  void set_up(const Request& request, const Respond& respond);
  /// POST /api/sign-in.
  void sign_in(const Request& request, const Respond& respond);
  /// POST /api/sign-out.
  void sign_out(const Request& request, const Visitor& visitor, Respond respond);
  /// POST /api/accounts/{name}/password of the visitor's own account, who is signed in.
  void change_password(const Request& request, const Visitor& visitor, const Respond& respond);

 private:
  /// Opens a session and answers with its cookies and who it is.
  void welcome(int status, const std::string& account, const Request& request, Respond respond);
  [[nodiscard]] access::Attempts::Try try_of(const Request& request, const std::string& name);

  Registry& registry_;
  const Doorkeeper& doorkeeper_;
  std::string setup_code_;
};

}  // namespace tagline::net
