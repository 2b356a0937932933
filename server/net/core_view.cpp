// Snapshots of the core.
#include "server/net/core_view.hpp"

#include <algorithm>
#include <set>

namespace tagline::net {
namespace {

constexpr std::chrono::milliseconds round_time{500};
constexpr std::size_t things_in_a_part = 8;
/// The forecast of all carts may take one part in so many of the time.
constexpr int forecast_share = 500;

}  // namespace

const CoreView::AllExpected& CoreView::expected() {
  const auto begin = Steady::now();
  if (begin < expected_due_) return expected_;
  expected_ = core_.expected();
  const auto end = Steady::now();
  expected_due_ = end + forecast_share * (end - begin);
  return expected_;
}

JobShown CoreView::view(const control::Job& job) {
  JobShown shown{job, core_.why(job.id)};
  // What was expected may be older than what has become of the job.
  if (!job.cart || control::is_final(job.state)) return shown;
  const AllExpected& all = expected();
  if (const auto found = all.find(job.id); found != all.end()) shown.expected = found->second;
  return shown;
}

void CoreView::view_loads(StationIx station, Views& into) const {
  if (const auto loads = core_.loads_at(station)) into.stations.push_back({station, *loads});
}

void CoreView::view_rest(Views& into) const {
  for (std::uint32_t k = 0; k < station_count_; ++k) view_loads(StationIx{k}, into);
  into.alarms = core_.alarms();
  into.all_stopped = core_.all_stopped();
  into.closed = {core_.downtimes(), core_.stopped_zones()};
}

Views CoreView::everything() {
  Views views;
  for (std::uint32_t k = 0; k < core_.cart_count(); ++k) views.carts.push_back(view(CartIx{k}));
  for (const control::Job* job : core_.jobs()) views.jobs.push_back(view(*job));
  view_rest(views);
  return views;
}

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
      views.closed = {core_.downtimes(), core_.stopped_zones()};
  }
  // Whoever asked is shown the thing he asked about even when nothing changed.
  for (const control::Answer& answer : outcome.answers)
    if (const auto* taken = std::get_if<control::JobTaken>(&answer.what)) jobs.insert(taken->job);
  for (const control::Record& record : outcome.records)
    if (const auto* counted = std::get_if<control::StationRecord>(&record))
      view_loads(counted->station, views);
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
  for (const CartIx cart : carts) views.carts.push_back(view(cart));
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
  const auto parts = [](std::size_t things) {
    return (things + things_in_a_part - 1) / things_in_a_part;
  };
  parts_ = parts(core_.cart_count()) + parts(jobs_left_.size()) + 1;
}

Views CoreView::next_part() {
  Views views;
  if (next_cart_ < core_.cart_count()) {
    if (next_cart_ == 0) begin_round();
    while (next_cart_ < core_.cart_count() && views.carts.size() < things_in_a_part)
      views.carts.push_back(view(CartIx{next_cart_++}));
  } else if (!jobs_left_.empty()) {
    for (std::size_t k = 0; k < things_in_a_part && !jobs_left_.empty(); ++k) {
      const control::Job* job = core_.job(jobs_left_.back());
      jobs_left_.pop_back();
      if (job != nullptr) views.jobs.push_back(view(*job));
    }
  } else {
    view_rest(views);
    next_cart_ = 0;
  }
  return views;
}

CoreView::Steady::duration CoreView::pause() const {
  return Steady::duration(round_time) / static_cast<int>(parts_);
}

}  // namespace tagline::net
