// The live updates: snapshot, revisions without a gap, resuming, slow viewers.
#include "tests/interop/live_service.hpp"

namespace tagline::test {
namespace {

RawWebSocket watch(const LiveService& service, const std::string& query = "") {
  return {service.port(), "/live" + query, "tagline.live.1"};
}

void make_job(const LiveService& service) {
  ASSERT_EQ(service.ask("POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})").status, 201);
}

TEST(Live, SnapshotThenChanges) {
  LiveService service;
  make_job(service);
  RawWebSocket board = watch(service);
  const json snapshot = next_of_type(board, "snapshot");
  EXPECT_EQ(snapshot.at("carts").size(), 3u);
  EXPECT_EQ(snapshot.at("jobs").size(), 1u);
  EXPECT_EQ(snapshot.at("pace"), 1);
  EXPECT_EQ(snapshot.at("run"), service.get("/api/health").at("run"));
  EXPECT_EQ(snapshot.at("all_stopped"), false);
  make_job(service);
  const json change = next_of_type(board, "change");
  EXPECT_EQ(change.at("rev").get<int>(), snapshot.at("rev").get<int>() + 1);
  EXPECT_EQ(change.at("jobs")[0].at("id"), 2);
  service.ask("POST", "/api/stop");
  bool stopped = false;
  for (int k = 0; k < 5 && !stopped; ++k) {
    const json next = next_of_type(board, "change");
    stopped = next.value("all_stopped", false);
  }
  EXPECT_TRUE(stopped);
  EXPECT_TRUE(next_of_type(board, "time").contains("time"));
}

TEST(Live, WhatIsOutOfServiceAndStoppedZonesAreTold) {
  LiveService service;
  RawWebSocket board = watch(service);
  const json snapshot = next_of_type(board, "snapshot");
  EXPECT_EQ(snapshot.at("downtimes"), json::array());
  ASSERT_EQ(snapshot.at("zones").size(), 1u);
  EXPECT_EQ(
      snapshot.at("zones")[0],
      json::parse(R"({"id":"HALL","name":"Casting hall","segments":["S9"],"stopped":false})"));
  const auto told = [&](const char* key) {
    for (int k = 0; k < 5; ++k) {
      const json next = next_of_type(board, "change");
      if (next.contains(key)) return next.at(key);
    }
    return json();
  };
  service.ask("POST", "/api/zones/HALL/stop");
  EXPECT_EQ(told("zones").at(0).at("stopped"), true);
  service.ask("POST", "/api/segments/S9/down",
              R"({"reason":"new tape","until":"2099-01-02T03:04:05Z"})");
  const json downtimes = told("downtimes");
  ASSERT_EQ(downtimes.size(), 1u);
  EXPECT_EQ(downtimes[0].at("segment"), "S9");
  EXPECT_EQ(downtimes[0].at("reason"), "new tape");
  EXPECT_EQ(downtimes[0].at("until"), "2099-01-02T03:04:05.000Z");
  EXPECT_EQ(downtimes[0].at("begun"), true);
  EXPECT_EQ(downtimes[0].at("clear"), true);
  EXPECT_EQ(service.get("/api/downtimes").at("downtimes"), downtimes);
  service.ask("POST", "/api/segments/S9/up");
  EXPECT_EQ(told("downtimes"), json::array());
}

TEST(Live, LoadsAndReasonsAreTold) {
  LiveService service;
  make_job(service);
  RawWebSocket board = watch(service);
  const json snapshot = next_of_type(board, "snapshot");
  ASSERT_EQ(snapshot.at("stations").size(), 1u) << "only those with a capacity";
  EXPECT_EQ(snapshot.at("stations")[0].at("id"), "DRY");
  EXPECT_EQ(snapshot.at("stations")[0].at("loads"), 0);
  EXPECT_EQ(snapshot.at("jobs")[0].at("why")[0].at("kind"), "no_cart");
  EXPECT_EQ(snapshot.at("carts")[0].at("why")[0].at("kind"), "off_floor");
  ASSERT_EQ(service.ask("POST", "/api/stations/DRY/loads", R"({"loads":3})").status, 200);
  const json change = next_of_type(board, "change");
  ASSERT_TRUE(change.contains("stations")) << change;
  EXPECT_EQ(change.at("stations")[0].at("loads"), 3);
  // A count that says nothing new is answered, and told to nobody.
  ASSERT_EQ(service.ask("POST", "/api/stations/DRY/loads", R"({"loads":3})").status, 200);
  make_job(service);
  EXPECT_FALSE(next_of_type(board, "change").contains("stations"));
}

TEST(Live, ResumingGivesExactlyTheMissedRevisions) {
  LiveService service;
  json snapshot;
  {
    RawWebSocket board = watch(service);
    snapshot = next_of_type(board, "snapshot");
  }
  for (int k = 0; k < 3; ++k) {
    make_job(service);
    std::this_thread::sleep_for(Millis(150));  // changes closer together may share a revision
  }
  const int since = snapshot.at("rev");
  const std::string query =
      "?run=" + snapshot.at("run").get<std::string>() + "&since=" + std::to_string(since);
  RawWebSocket board = watch(service, query);
  const json resumed = json::parse(*board.next_text());
  ASSERT_EQ(resumed.at("type"), "resumed");
  const int rev = resumed.at("rev");
  EXPECT_GE(rev, since + 3);
  std::set<int> jobs;
  for (int k = since + 1; k <= rev; ++k) {
    const json change = json::parse(*board.next_text());
    EXPECT_EQ(change.at("type"), "change");
    EXPECT_EQ(change.at("rev"), k);
    for (const json& job : change.value("jobs", json::array()))
      jobs.insert(job.at("id").get<int>());
  }
  EXPECT_EQ(jobs, (std::set<int>{1, 2, 3}));
  make_job(service);
  EXPECT_EQ(next_of_type(board, "change").at("rev"), rev + 1);
}

TEST(Live, AnotherRunOrNonsenseGetsASnapshot) {
  LiveService service;
  for (const char* query :
       {"?run=other&since=0", "?since=0", "?run=x&since=-1", "?run=x&since=y"}) {
    RawWebSocket board = watch(service, query);
    EXPECT_EQ(json::parse(*board.next_text()).at("type"), "snapshot") << query;
  }
}

TEST(Live, WhatAViewerSendsIsIgnoredUnlessItIsTooMuch) {
  LiveService service;
  RawWebSocket board = watch(service);
  ASSERT_FALSE(next_of_type(board, "snapshot").is_null());
  board.send_text("hello");
  make_job(service);
  EXPECT_FALSE(next_of_type(board, "change").is_null());
  board.send_text(std::string(1'025, 'x'));
  EXPECT_EQ(board.next_close().first, 1009);
}

}  // namespace
}  // namespace tagline::test
