// Floor files over HTTP: checked in the words of the command, kept as a draft that two people can't
// take from each other, weighed against what runs, published.
#include <thread>

#include "tests/interop/office_floor.hpp"
#include "tests/support/command.hpp"

namespace tagline::test {
namespace {

TEST(FloorDesk, ChecksInTheWordsOfTheCommand) {
  const OfficeService works;
  const json answer = json::parse(
      works.service.as("Berta", "POST", "/api/floor/check", text_in(works.floor())).body);
  const Ran command =
      run(std::string(TAGLINE_PROGRAM) + " check " + works.floor().string() + " --json --carts 2");
  json said = json::parse(command.output);
  said.at("floor").erase("file");
  EXPECT_EQ(answer.at("check"), said);
  EXPECT_GT(said.at("findings").size(), 0u);
  EXPECT_EQ(answer.at("may_run"), said.at("may_run"));
  EXPECT_EQ(answer.at("wrong"), json::array());
  EXPECT_EQ(answer.at("too_long"), false);
}

TEST(FloorDesk, AFileThatIsNoFloorIsToldPlaceByPlace) {
  const OfficeService works;
  json file = works.floor_file();
  file["segments"][3]["to"] = "P99";
  file["points"][0]["colour"] = "red";
  const json answer =
      json::parse(works.service.as("Berta", "POST", "/api/floor/check", file.dump()).body);
  EXPECT_EQ(answer.at("may_run"), false);
  EXPECT_EQ(answer.at("check"), nullptr);
  std::vector<std::string> places;
  for (const json& one : answer.at("wrong")) places.push_back(one.at("pointer"));
  EXPECT_NE(std::find(places.begin(), places.end(), "/segments/3/to"), places.end());
  EXPECT_NE(std::find(places.begin(), places.end(), "/points/0/colour"), places.end());
  const json no_json = json::parse(works.service.as("Berta", "POST", "/api/floor/check", "{").body);
  EXPECT_EQ(no_json.at("wrong").size(), 1u);
}

TEST(FloorDesk, ACheckThatTakesTooLongIsLeftOff) {
  const OfficeService works(std::chrono::milliseconds(1));
  const json answer = json::parse(
      works.service.as("Berta", "POST", "/api/floor/check", text_in(works.floor())).body);
  EXPECT_EQ(answer.at("too_long"), true);
  EXPECT_EQ(answer.at("may_run"), false);
}

TEST(FloorDesk, OneCheckOfAPersonAtATime) {
  const OfficeService works;
  const std::string document = text_in(works.floor());
  std::atomic<int> done{0}, refused{0};
  std::vector<std::thread> tabs;
  for (int k = 0; k < 4; ++k)
    tabs.emplace_back([&] {
      const auto answer = works.service.as("Berta", "POST", "/api/floor/check", document);
      if (answer.status == 200) ++done;
      if (answer.status == 429 && answer.header("Retry-After") == "1") ++refused;
    });
  for (std::thread& tab : tabs) tab.join();
  EXPECT_GE(done, 1);
  EXPECT_GE(refused, 1);
  EXPECT_EQ(done + refused, 4);
}

TEST(FloorDesk, OnlyABuilderMaySendAWholeFloor) {
  const OfficeService works;
  json file = works.floor_file();
  file["name"] = std::string(600 * 1024, 'x');
  const std::string large = file.dump(), too_large(1100 * 1024, ' ');
  EXPECT_EQ(works.service.as("Berta", "POST", "/api/floor/check", large).status, 200);
  EXPECT_EQ(works.service.as("Sam", "POST", "/api/floor/check", large).status, 413);
  EXPECT_EQ(works.service.ask("POST", "/api/floor/check", large).status, 413);
  EXPECT_EQ(works.service.as("Berta", "POST", "/api/floor/check", too_large).status, 413);
  EXPECT_EQ(works.service.as("Berta", "POST", "/api/jobs", large).status, 413);
  Headers without_csrf = browser_of(works.service, "session of Berta");
  without_csrf.pop_back();
  EXPECT_EQ(works.service.ask("POST", "/api/floor/check", large, without_csrf).status, 413);
}

TEST(FloorDesk, ADraftIsKeptAsItWasSentAndNobodysIsLost) {
  const OfficeService works;
  const auto first = works.service.as("Berta", "GET", "/api/floor/draft");
  EXPECT_EQ(first.header("ETag"), "\"0\"");
  EXPECT_EQ(json::parse(first.body).at("saved_by"), nullptr);
  EXPECT_EQ(json::parse(first.body).at("floor"), works.floor_file());

  EXPECT_EQ(works.service.as("Berta", "PUT", "/api/floor/draft", "{}").status, 428);
  EXPECT_EQ(works.save("Berta", "{}", "x").status, 400);
  EXPECT_EQ(works.save("Berta", "[1]", "0").status, 400);
  EXPECT_EQ(works.save("Berta", "{\"a\":", "0").status, 400);

  // Wrong as a floor, and still a draft: who draws isn't ready yet.
  const std::string half = R"({"format": "tagline-floor/1",  "points": [], "mine": 1e3})";
  const auto saved = works.save("Berta", half, "0");
  EXPECT_EQ(saved.status, 200) << saved.body;
  EXPECT_EQ(saved.header("ETag"), "\"1\"");
  const auto again = works.service.as("Berta", "GET", "/api/floor/draft");
  EXPECT_NE(again.body.find(half), std::string::npos) << again.body;
  EXPECT_EQ(json::parse(again.body).at("saved_by"), "Berta");

  const auto late = works.save("Berta", "{}", "0");
  EXPECT_EQ(late.status, 412);
  EXPECT_EQ(problem_of(late), "other_version");
  EXPECT_NE(late.body.find("Berta saved version 1"), std::string::npos) << late.body;
  EXPECT_EQ(works.get("/api/floor/draft").at("version"), 1);
  EXPECT_EQ(text_in(works.floor()), floor::format_floor(LiveService::sample_plant()->floor));
}

TEST(FloorDesk, SaysWhatPublishingWouldDo) {
  const OfficeService works;
  const json queued = json::parse(
      works.service.as("Otto", "POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})").body);
  ASSERT_EQ(works.service.as("Otto", "POST", "/api/stations/DRY/loads", R"({"loads":2})").status,
            200);
  RawWebSocket cart = works.service.cart_link();
  cart.send_text(LiveService::hello(1));
  ASSERT_TRUE(next_of_type(cart, "welcome").is_object());
  ASSERT_EQ(works.service.as("Sam", "POST", "/api/carts/cart-1/place", R"({"point":"P7"})").status,
            200);

  json file = works.floor_file();
  for (json& station : file["stations"])
    if (station["id"] == "DRY") station["id"] = "DRYING";
  file["demand"][0]["to"] = "DRYING";
  for (json& point : file["points"])
    if (point["id"] == "P7") point["y"] = 2010;
  ASSERT_EQ(works.save("Berta", file.dump(), "0").status, 200);
  const json changes = works.get("/api/floor/draft/changes");
  EXPECT_EQ(changes.at("version"), 1);
  EXPECT_EQ(changes.at("against"), json::array()) << changes.dump(1);
  EXPECT_EQ(changes.at("places_anew"), true);
  std::vector<std::string> things;
  for (const json& thing : changes.at("things")) things.push_back(thing.at("text"));
  EXPECT_EQ(things, (std::vector<std::string>{
                        "point P7 is altered: y.", "station DRYING is new.", "station DRY is gone.",
                        "demand CAST to DRYING is new.", "demand CAST to DRY is gone."}));
  ASSERT_EQ(changes.at("jobs").size(), 1u);
  EXPECT_EQ(changes.at("jobs")[0].at("id"), queued.at("id"));
  EXPECT_EQ(changes.at("jobs")[0].at("becomes"), "cancelled");
  ASSERT_EQ(changes.at("loads").size(), 1u);
  EXPECT_EQ(changes.at("loads")[0].at("station"), "DRY");
  ASSERT_EQ(changes.at("carts").size(), 1u);
  EXPECT_EQ(changes.at("carts")[0].at("id"), "cart-1");
  EXPECT_EQ(changes.at("carts")[0].at("point"), "P7");
  EXPECT_EQ(changes.at("carts")[0].at("on_gone_track"), true);
}

TEST(FloorDesk, ANameOrASpeedPlacesNobodyAnew) {
  const OfficeService works;
  json file = works.floor_file();
  file["name"] = "Another name";
  file["cart"]["speed"] = 390;
  for (json& segment : file["segments"]) segment["speed"] = 390;
  ASSERT_EQ(works.save("Berta", file.dump(), "0").status, 200);
  const json changes = works.get("/api/floor/draft/changes");
  EXPECT_EQ(changes.at("places_anew"), false);
  EXPECT_EQ(changes.at("things").size(), 2 + file["segments"].size());
  EXPECT_EQ(changes.at("carts"), json::array());
}

TEST(FloorDesk, RefusesToPublishWhatCartsCantRunOn) {
  const OfficeService works;
  const auto refused = [&](const std::string& document, const std::string& version,
                           const std::string& why) {
    ASSERT_EQ(works.save("Berta", document, version).status, 200);
    const std::string next = std::to_string(std::stoi(version) + 1);
    const auto answer =
        works.service.as("Berta", "POST", "/api/floor/draft/publish", "{\"version\":" + next + "}");
    EXPECT_EQ(answer.status, 422);
    EXPECT_EQ(problem_of(answer), "not_publishable");
    EXPECT_NE(answer.body.find(why), std::string::npos) << answer.body;
    EXPECT_NE(works.get("/api/floor/draft/changes").at("against").dump().find(why),
              std::string::npos);
  };
  EXPECT_EQ(
      works.service.as("Berta", "POST", "/api/floor/draft/publish", R"({"version":7})").status,
      412);
  json no_floor = works.floor_file();
  no_floor["segments"][3]["to"] = "P99";
  refused(no_floor.dump(), "0", "/segments/3/to");
  json no_tag = works.floor_file();
  for (json& point : no_tag["points"])
    if (point["id"] == "P5") point["tags"] = json::array();  // of a station
  refused(no_tag.dump(), "1", "tag");
  json no_home = works.floor_file();
  for (json& point : no_home["points"])
    if (point["id"] == "H1") point["id"] = "H9";
  for (json& segment : no_home["segments"])
    for (const char* end : {"from", "to"})
      if (segment[end] == "H1") segment[end] = "H9";
  refused(no_home.dump(), "2", "The fleet file does not fit this floor");
  EXPECT_EQ(works.floor_file(),
            json::parse(floor::format_floor(LiveService::sample_plant()->floor)));
  EXPECT_EQ(works.get("/api/floor/history").at("editions").size(), 1u);
}

TEST(FloorDesk, PublishesAndEndsTheRunSoThatTheNextTakesItUp) {
  OfficeService works;
  const std::string before = text_in(works.floor());
  json file = works.floor_file();
  file["name"] = "Published";
  const std::string document = file.dump(3);
  ASSERT_EQ(works.save("Berta", document, "0").status, 200);
  const auto answer =
      works.service.as("Berta", "POST", "/api/floor/draft/publish", R"({"version":1})");
  EXPECT_EQ(answer.status, 200) << answer.body;
  EXPECT_EQ(works.service.wait(), net::Service::End::begin_anew);
  EXPECT_EQ(text_in(works.floor()), document);
  const auto entries = works.service.journal.audit(10, std::nullopt);
  const auto published = std::find_if(entries.begin(), entries.end(), [](const auto& entry) {
    return entry.what == "publish_floor" && entry.who == "Berta" && entry.outcome == "done";
  });
  EXPECT_NE(published, entries.end());

  app::PlantOffice next(works.OfficeFolder::office());
  EXPECT_EQ(next.in_use(), document);
  EXPECT_EQ(next.draft().version, 2u);
  EXPECT_FALSE(next.draft().document);
  const auto history = next.history();
  ASSERT_EQ(history.size(), 2u);
  EXPECT_EQ(history[0].by, "Berta");
  EXPECT_EQ(next.edition(2), document);
  EXPECT_EQ(next.edition(1), before);
  EXPECT_EQ(next.edition(3), std::nullopt);
}

TEST(FloorDesk, AFileChangedByHandIsNotOverwritten) {
  const OfficeService works;
  json file = works.floor_file();
  file["name"] = "By hand";
  ASSERT_EQ(works.save("Berta", file.dump(), "0").status, 200);
  std::ofstream(works.floor()) << file.dump(1);
  const auto answer =
      works.service.as("Berta", "POST", "/api/floor/draft/publish", R"({"version":1})");
  EXPECT_EQ(answer.status, 422);
  EXPECT_NE(answer.body.find("by hand"), std::string::npos);
  EXPECT_EQ(text_in(works.floor()), file.dump(1));
}

TEST(FloorDesk, WithoutAnOfficeThereIsNothingToChange) {
  const PeopledService service;
  EXPECT_EQ(service.as("Berta", "GET", "/api/floor/draft").status, 404);
  EXPECT_EQ(service.as("Berta", "GET", "/api/floor").status, 200);
}

}  // namespace
}  // namespace tagline::test
