// What is known of who may come in, and every change of it, and what people did: what the store
// keeps.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "server/access/role.hpp"
#include "server/access/secret.hpp"
#include "server/floor/units.hpp"

namespace tagline::access {

struct Account {
  std::string name;
  Role role{Role::viewer};
  /// password.hpp.
  std::string password_hash;
  Instant created;
  std::optional<Instant> last_seen{};
};

/// One browser in which a person is signed in. `key` is the digest of its cookie.
struct Session {
  Digest key;
  /// key_of() its account's name.
  std::string account;
  Instant began;
  Instant last_seen;
};

/// A program's or a call button's way in. `key` is the digest of what it carries.
struct Token {
  std::string id;
  std::string name;
  Scope scope{Role::viewer};
  Digest key;
  Instant created;
  Instant expires;
  std::optional<Instant> last_used{};
};

/// Something that a person or a token did, or tried to.
struct AuditEntry {
  /// Given by the store.
  std::uint64_t id{};
  Instant at;
  /// An account's name, "token:NAME", or "?": somebody who was not let in.
  std::string who;
  /// A word for what it was.
  std::string what;
  /// What it was done to; may be empty.
  std::string about;
  std::string from_address;
  /// "done", or "refused: " and the name of the problem.
  std::string outcome;
};

/// Somebody has seen an alarm that goes on. `cause` tells it from all others, also after a restart.
struct SeenAlarm {
  std::string cause;
  std::string who;
  Instant at;
};

// Each puts a thing in the place of the one with its name or key, or takes it away.
struct PutAccount {
  Account account;
};
/// Its sessions have ended before.
struct DropAccount {
  std::string name;
};
struct PutSession {
  Session session;
};
struct DropSession {
  Digest key;
};
struct PutToken {
  Token token;
};
struct DropToken {
  std::string id;
};
/// The service's own key for device passes.
struct PutDeviceKey {
  std::string key;
};
/// Who was first stays.
struct PutSeenAlarm {
  SeenAlarm seen;
};
/// The alarm has ended.
struct DropSeenAlarm {
  std::string cause;
};
using Change = std::variant<PutAccount, DropAccount, PutSession, DropSession, PutToken, DropToken,
                            PutDeviceKey, PutSeenAlarm, DropSeenAlarm, AuditEntry>;

/// Everything but the audit log.
struct Known {
  std::vector<Account> accounts{};
  std::vector<Session> sessions{};
  std::vector<Token> tokens{};
  /// Empty if there was none yet.
  std::string device_key{};
  std::vector<SeenAlarm> seen_alarms{};
};

}  // namespace tagline::access
