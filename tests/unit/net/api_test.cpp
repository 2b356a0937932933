// What the routes make of a wish before the core sees it, and what they refuse whole.
#include "server/net/api.hpp"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "tests/support/floor_builder.hpp"
#include "tests/unit/net/fakes.hpp"

namespace tagline::net::test {
namespace {

using control::Handling;
using nlohmann::json;
using testing::HasSubstr;

class ApiTest : public ::testing::Test {
 protected:
  static floor::Floor works() {
    floor::Floor floor = tagline::test::FloorBuilder{}
                             .point("A", 0, 0)
                             .point("B", 2000, 0)
                             .point("C", 4000, 0)
                             .segment("S1", "A", "B")
                             .segment("S2", "B", "C")
                             .station("CAST", "A")
                             .station("GLAZE", "B")
                             .station("DRY", "C")
                             .build();
    floor.stations[2].capacity = 3;
    return floor;
  }
  std::optional<Response> ask(const std::string& method, const std::string& target,
                              const std::string& body = {}) {
    Request request;
    request.method = method;
    request.target = target;
    request.body = body;
    if (!body.empty()) request.content_type = "application/json";
    std::optional<Response> answer;
    api.handle(request, parse_target(target).value(), [&](Response response) {
      EXPECT_FALSE(answer.has_value());
      answer = std::move(response);
    });
    return answer;
  }
  /// The findings of a refused body as "pointer: detail"; nothing must have reached the core.
  std::vector<std::string> refused(const std::string& target, const std::string& body) {
    const auto answer = ask("POST", target, body);
    EXPECT_TRUE(inbox.posted.empty());
    if (!answer) {
      ADD_FAILURE() << "not refused: " << body;
      inbox.posted.clear();
      return {};
    }
    EXPECT_EQ(answer->status, 422);
    const json problem = json::parse(*answer->body);
    EXPECT_EQ(problem.at("type"), "/problems/invalid_body");
    std::vector<std::string> out;
    for (const json& one : problem.value("errors", json::array()))
      out.push_back(one.at("pointer").get<std::string>() + ": " +
                    one.at("detail").get<std::string>());
    return out;
  }
  template <class Ask>
  Ask taken() {
    EXPECT_EQ(inbox.posted.size(), 1u);
    Ask event = std::get<Ask>(inbox.posted.at(0).first);
    inbox.posted.clear();
    return event;
  }

  floor::Floor floor = works();
  floor::Ways ways{floor};
  floor::Track track{ways};
  std::vector<std::string> names{"cart-1", "cart-2"};
  BoardModel model{track, names, {}, 1, "run1"};
  FakeInbox inbox;
  Api api{{floor, names, model, inbox, [] { return Response{}; },
           [](const std::function<void()>& task) { task(); }}};
};

TEST_F(ApiTest, AJobWithoutMoreHasNoStopsAndNoDueTime) {
  EXPECT_FALSE(ask("POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})"));
  const auto job = taken<control::AskJob>();
  EXPECT_TRUE(job.via.empty());
  EXPECT_FALSE(job.due.has_value());
}

TEST_F(ApiTest, StopsAndDueTimeReachTheCore) {
  EXPECT_FALSE(ask("POST", "/api/jobs",
                   R"({"from":"CAST","to":"DRY","due":"2026-11-25T14:30:00+01:00",
                       "via":[{"station":"GLAZE","what":"unload"},
                              {"what":"load","station":"GLAZE"}]})"));
  const auto job = taken<control::AskJob>();
  ASSERT_EQ(job.via.size(), 2u);
  EXPECT_EQ(job.via[0].station, "GLAZE");
  EXPECT_EQ(job.via[0].what, Handling::unload);
  EXPECT_EQ(job.via[1].what, Handling::load);
  EXPECT_EQ(job.due, Instant{Duration{1'795'613'400'000}});
}

TEST_F(ApiTest, AsManyStopsAsTheCoreTakes) {
  const auto with = [](std::size_t count) {
    json body{{"from", "CAST"}, {"to", "DRY"}, {"via", json::array()}};
    for (std::size_t k = 0; k < count; ++k)
      body["via"].push_back({{"station", "GLAZE"}, {"what", k % 2 ? "load" : "unload"}});
    return body.dump();
  };
  EXPECT_FALSE(ask("POST", "/api/jobs", with(control::most_via)));
  EXPECT_EQ(taken<control::AskJob>().via.size(), control::most_via);
  EXPECT_THAT(refused("/api/jobs", with(control::most_via + 1)),
              testing::ElementsAre("/via: Has 9 entries; may have at most 8."));
}

TEST_F(ApiTest, BadStopsAreRefusedWholeEachWithItsPlace) {
  const auto via = [&](const std::string& list) {
    return refused("/api/jobs", R"({"from":"CAST","to":"DRY","via":)" + list + "}");
  };
  EXPECT_THAT(via("7"), testing::ElementsAre("/via: Must be a list of objects."));
  EXPECT_THAT(via("null"), testing::ElementsAre("/via: Must be a list of objects."));
  EXPECT_THAT(via(R"([{"station":"GLAZE","what":"unload"},{"station":"KILN","what":"load"}])"),
              testing::ElementsAre("/via/1/station: There is no station \"KILN\"; the stations "
                                   "are CAST, GLAZE, DRY."));
  EXPECT_THAT(via(R"([{"station":"GLAZE","what":"wash"}])"),
              testing::ElementsAre("/via/0/what: Must be \"load\" or \"unload\"."));
  EXPECT_THAT(via(R"([{"station":"GLAZE"}])"),
              testing::ElementsAre(HasSubstr("/via/0/what: Missing")));
  EXPECT_THAT(via(R"([{"what":"load"}])"),
              testing::ElementsAre(HasSubstr("/via/0/station: Missing")));
  EXPECT_THAT(via(R"([{"station":3,"what":"load"}])"),
              testing::ElementsAre(HasSubstr("/via/0/station: Must be a text")));
  EXPECT_THAT(via(R"([{"station":"GLAZE","what":"load","for":"glaze"}])"),
              testing::ElementsAre("/via/0/for: No such key; the keys are station, what."));
  EXPECT_THAT(via(R"([{"station":"GLAZE","what":"load","what":"unload"}])"),
              testing::ElementsAre(HasSubstr("/via: This key, or one inside it, is there twice")));
  EXPECT_THAT(via(R"(["GLAZE"])"),
              testing::Contains("/via/0: Must be one object with the keys station, what."));
  // All findings in one answer.
  EXPECT_THAT(refused("/api/jobs", R"({"from":"CAST","to":"OVEN","due":1,"via":[{},{"station":"X",
                                      "what":"y"}]})"),
              testing::SizeIs(6));
}

