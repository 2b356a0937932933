// Every route, good and bad; idempotency; limits; slow and broken clients.
#include <fstream>

#include "server/floor/file.hpp"
#include "server/floor/file_limits.hpp"
#include "tests/interop/live_service.hpp"

namespace tagline::test {
namespace {

struct Row {
  const char* method;
  const char* target;
  const char* body;
  int status;
  const char* problem;  // last part of `type`; "" for a good answer
  const char* pointer;  // of a finding; "" if none is expected
};

// On a service with three connected carts, cart-1 placed at H1, and job 1 made.
const Row rows[] = {
    {"GET", "/api/health", "", 200, "", ""},
    {"HEAD", "/api/health", "", 200, "", ""},
    {"POST", "/api/health", "", 405, "method_not_allowed", ""},
    {"GET", "/api/floor", "", 200, "", ""},
    {"DELETE", "/api/floor", "", 405, "method_not_allowed", ""},
    {"GET", "/api/alarms", "", 200, "", ""},
    {"PUT", "/api/alarms", "", 405, "method_not_allowed", ""},
    {"GET", "/api/carts", "", 200, "", ""},
    {"POST", "/api/carts", "", 405, "method_not_allowed", ""},
    {"GET", "/api/carts/cart-1", "", 200, "", ""},
    {"GET", "/api/carts/cart%2D1", "", 200, "", ""},
    {"GET", "/api/carts/cart-9", "", 404, "not_found", ""},
    {"PATCH", "/api/carts/cart-1", "", 405, "method_not_allowed", ""},
    {"GET", "/api/carts/cart-1/place", "", 405, "method_not_allowed", ""},
    {"POST", "/api/carts/cart-1/fly", "", 404, "not_found", ""},
    {"POST", "/api/carts/cart-9/stop", "", 404, "not_found", ""},
    {"GET", "/api/carts/cart-1/why", "", 200, "", ""},
    {"HEAD", "/api/carts/cart-1/why", "", 200, "", ""},
    {"POST", "/api/carts/cart-1/why", "", 405, "method_not_allowed", ""},
    {"GET", "/api/carts/cart-9/why", "", 404, "not_found", ""},
    {"GET", "/api/jobs/1/why", "", 200, "", ""},
    {"POST", "/api/jobs/1/why", "", 405, "method_not_allowed", ""},
    {"GET", "/api/jobs/999999/why", "", 404, "not_found", ""},
    {"GET", "/api/jobs/one/why", "", 404, "not_found", ""},
    {"GET", "/api/stations", "", 200, "", ""},
    {"POST", "/api/stations", "", 405, "method_not_allowed", ""},
    {"GET", "/api/stations/DRY", "", 200, "", ""},
    {"GET", "/api/stations/OVEN", "", 404, "not_found", ""},
    {"GET", "/api/stations/DRY/loads", "", 405, "method_not_allowed", ""},
    {"GET", "/api/stations/DRY/shelves", "", 404, "not_found", ""},
    {"POST", "/api/stations/DRY/loads", R"({"loads":2})", 200, "", ""},
    {"POST", "/api/stations/DRY/loads", R"({"loads":4})", 200, "", ""},
    {"POST", "/api/stations/DRY/loads", R"({"loads":0})", 200, "", ""},
    {"POST", "/api/stations/DRY/loads", R"({"loads":-1})", 422, "invalid_body", "/loads"},
    {"POST", "/api/stations/DRY/loads", R"({"loads":1001})", 422, "invalid_body", "/loads"},
    {"POST", "/api/stations/DRY/loads", "{}", 422, "invalid_body", "/loads"},
    {"POST", "/api/stations/DRY/loads", "", 415, "wrong_type", ""},
    {"POST", "/api/stations/CAST/loads", R"({"loads":1})", 409, "conflict", ""},
    {"POST", "/api/stations/OVEN/loads", R"({"loads":1})", 404, "not_found", ""},
    {"POST", "/api/stations/DRY/down", R"({"reason":"kiln change"})", 200, "", ""},
    {"POST", "/api/stations/DRY/down", R"({"until":"2020-01-01T00:00:00Z"})", 422, "not_possible",
     ""},
    {"POST", "/api/stations/DRY/down", R"({"from":"tomorrow"})", 422, "invalid_body", "/from"},
    {"POST", "/api/stations/DRY/up", "", 200, "", ""},
    {"POST", "/api/stations/DRY/up", "", 409, "conflict", ""},
    {"POST", "/api/segments/S9/down", R"({"why":1})", 422, "invalid_body", "/why"},
    {"POST", "/api/segments/S9/down", "{}", 200, "", ""},
    {"POST", "/api/segments/S9/up", "", 200, "", ""},
    {"GET", "/api/segments/S9/up", "", 405, "method_not_allowed", ""},
    {"POST", "/api/segments/S99/down", "{}", 404, "not_found", ""},
    {"GET", "/api/segments/S9", "", 404, "not_found", ""},
    {"POST", "/api/carts/cart-3/down", "{}", 200, "", ""},
    {"POST", "/api/carts/cart-3/up", "", 200, "", ""},
    {"GET", "/api/downtimes", "", 200, "", ""},
    {"POST", "/api/downtimes", "{}", 405, "method_not_allowed", ""},
    {"GET", "/api/zones", "", 200, "", ""},
    {"POST", "/api/zones/HALL/stop", "", 200, "", ""},
    {"POST", "/api/zones/HALL/release", "", 200, "", ""},
    {"POST", "/api/zones/HALL/release", "", 409, "conflict", ""},
    {"POST", "/api/zones/YARD/stop", "", 404, "not_found", ""},
    {"GET", "/api/zones/HALL/stop", "", 405, "method_not_allowed", ""},
    {"GET", "/api/zones/HALL", "", 404, "not_found", ""},
    {"POST", "/api/carts/cart-2/place", R"({"point":"H2"})", 200, "", ""},
    {"POST", "/api/carts/cart-3/place", "", 415, "wrong_type", ""},
    {"POST", "/api/carts/cart-3/place", "{}", 422, "invalid_body", "/point"},
    {"POST", "/api/carts/cart-3/place", R"({"point":"X"})", 422, "invalid_body", "/point"},
    {"POST", "/api/carts/cart-3/place", R"({"point":"H2","came_from":"X"})", 422, "invalid_body",
     "/came_from"},
    {"POST", "/api/carts/cart-3/place", R"({"point":"H2","speed":1})", 422, "invalid_body",
     "/speed"},
    {"POST", "/api/carts/cart-3/place", R"({"point":"H2"})", 409, "conflict", ""},
    {"POST", "/api/carts/cart-2/stop", "", 200, "", ""},
    {"POST", "/api/carts/cart-2/stop", R"({"why":1})", 422, "invalid_body", "/why"},
    {"POST", "/api/carts/cart-2/release", "{}", 200, "", ""},
    {"POST", "/api/carts/cart-2/remove", "", 200, "", ""},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})", 201, "", ""},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","priority":9,"note":"gl\u00e4ze"})", 201, "",
     ""},
    {"POST", "/api/jobs", "", 415, "wrong_type", ""},
    {"POST", "/api/jobs", "{", 400, "malformed_json", ""},
    {"POST", "/api/jobs", R"({"priority":1e999})", 400, "malformed_json", ""},
    {"POST", "/api/jobs", "[]", 422, "invalid_body", ""},
    {"POST", "/api/jobs", R"({"from":"CAST"})", 422, "invalid_body", "/to"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"KILN"})", 422, "invalid_body", "/to"},
    {"POST", "/api/jobs", R"({"from":1,"to":"DRY"})", 422, "invalid_body", "/from"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","priority":10})", 422, "invalid_body",
     "/priority"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","note":"a\u0000b"})", 422, "invalid_body",
     "/note"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","due":"now"})", 422, "invalid_body", "/due"},
    {"POST", "/api/jobs", R"({"from":"CAST","from":"DRY","to":"DRY"})", 422, "invalid_body",
     "/from"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"CAST"})", 422, "not_possible", ""},
    {"POST", "/api/jobs",
     R"({"from":"CAST","to":"CAST","via":[{"station":"DRY","what":"unload"}]})", 422,
     "not_possible", ""},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","via":[{"station":"DRY","what":"load"}]})",
     422, "not_possible", ""},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","via":[{"station":"DRY","what":"dry"}]})",
     422, "invalid_body", "/via/0/what"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","via":[{"station":"OVEN","what":"load"}]})",
     422, "invalid_body", "/via/0/station"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","via":"DRY"})", 422, "invalid_body", "/via"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","due":"2026-11-25T14:30:00"})", 422,
     "invalid_body", "/due"},
    {"POST", "/api/jobs", R"({"from":"CAST","to":"DRY","due":"2026-11-25T14:30:00+01:00"})", 201,
     "", ""},
    {"PUT", "/api/jobs", "", 405, "method_not_allowed", ""},
    {"GET", "/api/jobs", "", 200, "", ""},
    {"GET", "/api/jobs?state=queued&limit=1", "", 200, "", ""},
    {"GET", "/api/jobs?state=lost", "", 400, "invalid_query", ""},
    {"GET", "/api/jobs?limit=0", "", 400, "invalid_query", ""},
    {"GET", "/api/jobs?limit=1001", "", 400, "invalid_query", ""},
    {"GET", "/api/jobs?limit=+5", "", 400, "invalid_query", ""},
    {"GET", "/api/jobs?page=2", "", 400, "invalid_query", ""},
    {"GET", "/api/jobs/1", "", 200, "", ""},
    {"GET", "/api/jobs/0", "", 404, "not_found", ""},
    {"GET", "/api/jobs/01", "", 404, "not_found", ""},
    {"GET", "/api/jobs/999999", "", 404, "not_found", ""},
    {"GET", "/api/jobs/-1", "", 404, "not_found", ""},
    {"GET", "/api/jobs/99999999999999999999999", "", 404, "not_found", ""},
    {"GET", "/api/jobs/1/history", "", 404, "not_found", ""},
    {"DELETE", "/api/jobs/1", "", 405, "method_not_allowed", ""},
    {"GET", "/api/jobs/1/cancel", "", 405, "method_not_allowed", ""},
    {"POST", "/api/jobs/1/cancel", "", 200, "", ""},
    {"POST", "/api/jobs/999999/cancel", "", 404, "not_found", ""},
    {"GET", "/api/stop", "", 405, "method_not_allowed", ""},
    {"POST", "/api/stop", "", 200, "", ""},
    {"POST", "/api/release", "", 200, "", ""},
    {"POST", "/api/stop/now", "", 404, "not_found", ""},
    {"GET", "/api", "", 404, "not_found", ""},
    {"GET", "/api/", "", 404, "not_found", ""},
    {"GET", "/api/unheard-of", "", 404, "not_found", ""},
    {"GET", "/nothing.js", "", 404, "not_found", ""},
    {"GET", "/../etc/passwd", "", 404, "not_found", ""},
    {"GET", "/%2e%2e/%2e%2e/etc/passwd", "", 404, "not_found", ""},
    {"GET", "/%00", "", 400, "malformed_path", ""},
    {"POST", "/", "", 405, "method_not_allowed", ""},
};

