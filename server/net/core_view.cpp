// Snapshots of the core.
#include "server/net/core_view.hpp"

#include <algorithm>
#include <set>

namespace tagline::net {
namespace {

constexpr std::chrono::milliseconds round_time{500};
/// A few at a time, so that no read of a tag waits long; but about so many parts in a round at the
/// most.
constexpr std::size_t fewest_in_a_part = 3, most_parts = 100;
/// Looking ahead may take one part in so many of the time, and so long at a go; where a single job
/// takes longer, which keeps reads of tags waiting, it is done more seldom.
constexpr int share = 100, share_of_long_ones = 500;
constexpr std::chrono::microseconds at_a_go{100};

bool is_under_way(const control::Job& job) { return job.cart && !control::is_final(job.state); }

}  // namespace

void CoreView::look_ahead(const control::Job* first) {
  const auto begin = Steady::now();
  if (begin < look_ahead_due_) return;
  if (first != nullptr) {
    expect(*first);
  } else {
    if (to_look_ahead_.empty()) begin_to_look_ahead();
    while (!to_look_ahead_.empty() && Steady::now() - begin < at_a_go) {
      const control::Job* job = core_.job(to_look_ahead_.back());
      to_look_ahead_.pop_back();
      if (job != nullptr && is_under_way(*job)) expect(*job);
    }
  }
  const auto took = Steady::now() - begin;
  look_ahead_due_ = begin + took * (took > 2 * at_a_go ? share_of_long_ones : share);
}

void CoreView::begin_to_look_ahead() {
  for (const control::Job* job : core_.jobs()) {
    if (control::is_final(job->state)) break;  // open ones come first
    if (is_under_way(*job)) to_look_ahead_.push_back(job->id);
  }
  std::ranges::reverse(to_look_ahead_);
  std::erase_if(expected_, [&](const auto& one) {
    const control::Job* job = core_.job(one.first);
    return job == nullptr || !is_under_way(*job);
  });
}

void CoreView::expect(const control::Job& job) {
  if (const auto expected = core_.expected(job.id)) {
    expected_[job.id] = *expected;
  } else {
    expected_.erase(job.id);
  }
}

JobShown CoreView::view(const control::Job& job) {
  // What was expected may be older than what has become of the job.
  if (!is_under_way(job)) return view_of(core_, job, {});
  if (!expected_.contains(job.id)) look_ahead(&job);
  return view_of(core_, job, expected_);
}

Views CoreView::everything() { return view_of_everything(core_, station_count_, true); }

Views CoreView::after(const control::Event& event, const control::Outcome& outcome) {
  std::set<CartIx> carts;
  std::set<control::JobId> jobs;
  Views views;
  for (const control::Change& change : outcome.changes) {
    if (const auto* cart = std::get_if<control::CartChanged>(&change)) carts.insert(cart->cart);
    if (const auto* job = std::get_if<control::JobChanged>(&change)) jobs.insert(job->job);
    if (std::holds_alternative<control::AlarmsChanged>(change)) views.alarms = core_.alarms();
    if (std::holds_alternative<control::FleetChanged>(change))
      views.all_stopped = core_.all_stopped();
    if (std::holds_alternative<control::ServiceChanged>(change))
      views.closed = view_of_closed(core_);
  }
  // Whoever asked is shown the thing he asked about even when nothing changed.
  for (const control::Answer& answer : outcome.answers)
    if (const auto* taken = std::get_if<control::JobTaken>(&answer.what)) jobs.insert(taken->job);
  for (const control::Record& record : outcome.records)
    if (const auto* counted = std::get_if<control::StationRecord>(&record))
      view_loads(core_, counted->station, views);
  std::visit(
      [&](const auto& what) {
        using What = std::decay_t<decltype(what)>;
        if constexpr (requires {
                        what.request;
                        what.cart;
                      }) {
          if (what.cart.value < core_.cart_count()) carts.insert(what.cart);
        }
        if constexpr (std::is_same_v<What, control::AskCancelJob>) jobs.insert(what.job);
        if constexpr (std::is_same_v<What, control::AskStopAll> ||
                      std::is_same_v<What, control::AskReleaseAll>) {
          views.all_stopped = core_.all_stopped();
        }
      },
      event);
  for (const CartIx cart : carts) views.carts.push_back(view_of(core_, cart));
  for (const control::JobId id : jobs)
    if (const control::Job* job = core_.job(id)) views.jobs.push_back(view(*job));
  return views;
}

void CoreView::begin_round() {
  next_cart_ = 0;
  jobs_left_.clear();
  for (const control::Job* job : core_.jobs()) {
    if (control::is_final(job->state)) break;  // open ones come first
    jobs_left_.push_back(job->id);
  }
  std::ranges::reverse(jobs_left_);
  in_a_part_ = std::max(fewest_in_a_part, (core_.cart_count() + jobs_left_.size()) / most_parts);
  const auto parts = [this](std::size_t things) { return (things + in_a_part_ - 1) / in_a_part_; };
  parts_ = parts(core_.cart_count()) + parts(jobs_left_.size()) + 1;
}

Views CoreView::next_part() {
  look_ahead(nullptr);
  Views views;
  if (next_cart_ < core_.cart_count()) {
    if (next_cart_ == 0) begin_round();
    while (next_cart_ < core_.cart_count() && views.carts.size() < in_a_part_)
      views.carts.push_back(view_of(core_, CartIx{next_cart_++}));
  } else if (!jobs_left_.empty()) {
    for (std::size_t k = 0; k < in_a_part_ && !jobs_left_.empty(); ++k) {
      const control::Job* job = core_.job(jobs_left_.back());
      jobs_left_.pop_back();
      if (job != nullptr) views.jobs.push_back(view(*job));
    }
  } else {
    for (std::uint32_t k = 0; k < station_count_; ++k) view_loads(core_, StationIx{k}, views);
    views.alarms = core_.alarms();
    views.all_stopped = core_.all_stopped();
    views.closed = view_of_closed(core_);
    next_cart_ = 0;
  }
  return views;
}

CoreView::Steady::duration CoreView::pause() const {
  return Steady::duration(round_time) / static_cast<int>(parts_);
}

}  // namespace tagline::net
