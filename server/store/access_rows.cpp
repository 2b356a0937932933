// See access_rows.hpp.
#include "server/store/access_rows.hpp"

#include <algorithm>
#include <cstring>
#include <limits>

#include "server/access/book.hpp"

namespace tagline::store {
namespace {

Blob blob_of(const access::Digest& digest) {
  return {std::string(digest.bytes.begin(), digest.bytes.end())};
}

std::optional<access::Digest> digest_of(const SQLite::Column& column) {
  access::Digest digest;
  if (column.getBytes() != static_cast<int>(digest.bytes.size())) return std::nullopt;
  std::memcpy(digest.bytes.data(), column.getBlob(), digest.bytes.size());
  return digest;
}

std::optional<Instant> moment_of(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return from_ms(column.getInt64());
}

}  // namespace

AccessWriter::AccessWriter(const SQLite::Database& database)
    : put_account_(database,
                   "INSERT INTO accounts (key, name, role, password_hash, created, last_seen) "
                   "VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (key) DO UPDATE SET name = ?2, "
                   "role = ?3, password_hash = ?4, created = ?5, last_seen = ?6"),
      drop_account_(database, "DELETE FROM accounts WHERE key = ?"),
      put_session_(database,
                   "INSERT INTO sessions (secret, account, began, last_seen) "
                   "VALUES (?1, ?2, ?3, ?4) ON CONFLICT (secret) DO UPDATE SET last_seen = ?4"),
      drop_session_(database, "DELETE FROM sessions WHERE secret = ?"),
      put_token_(database,
                 "INSERT INTO tokens (id, name, role, from_station, to_station, secret, created, "
                 "expires, last_used) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9) "
                 "ON CONFLICT (id) DO UPDATE SET last_used = ?9"),
      drop_token_(database, "DELETE FROM tokens WHERE id = ?"),
      put_device_key_(database,
                      "INSERT INTO device_key (one, key) VALUES (1, ?1) "
                      "ON CONFLICT (one) DO UPDATE SET key = ?1"),
      put_seen_alarm_(database,
                      "INSERT INTO seen_alarms (cause, who, at) VALUES (?, ?, ?) "
                      "ON CONFLICT (cause) DO NOTHING"),
      drop_seen_alarm_(database, "DELETE FROM seen_alarms WHERE cause = ?"),
      add_audit_(database,
                 "INSERT INTO audit (at, who, what, about, from_address, outcome) "
                 "VALUES (?, ?, ?, ?, ?, ?)") {}

void AccessWriter::write(std::span<const access::Change> changes) {
  for (const access::Change& change : changes)
    std::visit([this](const auto& one) { put(one); }, change);
}

void AccessWriter::put(const access::PutAccount& put) {
  const access::Account& account = put.account;
  put_account_.run(access::key_of(account.name), account.name, access::word(account.role),
                   account.password_hash, account.created, account.last_seen);
}

void AccessWriter::put(const access::DropAccount& drop) {
  drop_account_.run(access::key_of(drop.name));
}

void AccessWriter::put(const access::PutSession& put) {
  put_session_.run(blob_of(put.session.key), put.session.account, put.session.began,
                   put.session.last_seen);
}

void AccessWriter::put(const access::DropSession& drop) { drop_session_.run(blob_of(drop.key)); }

void AccessWriter::put(const access::PutToken& put) {
  const access::Token& token = put.token;
  std::optional<std::string> role, from, to;
  if (const auto* call = std::get_if<access::Call>(&token.scope)) {
    from = call->from;
    to = call->to;
  } else {
    role = std::string(access::word(std::get<access::Role>(token.scope)));
  }
  put_token_.run(token.id, token.name, role, from, to, blob_of(token.key), token.created,
                 token.expires, token.last_used);
}

void AccessWriter::put(const access::DropToken& drop) { drop_token_.run(drop.id); }

void AccessWriter::put(const access::PutDeviceKey& put) { put_device_key_.run(put.key); }

void AccessWriter::put(const access::PutSeenAlarm& put) {
  put_seen_alarm_.run(put.seen.cause, put.seen.who, put.seen.at);
}

void AccessWriter::put(const access::DropSeenAlarm& drop) { drop_seen_alarm_.run(drop.cause); }

void AccessWriter::put(const access::AuditEntry& entry) {
  add_audit_.run(entry.at, entry.who, entry.what, entry.about, entry.from_address, entry.outcome);
}

access::Known load_known(const SQLite::Database& database) {
  access::Known known;
  Prepared(database, "SELECT name, role, password_hash, created, last_seen FROM accounts")
      .each([&](SQLite::Statement& row) {
        const auto role = access::role_from(row.getColumn(1).getString());
        if (!role) return;
        known.accounts.push_back({row.getColumn(0).getString(), *role, row.getColumn(2).getString(),
                                  from_ms(row.getColumn(3).getInt64()),
                                  moment_of(row.getColumn(4))});
      });
  Prepared(database, "SELECT secret, account, began, last_seen FROM sessions")
      .each([&](SQLite::Statement& row) {
        const auto key = digest_of(row.getColumn(0));
        if (!key) return;
        known.sessions.push_back({*key, row.getColumn(1).getString(),
                                  from_ms(row.getColumn(2).getInt64()),
                                  from_ms(row.getColumn(3).getInt64())});
      });
  Prepared(database,
           "SELECT id, name, role, from_station, to_station, secret, created, expires, last_used "
           "FROM tokens")
      .each([&](SQLite::Statement& row) {
        const auto key = digest_of(row.getColumn(5));
        const auto role = access::role_from(row.getColumn(2).getString());
        const bool call =
            row.getColumn(2).isNull() && !row.getColumn(3).isNull() && !row.getColumn(4).isNull();
        if (!key || (!role && !call)) return;
        access::Scope scope =
            access::Call{row.getColumn(3).getString(), row.getColumn(4).getString()};
        if (role) scope = *role;
        known.tokens.push_back({row.getColumn(0).getString(), row.getColumn(1).getString(),
                                std::move(scope), *key, from_ms(row.getColumn(6).getInt64()),
                                from_ms(row.getColumn(7).getInt64()), moment_of(row.getColumn(8))});
      });
  Prepared(database, "SELECT key FROM device_key").each([&](SQLite::Statement& row) {
    known.device_key = row.getColumn(0).getString();
  });
  Prepared(database, "SELECT cause, who, at FROM seen_alarms").each([&](SQLite::Statement& row) {
    known.seen_alarms.push_back({row.getColumn(0).getString(), row.getColumn(1).getString(),
                                 from_ms(row.getColumn(2).getInt64())});
  });
  return known;
}

std::vector<access::AuditEntry> load_audit(const SQLite::Database& database, std::size_t limit,
                                           std::optional<std::uint64_t> before) {
  std::vector<access::AuditEntry> entries;
  constexpr auto any = static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max());
  Prepared(database,
           "SELECT id, at, who, what, about, from_address, outcome FROM audit "
           "WHERE id < ? ORDER BY id DESC LIMIT ?")
      .each(
          [&](SQLite::Statement& row) {
            entries.push_back({static_cast<std::uint64_t>(row.getColumn(0).getInt64()),
                               from_ms(row.getColumn(1).getInt64()), row.getColumn(2).getString(),
                               row.getColumn(3).getString(), row.getColumn(4).getString(),
                               row.getColumn(5).getString(), row.getColumn(6).getString()});
          },
          std::min(before.value_or(any), any), static_cast<std::int64_t>(limit));
  return entries;
}

}  // namespace tagline::store