TEST(Rest, EveryRouteGoodAndBad) {
  LiveService service;
  RawWebSocket one = service.cart_link(), two = service.cart_link(), three = service.cart_link();
  int number = 0;
  for (RawWebSocket* link : {&one, &two, &three}) {
    link->send_text(LiveService::hello(++number));
    ASSERT_FALSE(next_of_type(*link, "welcome").is_null());
  }
  ASSERT_EQ(service.ask("POST", "/api/carts/cart-1/place", R"({"point":"H1"})").status, 200);
  ASSERT_EQ(service.ask("POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})").status, 201);
  for (const Row& row : rows) {
    SCOPED_TRACE(std::string(row.method) + " " + row.target + " " + row.body);
    const auto answer = service.ask(row.method, row.target, row.body);
    EXPECT_EQ(answer.status, row.status) << answer.body;
    EXPECT_EQ(answer.header("X-Content-Type-Options"), "nosniff");
    if (std::string(row.method) == "HEAD") continue;
    const json body = json::parse(answer.body);
    if (std::string(row.problem).empty()) {
      EXPECT_EQ(answer.header("Content-Type"), "application/json");
      continue;
    }
    // RFC 9457, 3.1.
    EXPECT_EQ(answer.header("Content-Type"), "application/problem+json");
    EXPECT_EQ(body.at("type"), std::string("/problems/") + row.problem);
    EXPECT_EQ(body.at("status"), row.status);
    EXPECT_FALSE(body.at("title").get<std::string>().empty());
    EXPECT_FALSE(body.at("detail").get<std::string>().empty());
    if (row.status == 405) {
      EXPECT_FALSE(answer.header("Allow").empty());
    }
    if (!std::string(row.pointer).empty()) {
      bool found = false;
      for (const json& error : body.at("errors")) found |= error.at("pointer") == row.pointer;
      EXPECT_TRUE(found) << answer.body;
    }
  }
  EXPECT_EQ(service.get("/api/health").at("status"), "ok");
}