TEST_F(ApiTest, BadDueTimesAreRefusedWithAnExample) {
  for (const char* due : {R"("now")", R"("2026-11-25T14:30:00")", R"("14:30")", "1795617000",
                          "null", R"("2026-02-30T00:00:00Z")", R"("")"}) {
    EXPECT_THAT(
        refused("/api/jobs", R"({"from":"CAST","to":"DRY","due":)" + std::string(due) + "}"),
        testing::ElementsAre("/due: Must be a time with its offset from UTC, as in "
                             "\"2026-11-25T14:30:00+01:00\" (RFC 3339)."))
        << due;
  }
}

TEST_F(ApiTest, LoadsAreCountedByAPerson) {
  EXPECT_FALSE(ask("POST", "/api/stations/DRY/loads", R"({"loads":2})"));
  const auto count = taken<control::AskCountLoads>();
  EXPECT_EQ(count.station, "DRY");
  EXPECT_EQ(count.loads, 2);
  EXPECT_NE(count.request, 0u);
}

TEST_F(ApiTest, APersonSaysThatACartIsLoaded) {
  EXPECT_FALSE(ask("POST", "/api/jobs/7/handled", R"({"what":"load"})"));
  const auto said = taken<control::AskSayHandled>();
  EXPECT_EQ(said.job, control::JobId{7});
  EXPECT_EQ(said.what, Handling::load);
  EXPECT_FALSE(ask("POST", "/api/jobs/7/handled", R"({"what":"unload"})"));
  EXPECT_EQ(taken<control::AskSayHandled>().what, Handling::unload);
  EXPECT_THAT(refused("/api/jobs/7/handled", R"({"what":"loaded"})"),
              testing::ElementsAre("/what: Must be \"load\" or \"unload\"."));
  EXPECT_THAT(refused("/api/jobs/7/handled", "{}"),
              testing::ElementsAre(HasSubstr("/what: Missing")));
}

TEST_F(ApiTest, BadLoadsAreRefused) {
  for (const char* loads : {"-1", "1.5", R"("2")", "null", "1001", "18446744073709551616"})
    EXPECT_THAT(refused("/api/stations/DRY/loads", R"({"loads":)" + std::string(loads) + "}"),
                testing::ElementsAre("/loads: Must be a whole number from 0 to 1000."))
        << loads;
  EXPECT_THAT(refused("/api/stations/DRY/loads", "{}"),
              testing::ElementsAre("/loads: Missing; a whole number from 0 to 1000."));
  EXPECT_THAT(refused("/api/stations/DRY/loads", R"({"loads":1,"of":3})"),
              testing::ElementsAre("/of: No such key; the keys are loads."));
}

TEST_F(ApiTest, WhatIsNotThereIsNotFound) {
  for (const char* target : {"/api/carts/cart-9/why", "/api/carts/cart-1/where", "/api/jobs/7/why",
                             "/api/jobs/x/why", "/api/stations/OVEN", "/api/stations/DRY/bins"}) {
    const auto answer = ask("GET", target);
    ASSERT_TRUE(answer) << target;
    EXPECT_EQ(answer->status, 404) << target;
    EXPECT_EQ(answer->content_type, "application/problem+json") << target;
  }
  EXPECT_EQ(ask("POST", "/api/stations/OVEN/loads", R"({"loads":1})")->status, 404);
}

TEST_F(ApiTest, OtherMethodsAreRefused) {
  EXPECT_EQ(ask("POST", "/api/carts/cart-1/why", "{}")->status, 405);
  EXPECT_EQ(ask("POST", "/api/stations", "{}")->status, 405);
  EXPECT_EQ(ask("GET", "/api/stations/DRY/loads")->status, 405);
}

TEST_F(ApiTest, ChainsAndStationsAreRead) {
  EXPECT_EQ(*ask("GET", "/api/carts/cart-1/why")->body, R"({"why":[]})");
  Views views;
  control::Job job;
  job.id = {7};
  job.from = StationIx{0};
  job.to = StationIx{2};
  control::Reason reason;
  reason.kind = control::Reason::Kind::no_cart;
  reason.job = job.id;
  views.jobs.push_back({job, {reason}});
  views.stations.push_back({StationIx{2}, 1});
  model.apply(views);
  EXPECT_EQ(json::parse(*ask("GET", "/api/jobs/7/why")->body).at("why")[0].at("kind"), "no_cart");
  EXPECT_EQ(json::parse(*ask("GET", "/api/stations")->body).at("stations").size(), 3u);
  EXPECT_EQ(json::parse(*ask("GET", "/api/stations/DRY")->body).at("loads"), 1);
}

}  // namespace
}  // namespace tagline::net::test
