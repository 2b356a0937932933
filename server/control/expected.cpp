// When jobs will come about, from the plans of all carts: what a person who waits is told.
#include <algorithm>

#include "server/control/state.hpp"
#include "server/traffic/forecast.hpp"

namespace tagline::control {
namespace {

bool can_tell(const CartState& c) {
  return c.connected && c.fault == Fault::none && !(c.waits && c.waits->closed);
}

}  // namespace

std::optional<Expected> Core::State::expected(CartIx cart,
                                              const std::vector<traffic::Outlook>& looks,
                                              const traffic::Forecast& forecast) const {
  const CartState& c = at(cart);
  if (!c.job || !may_move(cart) || !can_tell(c) || guard.itinerary(cart) == nullptr) return {};
  const Job& job = jobs.at(*c.job);
  const std::size_t until = authority(cart);
  Expected expected;
  std::size_t stop = job.stops_done;
  for (std::size_t step = 0; step < c.path.size() && stop < job.stop_count(); ++step) {
    const Act act = c.path[step].act;
    if (act != Act::load && act != Act::unload) continue;
    // Until it goes on from the end of its authority, its handling there is counted in `ready`.
    const traffic::Outlook& look = looks[cart.value];
    const Instant comes = step <= until ? std::max(now, look.ready - look.dwell_at(step))
                                        : forecast.arrives(cart, step);
    // The first time the load is waited for; later stops of a job are part of its way.
    if (stop == 0 && step > 0) expected.pickup = comes;
    expected.delivery = step <= until ? look.ready : comes + look.dwell_at(step);
    ++stop;
  }
  if (stop != job.stop_count()) return {};
  return expected;
}

std::map<JobId, Expected> Core::expected() const {
  const State& s = *state_;
  std::map<JobId, Expected> found;
  const std::vector<traffic::Outlook> looks = s.outlooks();
  const traffic::Forecast forecast(s.guard, looks, s.now);
  for (std::uint32_t i = 0; i < s.carts.size(); ++i) {
    if (const auto expected = s.expected({i}, looks, forecast))
      found.emplace(*s.carts[i].job, *expected);
  }
  return found;
}

std::optional<Expected> Core::expected(JobId job) const {
  const State& s = *state_;
  const auto found = s.jobs.find(job);
  if (found == s.jobs.end() || !found->second.cart) return {};
  const CartIx cart = *found->second.cart;
  if (s.at(cart).job != job) return {};
  const std::vector<traffic::Outlook> looks = s.outlooks();
  return s.expected(cart, looks, traffic::Forecast(s.guard, looks, s.now));
}

}  // namespace tagline::control
