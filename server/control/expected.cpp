// When jobs will come about, from the plans of all carts: what a person who waits is told.
#include "server/control/state.hpp"
#include "server/traffic/forecast.hpp"

namespace tagline::control {
namespace {

bool can_tell(const CartState& c) {
  return c.connected && c.fault == Fault::none && !(c.waits && c.waits->closed);
}

}  // namespace

std::map<JobId, Expected> Core::expected() const {
  const State& s = *state_;
  std::map<JobId, Expected> found;
  const std::vector<traffic::Outlook> looks = s.outlooks();
  const traffic::Forecast forecast(s.guard, looks, s.now);
  for (std::uint32_t i = 0; i < s.carts.size(); ++i) {
    const CartIx cart{i};
    const CartState& c = s.carts[i];
    if (!c.job || !s.may_move(cart) || !can_tell(c) || s.guard.itinerary(cart) == nullptr) continue;
    const Job& job = s.jobs.at(*c.job);
    const std::size_t until = s.authority(cart);
    Expected expected;
    std::size_t stop = job.stops_done;
    for (std::size_t step = 0; step < c.path.size() && stop < job.stop_count(); ++step) {
      const Act act = c.path[step].act;
      if (act != Act::load && act != Act::unload) continue;
      // The first time the load is waited for; later stops of a job are part of its way.
      if (stop == 0 && step > 0) expected.pickup = forecast.arrives(cart, step);
      // Until it goes on from the end of its authority, its handling there is counted in `ready`.
      expected.delivery =
          step <= until ? looks[i].ready : forecast.arrives(cart, step) + looks[i].dwell_at(step);
      ++stop;
    }
    if (stop == job.stop_count()) found.emplace(*c.job, expected);
  }
  return found;
}

}  // namespace tagline::control
