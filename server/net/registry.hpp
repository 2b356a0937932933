// The book of who may come in, tied to the disk and to the audit log: what the account routes
// share.
#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "server/access/attempts.hpp"
#include "server/access/book.hpp"
#include "server/net/access_keeper.hpp"
#include "server/net/clock.hpp"
#include "server/net/http_message.hpp"
#include "server/net/password_thread.hpp"

namespace tagline::net {

/// How people come in, as whoever starts the service decides.
struct Entrance {
  /// Everybody is let in with this role. Only for an address that nobody else reaches.
  std::optional<access::Role> open_door{};
  /// What the store has.
  access::Known known{};
  /// With it a first builder is made (or, if somebody asked for a code, another one). Empty: not at
  /// all.
  std::string setup_code{};
  access::HashCost cost{access::usual_cost};
  std::vector<std::string> proxies{};
  /// The network speaks TLS, so nobody is let in without it, except carts where they may.
  bool tls{false};
  bool plain_carts{false};
};

/// On the network thread.
class Registry {
 public:
  struct Setup {
    AccessKeeper& keeper;
    const ServiceClock& clock;
    /// Runs a task on the network thread; called from others.
    std::function<void(std::function<void()>)> post;
    /// Somebody may have lost their way in.
    std::function<void()> changed;
  };
  Registry(Setup setup, const Entrance& entrance);

  access::Book book;
  access::Attempts attempts;
  PasswordThread passwords;

  /// Of names and passwords in a body, in bytes: a password's characters may have four each.
  static constexpr std::size_t longest_name = 40;
  static constexpr std::size_t longest_password = 4 * access::longest_password;

  /// The system's randomness.
  static access::RandomBytes random();
  static access::Salt new_salt();
  [[nodiscard]] Instant now() const { return setup_.clock.now(); }

  /// Answers when all that has changed in the book is on disk; 503 if it can't be.
  void commit(Respond respond, Response good);
  /// Writes what has changed by the way (who was seen when); nobody waits.
  void commit_behind();
  /// An entry of the audit log, of now. It is on disk a moment later.
  void note(std::string who, std::string_view what, const std::string& about,
            const Request& request, const Response& response);
  /// The latest entries; nothing if they can't be read. On the network thread.
  void read_audit(std::size_t limit, std::optional<std::uint64_t> before,
                  std::function<void(AccessKeeper::Entries)> done);

  /// 429, with how long to wait; unless it is known better, until the password thread has room.
  static Response too_often(std::chrono::seconds wait = std::chrono::seconds(2));

 private:
  Setup setup_;
};

}  // namespace tagline::net
