// Records and traces into rows. The caller opens and ends the transaction.
#pragma once

#include <span>

#include "server/store/names.hpp"
#include "server/store/prepared.hpp"
#include "server/store/store.hpp"

namespace tagline::store {

/// An idempotency key is kept until this long after its job ended; an ended job is given back by
/// Store::load as long.
inline constexpr Duration memory_of_ended_jobs{24LL * 60 * 60 * 1000};

/// Every statement that writes, prepared once. Keeps references to both arguments.
class Writer {
 public:
  Writer(const SQLite::Database& database, const Names& names);

  /// Writes every batch, and moves the latest moment and the last job's number forward.
  /// Throws SQLite::Exception.
  void write(Instant now, std::span<const Batch> batches);

 private:
  void put(Instant now, const control::JobRecord& record);
  void put(Instant now, const control::PathRecord& record);
  void put(Instant now, const control::CartRecord& record);
  void put(Instant now, const control::FleetRecord& record);
  void put(Instant now, const control::StationRecord& record);
  void put(Instant now, const control::DowntimeRecord& record);
  void put(Instant now, const control::ZoneRecord& record);
  void trace(Instant at, const control::ReadTrace& read);
  void trace(Instant at, const control::UnknownTagTrace& unknown);

  const Names* names_;
  std::uint64_t highest_job_{0};  // of the present call
  Prepared advance_, set_all_stopped_;
  Prepared forget_key_, find_job_, put_job_, add_job_event_;
  Prepared delete_path_, put_path_, put_passed_, move_passed_;
  Prepared put_cart_, put_loads_;
  Prepared put_downtime_, end_downtime_, stop_zone_, release_zone_;
  Prepared add_read_, count_missed_, count_unknown_;
};

}  // namespace tagline::store
