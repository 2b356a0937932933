// Who may come in, and the audit log: rows written and read. The caller opens and ends
// transactions.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "server/access/change.hpp"
#include "server/store/prepared.hpp"

namespace tagline::store {

class AccessWriter {
 public:
  explicit AccessWriter(const SQLite::Database& database);
  /// In order. Throws SQLite::Exception.
  void write(std::span<const access::Change> changes);

 private:
  void put(const access::PutAccount& put);
  void put(const access::DropAccount& drop);
  void put(const access::PutSession& put);
  void put(const access::DropSession& drop);
  void put(const access::PutToken& put);
  void put(const access::DropToken& drop);
  void put(const access::PutDeviceKey& put);
  void put(const access::PutSeenAlarm& put);
  void put(const access::DropSeenAlarm& drop);
  void put(const access::AuditEntry& entry);

  Prepared put_account_, drop_account_, put_session_, drop_session_, put_token_, drop_token_;
  Prepared put_device_key_, put_seen_alarm_, drop_seen_alarm_, add_audit_;
};

/// A row that no version of this program writes is left out: nobody gets in by it. Throws
/// SQLite::Exception.
access::Known load_known(const SQLite::Database& database);
std::vector<access::AuditEntry> load_audit(const SQLite::Database& database, std::size_t limit,
                                           std::optional<std::uint64_t> before);

}  // namespace tagline::store