TEST(Rest, AJobIsMadeWithALocationAndShownEverywhere) {
  LiveService service;
  const auto made =
      service.ask("POST", "/api/jobs", R"({"from":"CAST","to":"DRY","priority":7,"note":"bin 4"})");
  ASSERT_EQ(made.status, 201);
  const json job = json::parse(made.body);
  EXPECT_EQ(made.header("Location"), "/api/jobs/" + std::to_string(job.at("id").get<int>()));
  EXPECT_EQ(job.at("state"), "queued");
  EXPECT_EQ(job.at("priority"), 7);
  EXPECT_EQ(job.at("note"), "bin 4");
  EXPECT_EQ(job.at("via"), json::array());
  EXPECT_EQ(job.at("stops_done"), 0);
  EXPECT_EQ(job.at("due"), nullptr);
  EXPECT_EQ(job.at("why").at(0).at("kind"), "no_cart");
  EXPECT_EQ(service.get(made.header("Location")).at("id"), job.at("id"));
  EXPECT_EQ(service.get("/api/jobs").at("jobs").size(), 1u);
  const json cancelled = json::parse(service.ask("POST", made.header("Location") + "/cancel").body);
  EXPECT_EQ(cancelled.at("state"), "cancelled");
  EXPECT_FALSE(cancelled.at("ended_at").is_null());
}

