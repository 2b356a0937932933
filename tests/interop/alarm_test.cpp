// An alarm is seen by a person: who and when is told to all, kept, and noted; nothing moves by it.
#include "tests/interop/people.hpp"

namespace tagline::test {
namespace {

/// "All carts are stopped", which anybody can bring about.
json stopped_alarm(const PeopledService& service) {
  const json alarms = json::parse(service.as("Sam", "GET", "/api/alarms").body).at("alarms");
  for (const json& one : alarms)
    if (one.at("kind") == "all_stopped") return one;
  return nullptr;
}

std::string place_of(const json& alarm) {
  return "/api/alarms/" + std::to_string(alarm.at("id").get<int>()) + "/seen";
}

std::string body_of(const json& alarm) { return json{{"since", alarm.at("since")}}.dump(); }

TEST(SeenAlarm, IsToldToEverybodyAndEndsNothing) {
  const PeopledService service;
  ASSERT_EQ(service.as("Otto", "POST", "/api/stop").status, 200);
  const json alarm = stopped_alarm(service);
  ASSERT_TRUE(alarm.at("seen").is_null());
  RawWebSocket board = service.board(browser_of(service, "session of Vera"));
  ASSERT_FALSE(next_of_type(board, "snapshot").is_null());

  const auto first = service.as("Otto", "POST", place_of(alarm), body_of(alarm));
  EXPECT_EQ(first.status, 200);
  const json seen = json::parse(first.body).at("seen");
  EXPECT_EQ(seen.at("by"), "Otto");
  EXPECT_EQ(next_of_type(board, "change").at("alarms").at(0).at("seen"), seen);
  // A second person gets the same answer, and the first one's name stays.
  const auto second = service.as("Sam", "POST", place_of(alarm), body_of(alarm));
  EXPECT_EQ(second.status, 200);
  EXPECT_EQ(json::parse(second.body).at("seen"), seen);
  EXPECT_EQ(stopped_alarm(service).at("seen"), seen);
  EXPECT_EQ(json::parse(service.as("Sam", "GET", "/api/health").body).at("all_stopped"), true);
  EXPECT_EQ(service.journal.seen_alarms(), (std::vector<std::string>{"all_stopped Otto"}));
  const auto entries = service.audit(3);
  EXPECT_EQ(entries.at(0), "Sam | see_alarm | alarms/all_stopped | done");
  EXPECT_EQ(entries.at(1), "Otto | see_alarm | alarms/all_stopped | done");
}

TEST(SeenAlarm, AgainItIsANewOne) {
  const PeopledService service;
  ASSERT_EQ(service.as("Otto", "POST", "/api/stop").status, 200);
  const json alarm = stopped_alarm(service);
  ASSERT_EQ(service.as("Otto", "POST", place_of(alarm), body_of(alarm)).status, 200);
  ASSERT_EQ(service.as("Sam", "POST", "/api/release").status, 200);
  EXPECT_EQ(service.as("Otto", "POST", place_of(alarm), body_of(alarm)).status, 404);
  ASSERT_EQ(service.as("Otto", "POST", "/api/stop").status, 200);
  const json again = stopped_alarm(service);
  EXPECT_TRUE(again.at("seen").is_null());
  EXPECT_NE(again.at("id"), alarm.at("id"));
  for (int k = 0; k < 100 && !service.journal.seen_alarms().empty(); ++k)
    std::this_thread::sleep_for(Millis(20));
  EXPECT_TRUE(service.journal.seen_alarms().empty()) << "the store forgets what has ended";
}

TEST(SeenAlarm, OfAnEarlierRunIsSeenStill) {
  net::Entrance entrance = works_of_people();
  entrance.known.seen_alarms = {{"all_stopped", "Berta", wall_now()}};
  const PeopledService service(std::move(entrance));
  ASSERT_EQ(service.as("Otto", "POST", "/api/stop").status, 200);
  EXPECT_EQ(stopped_alarm(service).at("seen").at("by"), "Berta");
}

TEST(SeenAlarm, IsRefusedWithAReason) {
  PeopledService service;
  ASSERT_EQ(service.as("Otto", "POST", "/api/stop").status, 200);
  const json alarm = stopped_alarm(service);
  const std::string place = place_of(alarm);
  EXPECT_EQ(service.as("Otto", "POST", place, "{}").status, 422);
  EXPECT_EQ(service.as("Otto", "POST", place, R"({"since":"today"})").status, 422);
  EXPECT_EQ(service.as("Otto", "POST", place, R"({"since":"2026-01-01T00:00:00Z"})").status, 404);
  EXPECT_EQ(service.as("Otto", "POST", "/api/alarms/99/seen", body_of(alarm)).status, 404);
  EXPECT_EQ(service.as("Otto", "POST", "/api/alarms/x/seen", body_of(alarm)).status, 404);
  EXPECT_EQ(service.as("Vera", "POST", place, body_of(alarm)).status, 403);
  service.journal.failing = true;
  EXPECT_EQ(service.as("Otto", "POST", place, body_of(alarm)).status, 503);
  EXPECT_TRUE(stopped_alarm(service).at("seen").is_null()) << "not on disk, so not shown";
}

}  // namespace
}  // namespace tagline::test
