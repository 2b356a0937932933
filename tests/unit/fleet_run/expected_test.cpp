// What the core expects of a job against what comes of it, on the demo floor under its usual
// demand.
#include <gtest/gtest.h>

#include <algorithm>
#include <map>

#include "server/floor/file.hpp"
#include "server/sim/fleet_run.hpp"

namespace tagline::sim {
namespace {

struct Error {
  double said_ahead_s{}, off_s{};
};

double share_within(const std::vector<Error>& errors, double part) {
  const auto good = std::ranges::count_if(errors, [&](const Error& e) {
    return std::abs(e.off_s) <= std::max(20.0, part * e.said_ahead_s);
  });
  return static_cast<double>(good) / static_cast<double>(errors.size());
}

/// Feeds a second core the events of a run and notes what it first expected of each job.
struct Expectations {
  std::vector<Error> pickups, deliveries;
};

Expectations run_demo() {
  const auto loaded = floor::load_floor(TAGLINE_SOURCE_DIR "/deploy/demo.floor.json");
  const floor::Ways ways(std::get<floor::Floor>(loaded));
  const floor::Track track(ways);
  FleetRunOptions options;
  options.carts = 5;
  options.hours = 4;
  options.seed = 21;
  options.speed_noise = 0.05;
  control::Core core(track, run_cart_names(options.carts), {}, {}, run_begins);
  struct Said {
    Instant at;
    control::Expected expected;
  };
  std::map<control::JobId, Said> first;
  Expectations found;
  const auto seconds = [](Duration d) { return std::chrono::duration<double>(d).count(); };
  run_fleet(track, options, {}, [&](Instant now, const control::Event& event) {
    const control::Outcome outcome = core.handle(now, event);
    for (const control::Record& record : outcome.records) {
      const auto* job = std::get_if<control::JobRecord>(&record);
      if (job == nullptr) continue;
      const auto said = first.find(job->job.id);
      if (job->job.state == control::JobState::assigned) {
        // The cart may have changed: it is told anew then.
        const auto all = core.expected();
        if (const auto now_said = all.find(job->job.id); now_said != all.end()) {
          first[job->job.id] = {now, now_said->second};
          const auto alone = core.expected(job->job.id);
          EXPECT_TRUE(alone) << "asked for alone nobody can tell";
          if (!alone) continue;
          EXPECT_EQ(alone->pickup, now_said->second.pickup);
          EXPECT_EQ(alone->delivery, now_said->second.delivery);
        }
      } else if (said != first.end() && job->job.state == control::JobState::delivered) {
        found.deliveries.push_back({seconds(said->second.expected.delivery - said->second.at),
                                    seconds(now - said->second.expected.delivery)});
        if (!said->second.expected.pickup || !job->job.loaded_at) continue;
        const floor::Station& from = track.floor()[job->job.from];
        const Instant reached = *job->job.loaded_at - from.load;
        found.pickups.push_back({seconds(*said->second.expected.pickup - said->second.at),
                                 seconds(reached - *said->second.expected.pickup)});
      }
    }
  });
  return found;
}

void print(const char* what, const std::vector<Error>& errors) {
  double ahead = 0, off = 0;
  for (const Error& e : errors) ahead += e.said_ahead_s, off += e.off_s;
  const auto n = static_cast<double>(errors.size());
  std::printf(
      "  %s: %zu told %.0f s ahead on average, late by %.0f s on average; within 20 s or a "
      "quarter of the time: %.0f %%\n",
      what, errors.size(), ahead / n, off / n, 100 * share_within(errors, 0.25));
}

TEST(Expected, PickupAndDeliveryComeAboutAsToldWhenACartTookTheJob) {
  const Expectations found = run_demo();
  print("pickups", found.pickups);
  print("deliveries", found.deliveries);
  ASSERT_GT(found.deliveries.size(), 100u);
  ASSERT_GT(found.pickups.size(), 80u);
  EXPECT_GT(share_within(found.pickups, 0.25), 0.8);
  EXPECT_GT(share_within(found.deliveries, 0.25), 0.8);
}

}  // namespace
}  // namespace tagline::sim
