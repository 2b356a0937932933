// See past_run.hpp.
#include "server/app/past_run.hpp"

#include <algorithm>

#include "server/floor/file.hpp"
#include "server/net/time_text.hpp"

namespace tagline::app {
namespace {

/// A copy is kept for every so much of the run, and for twice as much whenever there are too many:
/// a core of five carts takes some 100 KiB, one of a hundred some MiB.
constexpr Duration first_copy_every = std::chrono::minutes{5};
constexpr std::size_t most_copies = 32;
constexpr std::size_t most_alarms = 1'000;

}  // namespace

PastRun::PastRun(const store::Runs& runs, std::int64_t run)
    : runs_(runs), run_(run), copy_every_(first_copy_every) {
  const auto source = runs.source(run);
  if (!source) throw net::PastUnknown("There is no run " + std::to_string(run) + " (any more).");
  source_ = *source;
  auto loaded = floor::parse_floor(source_.floor_document);
  if (!std::holds_alternative<floor::Floor>(loaded))
    broken(
        "its floor can't be read; the journal is damaged, or of another version than this "
        "program");
  plant_ = std::make_unique<const Plant>(std::get<floor::Floor>(std::move(loaded)));
  try {
    read_ = replay::start_from(source_.start, plant_->ways);
    reader_ = std::make_unique<const replay::EventReader>(
        read_.layout, replay::limits_of(plant_->ways, read_.start.cart_names.size()));
    rerun_ = std::make_unique<replay::Rerun>(plant_->track, read_.start);
  } catch (const std::exception& error) {
    broken(std::string("what it began from can't be used: ") + error.what());
  }
  next_block_ = source_.first_block;
  alarms_until_ = rerun_->now();
  note_alarms();
  keep_copy(next_block_);
}

void PastRun::broken(const std::string& why) const {
  throw net::PastBroken("Run " + std::to_string(run_) + ": " + why + ".");
}

bool PastRun::go_to(Instant at, const net::Past::GiveUp& give_up) {
  if (breaks_ && at >= breaks_->first) broken(breaks_->second);
  if (at < rerun_->now()) go_back(at);
  for (;;) {
    while (next_entry_ < entries_.entries.size()) {
      const replay::Entry& entry = entries_.entries[next_entry_];
      if (entry.at > at) return true;
      if (give_up()) return false;
      feed(entry);
      ++next_entry_;
    }
    if (!read_more()) return true;
  }
}

void PastRun::go_back(Instant at) {
  std::size_t k = copies_.size() - 1;
  while (k > 0 && copies_[k].rerun->now() > at) --k;
  rerun_ = copies_[k].rerun->copy();
  next_block_ = copies_[k].next_block;
  fed_ = copies_[k].fed;
  block_.reset();
  entries_ = {};
  next_entry_ = 0;
  ahead_.clear();
}

bool PastRun::read_more() {
  if (ahead_.empty()) {
    // The last block is written again and again while it fills.
    for (store::KeptBlock& kept : runs_.blocks(source_, block_.value_or(next_block_))) {
      if (kept.block != block_) {
        ahead_.push_back(std::move(kept));
        continue;
      }
      replay::BlockRead again = read(kept);
      if (again.entries.size() < entries_.entries.size())
        broken("its events before " + net::time_text(rerun_->now()) + " have gone");
      entries_ = std::move(again);
    }
    if (next_entry_ < entries_.entries.size()) return true;
  }
  if (ahead_.empty()) return false;
  const store::KeptBlock next = std::move(ahead_.front());
  ahead_.pop_front();
  begin(next);
  return true;
}

void PastRun::begin(const store::KeptBlock& block) {
  if (block_ && !rerun_->block_ends(entries_.chain)) {
    breaks_ = {rerun_->now(), "one of its events before " + net::time_text(rerun_->now()) +
                                  " came out differently from what was written down"};
    go_back(began());
    broken(breaks_->second);
  }
  if (block.first != fed_ + 1)
    broken("its events " + std::to_string(fed_ + 1) + " to " + std::to_string(block.first - 1) +
           " are missing; it can be shown until " + net::time_text(rerun_->now()));
  keep_copy(block.block);
  entries_ = read(block);
  next_entry_ = 0;
  block_ = block.block;
}

replay::BlockRead PastRun::read(const store::KeptBlock& block) const {
  try {
    return replay::read_block(block.events, block.begins, *reader_);
  } catch (const replay::BadBytes& error) {
    broken("its events from " + net::time_text(block.begins) +
           " on can't be read: " + error.what());
  }
}

void PastRun::feed(const replay::Entry& entry) {
  const replay::Retold retold = rerun_->feed(entry);
  if (!retold.same || retold.broke) {
    breaks_ = {entry.at,
               retold.same ? "it ended at " + net::time_text(entry.at) + ", as the core broke"
                           : "from " + net::time_text(entry.at) +
                                 " on it comes out differently from what was written down; it was "
                                 "written by another version of the program, maybe"};
    go_back(began());
    broken(breaks_->second);
  }
  ++fed_;
  if (rerun_->now() < alarms_until_) return;
  alarms_until_ = rerun_->now();
  if (std::ranges::any_of(retold.outcome.changes, [](const control::Change& change) {
        return std::holds_alternative<control::AlarmsChanged>(change);
      }))
    note_alarms();
}

void PastRun::note_alarms() {
  // Numbers grow, and an alarm keeps its own for as long as it lasts.
  std::uint64_t latest = last_alarm_;
  for (const control::Alarm& alarm : core().alarms()) {
    if (alarm.id <= last_alarm_) continue;
    alarms_.push_back(alarm);
    latest = std::max(latest, alarm.id);
  }
  last_alarm_ = latest;
  while (alarms_.size() > most_alarms) alarms_.pop_front();
}

void PastRun::keep_copy(std::int64_t next_block) {
  if (!copies_.empty() && rerun_->now() < copies_.back().rerun->now() + copy_every_) return;
  copies_.push_back({rerun_->copy(), next_block, fed_});
  if (copies_.size() <= most_copies) return;
  copy_every_ *= 2;
  std::vector<Copy> kept;
  for (std::size_t k = 0; k < copies_.size(); k += 2) kept.push_back(std::move(copies_[k]));
  copies_ = std::move(kept);
}

}  // namespace tagline::app
