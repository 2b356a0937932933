// See six_jobs.hpp.
#include "tests/optimum/six_jobs.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <stdexcept>
#include <string>
#include <utility>

#include "server/control/core.hpp"
#include "server/sim/fleet_cart.hpp"
#include "server/sim/fleet_figures.hpp"
#include "server/sim/fleet_run.hpp"
#include "server/sim/job_source.hpp"
#include "server/sim/start_places.hpp"

namespace tagline::test {
namespace {

class Loop {
 public:
  Loop(const floor::Track& track, const SmallCase& small)
      : track_{track},
        tapes_{track.ways()},
        core_{track, sim::run_cart_names(small.starts.size()), control::Policy{},
              control::Restored{}, sim::run_begins} {
    carts_.reserve(small.starts.size());
    for (std::uint32_t i = 0; i < small.starts.size(); ++i) {
      const PoseIx start = small.starts[i];
      carts_.emplace_back(CartIx{i}, tapes_, start,
                          sim::CartNature{.noise = 0, .miss_rate = 0, .battery = false},
                          sim::Random{i});
      feed(carts_[i].greeting(now_));
      const auto name = [&](PointIx point) { return track.floor()[point].id; };
      feed(control::AskPlaceCart{
          1, {i}, name(track.ways()[start].at), name(track.ways().came_from(start))});
      carts_[i].set_on(now_, start);
      collect(i);
    }
  }

  Done run(const std::vector<CaseJob>& jobs) {
    constexpr double asked = 5;
    constexpr double limit = 3600;
    go_to(asked);
    for (const CaseJob& job : jobs) {
      feed(control::AskJob{
          .request = 1, .from = track_.floor()[job.from].id, .to = track_.floor()[job.to].id});
    }
    while (std::ranges::count_if(core_.jobs(), [](const control::Job* job) {
             return job->state == control::JobState::delivered;
           }) < static_cast<std::ptrdiff_t>(jobs.size())) {
      if (now_ > limit) throw std::runtime_error("the jobs are not done within an hour");
      go_to(now_ + 1);
    }
    Done done;
    const auto since_asked = [&](Instant when) {
      return std::chrono::duration<double>(when - sim::run_begins).count() - asked;
    };
    for (std::uint64_t id = 1; id <= jobs.size(); ++id) {
      const control::Job& job = *core_.job({id});
      done.jobs.push_back(
          {job.cart->value, since_asked(*job.loaded_at), since_asked(*job.ended_at)});
    }
    return done;
  }

 private:
  template <class What>
  struct Sent {
    double due{};
    std::uint32_t cart{};
    What what;
  };

  /// Everything up to `end`, in the order of time.
  void go_to(double end) {
    while (true) {
      double next = next_tick_;
      std::size_t cart = carts_.size();
      for (std::size_t i = 0; i < carts_.size(); ++i) {
        if (carts_[i].due() < next) {
          next = carts_[i].due();
          cart = i;
        }
      }
      const bool from_cart = !to_service_.empty() && to_service_.front().due <= next;
      if (from_cart) next = to_service_.front().due;
      const bool to_cart = !to_cart_.empty() && to_cart_.front().due <= next;
      if (to_cart) next = to_cart_.front().due;
      if (next > end) break;
      now_ = std::max(now_, next);
      if (to_cart) {
        const auto sent = std::move(to_cart_.front());
        to_cart_.pop_front();
        carts_[sent.cart].receive(now_, sent.what);
        collect(sent.cart);
      } else if (from_cart) {
        const auto sent = std::move(to_service_.front());
        to_service_.pop_front();
        feed(sent.what);
      } else if (cart < carts_.size()) {
        carts_[cart].wake(now_);
        collect(static_cast<std::uint32_t>(cart));
      } else {
        next_tick_ += sim::figures::tick_s;
        feed(control::Tick{});
      }
    }
    now_ = end;
  }

  void feed(const control::Event& event) {
    const Instant moment =
        sim::run_begins + Duration{static_cast<std::int64_t>(std::floor(now_ * 1000 + 1e-6))};
    control::Outcome outcome = core_.handle(moment, event);
    for (const control::Answer& answer : outcome.answers) {
      if (const auto* refusal = std::get_if<control::Refusal>(&answer.what)) {
        throw std::runtime_error("refused: " + refusal->detail);
      }
    }
    for (control::Message& message : outcome.messages) {
      if (std::holds_alternative<control::TellHold>(message)) continue;
      const CartIx cart = std::visit([](const auto& m) { return m.cart; }, message);
      to_cart_.push_back({now_ + sim::figures::link_latency_s, cart.value, std::move(message)});
    }
  }

  void collect(std::uint32_t cart) {
    for (control::Event& event : carts_[cart].out()) {
      to_service_.push_back({now_ + sim::figures::link_latency_s, cart, std::move(event)});
    }
    carts_[cart].out().clear();
  }

  const floor::Track& track_;
  sim::TapeTable tapes_;
  control::Core core_;
  std::vector<sim::FleetCart> carts_;
  // Every message takes the same time, so these are in the order of their dues.
  std::deque<Sent<control::Event>> to_service_;
  std::deque<Sent<control::Message>> to_cart_;
  double now_{0};
  double next_tick_{0};
};

}  // namespace

double Done::finish() const {
  double last = 0;
  for (const Job& job : jobs) last = std::max(last, job.delivered);
  return last;
}

double Done::sum() const {
  double sum = 0;
  for (const Job& job : jobs) sum += job.delivered;
  return sum;
}

SmallCase random_case(const floor::Track& track, std::size_t carts, std::size_t jobs,
                      std::uint64_t seed) {
  sim::Random random{seed};
  const auto below = [&](std::size_t n) { return static_cast<std::size_t>(random.next() % n); };
  SmallCase result;
  std::vector<PoseIx> places = sim::start_places(track);
  std::vector<PointIx> seen;
  std::erase_if(places, [&](PoseIx pose) {
    const PointIx point = track.ways()[pose].at;
    if (!track.floor()[point].siding || std::ranges::find(seen, point) != seen.end()) return true;
    seen.push_back(point);
    return false;
  });
  if (places.size() < carts) throw std::runtime_error("too few sidings");
  for (std::size_t i = 0; i < carts; ++i) {
    std::swap(places[i], places[i + below(places.size() - i)]);
    result.starts.push_back(places[i]);
  }
  sim::JobSource source{sim::job_flows(track.floor()), random};
  while (result.jobs.size() < jobs) {
    const sim::JobFlow& flow = source.draw();
    result.jobs.push_back({flow.from, flow.to});
  }
  return result;
}

Done run_case(const floor::Track& track, const SmallCase& small) {
  return Loop{track, small}.run(small.jobs);
}

}  // namespace tagline::test
