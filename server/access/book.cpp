// The rules of the book.
#include "server/access/book.hpp"

#include <algorithm>
#include <utility>

namespace tagline::access {
namespace {

constexpr std::size_t longest_name = 40;

}  // namespace

std::string key_of(std::string_view name) {
  std::string key(name);
  for (char& c : key)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return key;
}

std::optional<std::string> fault_of_name(std::string_view name) {
  if (name.empty() || name.size() > longest_name)
    return "It must have 1 to " + std::to_string(longest_name) + " bytes.";
  if (name.front() == ' ' || name.back() == ' ') return "It must not begin or end with a blank.";
  if (name.find_first_of(":/?") != std::string_view::npos)
    return "It must not have :, / or ? in it.";
  if (name == "." || name == ".." || key_of(name) == Book::reserved_name)
    return "This name is kept for something else; choose another.";
  return std::nullopt;
}

Book::Book(Known known) : device_key_(std::move(known.device_key)) {
  for (Account& account : known.accounts) {
    std::string key = key_of(account.name);
    accounts_.emplace(std::move(key), std::move(account));
  }
  for (Session& session : known.sessions)
    if (accounts_.contains(session.account)) sessions_.emplace(session.key, std::move(session));
  for (Token& token : known.tokens) tokens_.emplace(token.key, std::move(token));
}

// ---- accounts --------------------------------------------------------------------------------

const Account* Book::account(std::string_view name) const {
  const auto found = accounts_.find(key_of(name));
  return found == accounts_.end() ? nullptr : &found->second;
}

std::vector<const Account*> Book::accounts() const {
  std::vector<const Account*> all;
  for (const auto& [key, account] : accounts_) all.push_back(&account);
  return all;
}

Book::Refused Book::add_account(std::string name, Role role, std::string password_hash,
                                Instant now) {
  if (accounts_.size() >= most_accounts) return Refused::too_many;
  std::string key = key_of(name);
  const auto [place, added] = accounts_.try_emplace(
      std::move(key), Account{std::move(name), role, std::move(password_hash), now, std::nullopt});
  if (!added) return Refused::taken;
  changes_.emplace_back(PutAccount{place->second});
  return Refused::nothing;
}

bool Book::is_last_builder(const Account& account) const {
  return account.role == Role::builder &&
         std::count_if(accounts_.begin(), accounts_.end(),
                       [](const auto& one) { return one.second.role == Role::builder; }) == 1;
}

Book::Refused Book::set_role(std::string_view name, Role role) {
  const auto found = accounts_.find(key_of(name));
  if (found == accounts_.end()) return Refused::unknown;
  if (role != Role::builder && is_last_builder(found->second)) return Refused::last_builder;
  found->second.role = role;
  changes_.emplace_back(PutAccount{found->second});
  return Refused::nothing;
}

Book::Refused Book::set_password(std::string_view name, std::string password_hash) {
  const auto found = accounts_.find(key_of(name));
  if (found == accounts_.end()) return Refused::unknown;
  found->second.password_hash = std::move(password_hash);
  changes_.emplace_back(PutAccount{found->second});
  end_sessions_of(found->first);
  return Refused::nothing;
}

Book::Refused Book::remove_account(std::string_view name) {
  const auto found = accounts_.find(key_of(name));
  if (found == accounts_.end()) return Refused::unknown;
  if (is_last_builder(found->second)) return Refused::last_builder;
  end_sessions_of(found->first);
  changes_.emplace_back(DropAccount{found->second.name});
  accounts_.erase(found);
  return Refused::nothing;
}

// ---- sessions --------------------------------------------------------------------------------

bool Book::holds(const Session& session, Instant now) {
  return now - session.last_seen < idle_time && now - session.began < longest_session;
}

void Book::open_session(std::string_view account, const Digest& key, Instant now) {
  const auto owner = accounts_.find(key_of(account));
  if (owner == accounts_.end()) return;
  std::vector<const Session*> own;
  for (const auto& [digest, session] : sessions_)
    if (session.account == owner->first) own.push_back(&session);
  if (own.size() >= most_sessions) {
    const auto oldest = std::min_element(own.begin(), own.end(), [](const auto* a, const auto* b) {
      return a->last_seen < b->last_seen;
    });
    end_session(Digest((*oldest)->key));
  }
  const Session session{key, owner->first, now, now};
  sessions_.insert_or_assign(key, session);
  changes_.emplace_back(PutSession{session});
  owner->second.last_seen = now;
  changes_.emplace_back(PutAccount{owner->second});
}

const Account* Book::signed_in(const Digest& key, Instant now) const {
  const auto found = sessions_.find(key);
  if (found == sessions_.end() || !holds(found->second, now)) return nullptr;
  const auto owner = accounts_.find(found->second.account);
  return owner == accounts_.end() ? nullptr : &owner->second;
}

void Book::end_session(const Digest& key) {
  if (sessions_.erase(key) > 0) changes_.emplace_back(DropSession{key});
}

void Book::end_sessions_of(const std::string& account) {
  std::vector<Digest> own;
  for (const auto& [key, session] : sessions_)
    if (session.account == account) own.push_back(key);
  for (const Digest& key : own) end_session(key);
}

// ---- tokens ----------------------------------------------------------------------------------

Book::Refused Book::add_token(Token token) {
  if (tokens_.size() >= most_tokens) return Refused::too_many;
  for (const auto& [key, other] : tokens_)
    if (key_of(other.name) == key_of(token.name) || other.id == token.id) return Refused::taken;
  changes_.emplace_back(PutToken{token});
  const Digest key = token.key;
  tokens_.emplace(key, std::move(token));
  return Refused::nothing;
}

Book::Refused Book::revoke_token(std::string_view id) {
  const auto found = std::find_if(tokens_.begin(), tokens_.end(),
                                  [&](const auto& one) { return one.second.id == id; });
  if (found == tokens_.end()) return Refused::unknown;
  changes_.emplace_back(DropToken{found->second.id});
  tokens_.erase(found);
  return Refused::nothing;
}

const Token* Book::token(const Digest& key, Instant now) const {
  const auto found = tokens_.find(key);
  if (found == tokens_.end() || now >= found->second.expires) return nullptr;
  return &found->second;
}

std::vector<const Token*> Book::tokens() const {
  std::vector<const Token*> all;
  for (const auto& [key, token] : tokens_) all.push_back(&token);
  std::sort(all.begin(), all.end(), [](const auto* a, const auto* b) {
    return std::pair(a->created, a->id) < std::pair(b->created, b->id);
  });
  return all;
}

// ---- time ------------------------------------------------------------------------------------

void Book::seen(const Digest& key, Instant now) {
  if (const auto found = sessions_.find(key); found != sessions_.end()) {
    Session& session = found->second;
    if (now - session.last_seen < seen_every) return;
    session.last_seen = now;
    changes_.emplace_back(PutSession{session});
    const auto owner = accounts_.find(session.account);
    if (owner == accounts_.end()) return;
    owner->second.last_seen = now;
    changes_.emplace_back(PutAccount{owner->second});
  } else if (const auto token = tokens_.find(key); token != tokens_.end()) {
    Token& used = token->second;
    if (used.last_used && now - *used.last_used < seen_every) return;
    used.last_used = now;
    changes_.emplace_back(PutToken{used});
  }
}

void Book::tidy(Instant now) {
  std::vector<Digest> over;
  for (const auto& [key, session] : sessions_)
    if (!holds(session, now)) over.push_back(key);
  for (const Digest& key : over) end_session(key);
  std::vector<std::string> expired;
  for (const auto& [key, token] : tokens_)
    if (now >= token.expires) expired.push_back(token.id);
  for (const std::string& id : expired) revoke_token(id);
}

const std::string& Book::device_key(const RandomBytes& random) {
  if (device_key_.empty()) {
    device_key_ = base64url(random);
    changes_.emplace_back(PutDeviceKey{device_key_});
  }
  return device_key_;
}

std::vector<Change> Book::take_changes() { return std::exchange(changes_, {}); }

}  // namespace tagline::access
