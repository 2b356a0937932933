// Writes the rows that the figures over time are made of: sums of each quarter of an hour
// (server/figures/sums.hpp), and how often each tag was read or missed in it.
#pragma once

#include "server/control/outcome.hpp"
#include "server/figures/sums.hpp"
#include "server/store/names.hpp"
#include "server/store/prepared.hpp"

namespace tagline::store {

/// Each throws SQLite::Exception.
class FigureWriter {
 public:
  /// Both must outlive it.
  FigureWriter(const SQLite::Database& database, const Names& names);

  /// Adds to what is there.
  void add(const figures::Sums& sums);
  void count(Instant at, const control::Trace& trace);

 private:
  void count_tag(Instant at, PointIx point, bool read);

  const Names* names_;
  Prepared add_cart_, add_merge_, add_tag_;
};

}  // namespace tagline::store
