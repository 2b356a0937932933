// A prepared SQL statement that binds any of our types and is always left ready for its next use,
// also when it threw.
#pragma once

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "server/floor/units.hpp"

namespace tagline::store {

constexpr std::int64_t to_ms(Instant at) { return at.time_since_epoch().count(); }
constexpr Instant from_ms(std::int64_t ms) { return Instant{Duration{ms}}; }

/// Text that is no text but bytes.
struct Blob {
  std::string bytes;
};

class Prepared {
 public:
  Prepared(const SQLite::Database& database, const char* sql) : statement_(database, sql) {}

  /// Runs a statement that gives no rows; returns how many rows it changed.
  template <class... Values>
  int run(const Values&... values) {
    const Reset afterwards{statement_};
    bind_all(values...);
    return statement_.exec();
  }

  /// Calls `row(SQLite::Statement&)` for each row found; read columns with getColumn().
  template <class Row, class... Values>
  void each(Row&& row, const Values&... values) {
    const Reset afterwards{statement_};
    bind_all(values...);
    while (statement_.executeStep()) row(statement_);
  }

 private:
  struct Reset {
    SQLite::Statement& statement;
    ~Reset() { statement.tryReset(); }
  };

  template <class... Values>
  void bind_all(const Values&... values) {
    int at = 0;
    (bind(++at, values), ...);
  }
  void bind(int at, bool value) { statement_.bind(at, value ? 1 : 0); }
  void bind(int at, int value) { statement_.bind(at, value); }
  void bind(int at, std::int64_t value) { statement_.bind(at, value); }
  void bind(int at, std::uint64_t value) { statement_.bind(at, static_cast<std::int64_t>(value)); }
  void bind(int at, const std::string& value) { statement_.bind(at, value); }
  void bind(int at, std::string_view value) { statement_.bind(at, std::string(value)); }
  void bind(int at, const Blob& value) {
    statement_.bind(at, value.bytes.data(), static_cast<int>(value.bytes.size()));
  }
  void bind(int at, Instant value) { statement_.bind(at, to_ms(value)); }
  template <class Value>
  void bind(int at, const std::optional<Value>& value) {
    if (value) {
      bind(at, *value);
    } else {
      statement_.bind(at);
    }
  }

  SQLite::Statement statement_;
};

}  // namespace tagline::store
