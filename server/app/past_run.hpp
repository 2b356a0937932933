// One run of the service, worked out again and held at a moment that can be moved: onward at the
// cost of what happened in between, back from the nearest of some copies that are kept on the way.
#pragma once

#include <deque>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "server/app/inputs.hpp"
#include "server/net/past.hpp"
#include "server/replay/rerun.hpp"
#include "server/store/runs.hpp"

namespace tagline::app {

class PastRun {
 public:
  /// `runs` must outlive it. Throws net::PastUnknown or net::PastBroken.
  PastRun(const store::Runs& runs, std::int64_t run);

  /// Goes to how things stood at `at`, not before the run's beginning; after the last event kept,
  /// to that. False: given up on the way; what was done is kept. Throws net::PastBroken if it can't
  /// be worked out so far.
  bool go_to(Instant at, const net::Past::GiveUp& give_up);

  [[nodiscard]] std::int64_t run() const { return run_; }
  [[nodiscard]] Instant began() const { return read_.start.now; }
  /// Of the event fed last.
  [[nodiscard]] Instant now() const { return rerun_->now(); }
  [[nodiscard]] const control::Core& core() const { return rerun_->core(); }
  [[nodiscard]] const floor::Track& track() const { return plant_->track; }
  [[nodiscard]] const std::vector<std::string>& cart_names() const {
    return read_.start.cart_names;
  }
  /// Every alarm from when it was raised first, the latest last, as far as the run has been gone
  /// through; not more than the latest thousand.
  [[nodiscard]] const std::deque<control::Alarm>& alarms() const { return alarms_; }
  [[nodiscard]] Instant alarms_until() const { return alarms_until_; }

 private:
  /// At the beginning of a block, so that nothing of a block is missing in its check sum.
  struct Copy {
    std::unique_ptr<replay::Rerun> rerun;
    std::int64_t next_block;
    std::uint64_t fed;
  };
  [[noreturn]] void broken(const std::string& why) const;
  void go_back(Instant at);
  /// Reads on. False: nothing more is kept.
  bool read_more();
  void begin(const store::KeptBlock& block);
  [[nodiscard]] replay::BlockRead read(const store::KeptBlock& block) const;
  void feed(const replay::Entry& entry);
  void note_alarms();
  void keep_copy(std::int64_t next_block);

  const store::Runs& runs_;
  std::int64_t run_;
  store::Runs::Source source_;
  std::unique_ptr<const Plant> plant_;
  replay::StartRead read_;
  std::unique_ptr<const replay::EventReader> reader_;

  std::unique_ptr<replay::Rerun> rerun_;
  std::uint64_t fed_{0};
  /// The block being fed, which may have grown since it was read; nothing before the first.
  std::optional<std::int64_t> block_;
  std::int64_t next_block_{};
  replay::BlockRead entries_;
  std::size_t next_entry_{0};
  std::deque<store::KeptBlock> ahead_;
  /// From here on it can't be worked out, and why.
  std::optional<std::pair<Instant, std::string>> breaks_;

  std::vector<Copy> copies_;  // by moment; the first is the start
  Duration copy_every_;
  std::deque<control::Alarm> alarms_;
  std::uint64_t last_alarm_{0};
  Instant alarms_until_;
};

}  // namespace tagline::app