TEST(Rest, AJobWithStopsAndADueTimeIsShownAsAsked) {
  LiveService service;
  const std::string body = R"({"from":"CAST","to":"DRY","due":"2026-11-25T14:30:00+01:00",
      "via":[{"station":"DRY","what":"unload"},{"station":"CAST","what":"load"}]})";
  const auto made = service.ask("POST", "/api/jobs", body, {{"Idempotency-Key", "s-1"}});
  ASSERT_EQ(made.status, 201) << made.body;
  const json job = json::parse(made.body);
  EXPECT_EQ(job.at("via"), json::parse(R"([{"station":"DRY","what":"unload"},
                                           {"station":"CAST","what":"load"}])"));
  EXPECT_EQ(job.at("due"), "2026-11-25T13:30:00.000Z");
  EXPECT_EQ(service.get("/api/jobs").at("jobs").at(0), job);
  // The same moment told with another offset is the same wish; another stop is another one.
  const auto repeated = [&](const std::string& from, const std::string& to) {
    std::string altered = body;
    altered.replace(altered.find(from), from.size(), to);
    return service.ask("POST", "/api/jobs", altered, {{"Idempotency-Key", "s-1"}}).status;
  };
  EXPECT_EQ(repeated("14:30:00+01:00", "13:30:00Z"), 200);
  EXPECT_EQ(repeated("14:30:00+01:00", "13:31:00Z"), 422);
  EXPECT_EQ(repeated(R"("what":"unload")", R"("what":"load")"), 422);
}

