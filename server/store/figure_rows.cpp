// See figure_rows.hpp.
#include "server/store/figure_rows.hpp"

namespace tagline::store {

FigureWriter::FigureWriter(const SQLite::Database& database, const Names& names)
    : names_(&names),
      add_cart_(database,
                "INSERT INTO cart_quarters (quarter, cart, use, ms) VALUES (?1, ?2, ?3, ?4) "
                "ON CONFLICT (quarter, cart, use) DO UPDATE SET ms = ms + ?4"),
      add_merge_(database,
                 "INSERT INTO merge_quarters (quarter, point, waits, ms) VALUES (?1, ?2, ?3, ?4) "
                 "ON CONFLICT (quarter, point) DO UPDATE SET waits = waits + ?3, ms = ms + ?4"),
      add_tag_(
          database,
          "INSERT INTO tag_quarters (quarter, point, read, missed) VALUES (?1, ?2, ?3, ?4) "
          "ON CONFLICT (quarter, point) DO UPDATE SET read = read + ?3, missed = missed + ?4") {}

void FigureWriter::add(const figures::Sums& sums) {
  for (const figures::CartTime& one : sums.carts)
    add_cart_.run(one.quarter, names_->of(one.cart), figures::word(one.use),
                  static_cast<std::int64_t>(one.time.count()));
  for (const figures::MergeWait& one : sums.merges)
    add_merge_.run(one.quarter, names_->of(one.merge), one.waits,
                   static_cast<std::int64_t>(one.time.count()));
}

void FigureWriter::count(Instant at, const control::Trace& trace) {
  const auto* read = std::get_if<control::ReadTrace>(&trace);
  if (!read) return;
  count_tag(at, read->point, true);
  for (const PointIx missed : read->missed) count_tag(at, missed, false);
}

void FigureWriter::count_tag(Instant at, PointIx point, bool read) {
  add_tag_.run(figures::quarter_of(at), names_->of(point), read ? 1 : 0, read ? 0 : 1);
}

}  // namespace tagline::store
