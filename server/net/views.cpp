// See views.hpp.
#include "server/net/views.hpp"

namespace tagline::net {

CartShown view_of(const control::Core& core, CartIx cart) {
  return {core.cart(cart), core.why(cart)};
}

JobShown view_of(const control::Core& core, const control::Job& job, const AllExpected& expected) {
  JobShown shown{job, core.why(job.id)};
  if (const auto found = expected.find(job.id); found != expected.end()) {
    shown.expected = found->second;
  }
  return shown;
}

Views::Closed view_of_closed(const control::Core& core) {
  return {core.downtimes(), core.stopped_zones()};
}

void view_loads(const control::Core& core, StationIx station, Views& into) {
  if (const auto loads = core.loads_at(station)) into.stations.push_back({station, *loads});
}

Views view_of_everything(const control::Core& core, std::size_t station_count,
                         bool ended_jobs_too) {
  Views views;
  for (std::uint32_t k = 0; k < core.cart_count(); ++k)
    views.carts.push_back(view_of(core, CartIx{k}));
  const AllExpected expected = core.expected();
  for (const control::Job* job : core.jobs()) {
    if (!ended_jobs_too && control::is_final(job->state)) break;  // open ones come first
    views.jobs.push_back(view_of(core, *job, expected));
  }
  for (std::uint32_t k = 0; k < station_count; ++k) view_loads(core, StationIx{k}, views);
  views.alarms = core.alarms();
  views.all_stopped = core.all_stopped();
  views.closed = view_of_closed(core);
  return views;
}

}  // namespace tagline::net