TEST(Rest, WhyAJobWaitsIsReadAloneAndWithIt) {
  LiveService service;
  ASSERT_EQ(service.ask("POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})").status, 201);
  const json alone = service.get("/api/jobs/1/why").at("why");
  EXPECT_EQ(alone, service.get("/api/jobs/1").at("why"));
  ASSERT_FALSE(alone.empty());
  EXPECT_EQ(alone[0].at("job"), 1);
  EXPECT_EQ(alone[0].at("text"), "Job 1 waits: no cart is on the floor, connected and in service.");
  // A cart that is on no floor says so.
  const json cart = service.get("/api/carts/cart-2/why").at("why");
  ASSERT_EQ(cart.size(), 1u);
  EXPECT_EQ(cart[0].at("kind"), "off_floor");
  EXPECT_EQ(cart[0].at("cart"), "cart-2");
}

TEST(Rest, APlacedCartSaysWhyItStandsAndWhatStopsIt) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(link, "welcome").is_null());
  ASSERT_EQ(service.ask("POST", "/api/carts/cart-1/place", R"({"point":"H1"})").status, 200);
  const auto root = [&](const std::string& kind) {
    for (int k = 0; k < 100; ++k) {
      const json why = service.get("/api/carts/cart-1/why").at("why");
      if (!why.empty() && why.back().at("kind") == kind) return why.back();
      std::this_thread::sleep_for(Millis(20));
    }
    return json();
  };
  const json resting = root("resting");
  ASSERT_FALSE(resting.is_null());
  EXPECT_EQ(resting.at("point"), "H1");
  EXPECT_EQ(resting.at("text"), "cart-1 rests at H1 and has nothing to do.");
  ASSERT_EQ(service.ask("POST", "/api/stop").status, 200);
  EXPECT_EQ(root("all_stopped").value("text", ""), "A person has stopped all carts.");
}

TEST(Rest, LoadsAreCountedAndShownEverywhere) {
  LiveService service;
  ASSERT_TRUE(service.shows_soon("/api/stations/DRY", "loads", 0)) << "once the core has told it";
  EXPECT_EQ(service.get("/api/stations/DRY"),
            json::parse(R"({"id":"DRY","name":"Drying","point":"P7","capacity":3,"loads":0})"));
  const auto counted = service.ask("POST", "/api/stations/DRY/loads", R"({"loads":2})");
  ASSERT_EQ(counted.status, 200) << counted.body;
  const json dry = json::parse(counted.body);
  EXPECT_EQ(dry.at("loads"), 2);
  EXPECT_EQ(service.get("/api/stations").at("stations").at(1), dry);
  EXPECT_EQ(service.get("/api/floor").at("stations").at(1), dry);
  EXPECT_EQ(service.get("/api/stations/CAST").at("capacity"), nullptr);
  EXPECT_EQ(service.get("/api/stations/CAST").at("loads"), nullptr);
}

