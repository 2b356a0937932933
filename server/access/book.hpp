// The book of who may come in: accounts, the browsers they are signed in from, and tokens. It is
// told the time and given secrets ready made; what it changes is taken from it and stored.
#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/access/change.hpp"

namespace tagline::access {

/// A name as it is compared: ASCII capitals don't count, since phones write them unasked.
std::string key_of(std::string_view name);

/// What is wrong with an account's or token's name, as a sentence; nothing if it will do. It is
/// well-formed UTF-8 without control characters already.
std::optional<std::string> fault_of_name(std::string_view name);

class Book {
 public:
  /// Who works with it every week signs in once a month; a phone that was lost is out within a week
  /// (or at once, if its owner changes the password). OWASP asks for hours where money is at stake
  /// (from memory); here a person with wet hands stands before a bin.
  static constexpr Duration idle_time = std::chrono::days(7),
                            longest_session = std::chrono::days(30);
  /// When somebody was last seen is written no more often than this.
  static constexpr Duration seen_every = std::chrono::minutes(10);
  static constexpr std::size_t most_accounts = 500, most_tokens = 500;
  /// Of one account; then the one not used for longest ends.
  static constexpr std::size_t most_sessions = 50;
  static constexpr std::string_view reserved_name = "demo";

  enum class Refused { nothing, unknown, taken, last_builder, too_many };

  explicit Book(Known known);

  // ---- accounts; the pointers and references hold until the next change
  [[nodiscard]] const Account* account(std::string_view name) const;
  [[nodiscard]] bool has_accounts() const { return !accounts_.empty(); }
  /// By name.
  [[nodiscard]] std::vector<const Account*> accounts() const;
  Refused add_account(std::string name, Role role, std::string password_hash, Instant now);
  /// The last builder stays one: else nobody could let anybody in any more.
  Refused set_role(std::string_view name, Role role);
  /// All its sessions end.
  Refused set_password(std::string_view name, std::string password_hash);
  /// Its sessions end.
  Refused remove_account(std::string_view name);

  // ---- sessions
  /// `account` exists.
  void open_session(std::string_view account, const Digest& key, Instant now);
  /// The account that is signed in with it; null if none, or it has expired.
  [[nodiscard]] const Account* signed_in(const Digest& key, Instant now) const;
  void end_session(const Digest& key);

  // ---- tokens
  /// `token.id` and `token.key` are new ones.
  Refused add_token(Token token);
  Refused revoke_token(std::string_view id);
  /// Null if there is none, or it has expired.
  [[nodiscard]] const Token* token(const Digest& key, Instant now) const;
  /// By moment of creation.
  [[nodiscard]] std::vector<const Token*> tokens() const;

  /// Somebody used a session or token that holds.
  void seen(const Digest& key, Instant now);
  /// Takes out what has expired.
  void tidy(Instant now);

  /// The service's own key for device passes; made of these bytes if there was none.
  const std::string& device_key(const RandomBytes& random);

  /// What has changed since the last call, in order.
  [[nodiscard]] std::vector<Change> take_changes();

 private:
  [[nodiscard]] static bool holds(const Session& session, Instant now);
  [[nodiscard]] bool is_last_builder(const Account& account) const;
  void end_sessions_of(const std::string& account);

  std::map<std::string, Account, std::less<>> accounts_;  // by key_of()
  std::map<Digest, Session> sessions_;
  std::map<Digest, Token> tokens_;
  std::string device_key_;
  std::vector<Change> changes_;
};

}  // namespace tagline::access