/// Neither the service nor the core behind it takes fewer than a floor file may have room for.
TEST(Rest, AsManyLoadsAreCountedAsAFloorFileMayHaveRoomFor) {
  LiveService service;
  const int most = floor::limits::capacity_loads;
  const std::string loads = "/api/stations/DRY/loads";
  const auto full = service.ask("POST", loads, json{{"loads", most}}.dump());
  ASSERT_EQ(full.status, 200) << full.body;
  EXPECT_EQ(json::parse(full.body).at("loads"), most);
  EXPECT_EQ(service.ask("POST", loads, json{{"loads", most + 1}}.dump()).status, 422);
  std::ifstream sample(TAGLINE_SOURCE_DIR "/protocol/samples/small.floor.json");
  json file = json::parse(sample);
  file.at("stations").at(1)["capacity"] = most;
  EXPECT_TRUE(std::holds_alternative<floor::Floor>(floor::parse_floor(file.dump())));
  file.at("stations").at(1)["capacity"] = most + 1;
  EXPECT_FALSE(std::holds_alternative<floor::Floor>(floor::parse_floor(file.dump())));
}

TEST(Rest, StopsInARowAtOnePlaceAreRefusedWithWhatToDo) {
  LiveService service;
  const auto refused = [&](const json& job) {
    const auto answer = service.ask("POST", "/api/jobs", job.dump());
    EXPECT_EQ(answer.status, 422) << answer.body;
    const json problem = json::parse(answer.body);
    EXPECT_EQ(problem.at("type"), "/problems/not_possible");
    return problem.at("detail").get<std::string>();
  };
  const json dry{{"station", "DRY"}, {"what", "unload"}};
  const json cast{{"station", "CAST"}, {"what", "load"}};
  EXPECT_EQ(refused({{"from", "CAST"}, {"to", "DRY"}, {"via", json::array({cast})}}),
            "Two stops in a row are at the same place, CAST. Leave one out.");
  EXPECT_EQ(refused({{"from", "CAST"}, {"to", "DRY"}, {"via", json::array({dry})}}),
            "The last two stops are at the same place, DRY. Leave one out.");
  EXPECT_EQ(
      service
          .ask("POST", "/api/jobs",
               json{{"from", "CAST"}, {"to", "DRY"}, {"via", json::array({dry, cast})}}.dump())
          .status,
      201);
}

TEST(Rest, TheFloorTellsHowManyCartsItTakes) {
  LiveService service;
  const json limit = service.get("/api/floor").at("live_limit");
  EXPECT_GT(limit.at("carts").get<int>(), 0);
  EXPECT_FALSE(limit.at("reason").get<std::string>().empty());
}

TEST(Rest, AnIdempotencyKeyMakesOneJob) {
  LiveService service;
  const std::string body = R"({"from":"CAST","to":"DRY"})";
  const auto with_key = [&](const std::string& key, const std::string& text) {
    return service.ask("POST", "/api/jobs", text, {{"Idempotency-Key", key}});
  };
  const auto first = with_key("a-1", body), again = with_key("a-1", body);
  EXPECT_EQ(first.status, 201);
  EXPECT_EQ(again.status, 200);
  EXPECT_EQ(json::parse(first.body).at("id"), json::parse(again.body).at("id"));
  const auto reused = with_key("a-1", R"({"from":"DRY","to":"CAST"})");
  EXPECT_EQ(reused.status, 422);
  EXPECT_EQ(json::parse(reused.body).at("type"), "/problems/idempotency_key_reused");
  EXPECT_EQ(with_key("a-1", R"({"from":"CAST","to":"DRY","note":"x"})").status, 422);
  EXPECT_EQ(with_key("a-2", body).status, 201);
  EXPECT_EQ(with_key("not a key", body).status, 400);
  EXPECT_EQ(with_key(std::string(65, 'k'), body).status, 400);
  EXPECT_EQ(service.get("/api/jobs").at("jobs").size(), 2u);
}

TEST(Rest, OnlyTheServicesOwnPagesMayAsk) {
  LiveService service;
  const std::string own = "http://127.0.0.1:" + std::to_string(service.port());
  EXPECT_EQ(service.ask("GET", "/api/carts", "", {{"Origin", own}}).status, 200);
  EXPECT_EQ(service.ask("POST", "/api/stop", "", {{"Origin", "http://other.example"}}).status, 403);
  EXPECT_EQ(service.ask("GET", "/api/health", "", {{"Host", "other.example"}}).status, 421);
  EXPECT_EQ(service.get("/api/health").at("all_stopped"), false);
}

TEST(Rest, APageThatWasNotBuiltSaysHow) {
  LiveService service;
  const auto page = service.ask("GET", "/");
  EXPECT_EQ(page.status, 503);
  EXPECT_NE(page.body.find("deploy/run build"), std::string::npos);
}

std::string whole_answer(std::uint16_t port, const std::string& request) {
  RawSocket socket(port);
  socket.send(request);
  return socket.take_all(Millis(3'000));
}

TEST(Limits, HeadBodyAndNonsense) {
  LiveService service;
  const std::string host = "Host: localhost\r\n";
  EXPECT_TRUE(whole_answer(service.port(), "GET / HTTP/1.1\r\n" + host +
                                               "X: " + std::string(9'000, 'x') + "\r\n\r\n")
                  .starts_with("HTTP/1.1 431"));
  EXPECT_TRUE(whole_answer(service.port(), "POST /api/jobs HTTP/1.1\r\n" + host +
                                               "Content-Type: application/json\r\n"
                                               "Content-Length: 16385\r\n\r\n" +
                                               std::string(16'385, ' '))
                  .starts_with("HTTP/1.1 413"));
  std::string chunked = "POST /api/jobs HTTP/1.1\r\n" + host +
                        "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n";
  for (int k = 0; k < 20; ++k) chunked += "400\r\n" + std::string(1'024, ' ') + "\r\n";
  EXPECT_TRUE(whole_answer(service.port(), chunked).starts_with("HTTP/1.1 413"));
  EXPECT_TRUE(whole_answer(service.port(), "what is this\r\n\r\n").starts_with("HTTP/1.1 400"));
  EXPECT_TRUE(whole_answer(service.port(), "GET / HTTP/1.1\r\n\r\n").starts_with("HTTP/1.1 400"));
  EXPECT_TRUE(whole_answer(service.port(), "GET / HTTP/1.1\r\n" + host +
                                               "Content-Length: 1\r\nContent-Length: 2\r\n\r\n")
                  .starts_with("HTTP/1.1 400"));
  EXPECT_EQ(service.get("/api/health").at("status"), "ok");
}

TEST(Limits, ASlowSenderIsCutOffAndDisturbsNobody) {
  net::NetLimits limits;
  limits.request_time = std::chrono::milliseconds(600);
  LiveService service(limits);
  RawSocket slow(service.port());
  const auto began = std::chrono::steady_clock::now();
  slow.send("POST /api/jobs HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\n");
  // A byte now and then doesn't buy more time.
  while (slow.send("x") && std::chrono::steady_clock::now() - began < std::chrono::seconds(5)) {
    EXPECT_EQ(service.get("/api/health").at("status"), "ok");
    if (slow.take_all(Millis(100)).empty() && slow.closed()) break;
  }
  EXPECT_LT(std::chrono::steady_clock::now() - began, std::chrono::seconds(4));
}

TEST(Limits, OneConnectionServesManyRequests) {
  LiveService service;
  RawSocket socket(service.port());
  for (int k = 0; k < 3; ++k) {
    socket.send("GET /api/alarms HTTP/1.1\r\nHost: localhost\r\n\r\n");
    const std::string head = socket.take_until("\r\n\r\n");
    EXPECT_TRUE(head.starts_with("HTTP/1.1 200")) << head;
    EXPECT_EQ(socket.take_until("}"), R"({"alarms":[]})"
                                      "");
  }
  socket.send("HEAD /api/alarms HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
  const std::string answer = socket.take_all();
  EXPECT_NE(answer.find("Content-Length: 13"), std::string::npos) << answer;
  EXPECT_TRUE(answer.ends_with("\r\n\r\n"));
}

}  // namespace
}  // namespace tagline::test
