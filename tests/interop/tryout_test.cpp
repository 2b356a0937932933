// A drawn floor tried out over HTTP: in the figures of the command, the same for the same seed,
// refused where carts can't run, ended by its bounds, by its person, or by the service's end; one
// person's at a time.
#include <future>

#include "tests/interop/office_floor.hpp"
#include "tests/support/command.hpp"

namespace tagline::test {
namespace {

const std::string tryout = "/api/floor/tryout?carts=2&hours=1";
/// Takes long enough to be ended in the meantime, on any machine.
const std::string long_tryout = "/api/floor/tryout?carts=2&hours=24&jobs=endless";

net::ClientResponse try_out(const OfficeService& works, const std::string& who,
                            const std::string& target, const std::string& document) {
  return works.service.as(who, "POST", target, document);
}

/// What runs has left its floor file on the shelf; false if nothing runs for 10 s.
bool runs(const OfficeService& works) {
  for (int k = 0; k < 500; ++k) {
    if (std::filesystem::exists(works.shelf() / "tryout.json")) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  return false;
}

bool end(const OfficeService& works, const Headers& who) {
  const auto answer = works.service.ask("POST", "/api/floor/tryout/end", "", who);
  return json::parse(answer.body).at("ended") == true;
}

TEST(Tryout, HasTheFiguresOfTheCommandAndTheMovement) {
  const OfficeService works;
  const auto answer =
      try_out(works, "Berta", tryout + "&seed=7&jobs=endless", text_in(works.floor()));
  ASSERT_EQ(answer.status, 200) << answer.body;
  const json said = json::parse(answer.body);
  const Ran command = run(std::string(TAGLINE_PROGRAM) + " simulate " + works.floor().string() +
                          " --json --carts 2 --hours 1 --seed 7 --saturate");
  json report = json::parse(command.output);
  report.erase("wall_s");
  EXPECT_EQ(said.at("report"), report);
  EXPECT_GT(report.at("deliveries"), 0);
  EXPECT_GE(said.at("max_live_carts"), 2);
  EXPECT_GT(said.at("demand_per_hour"), 0);
  const json& movement = said.at("movement");
  EXPECT_EQ(movement.at("until_s"), 1200);
  ASSERT_EQ(movement.at("carts").size(), 2u);
  for (const json& cart : movement.at("carts")) EXPECT_GT(cart.at("sightings").size(), 10u);
  EXPECT_LT(answer.body.size(), 1024u * 1024u);
  EXPECT_TRUE(std::filesystem::exists(works.shelf()));
  for (const auto& left : std::filesystem::directory_iterator(works.shelf()))
    EXPECT_FALSE(left.path().filename().string().starts_with("tryout")) << left.path();
}

TEST(Tryout, TheSameSeedAndFloorGiveTheSameFigures) {
  const OfficeService works;
  const std::string document = text_in(works.floor());
  const auto once = try_out(works, "Berta", tryout + "&seed=3", document);
  const auto again = try_out(works, "Berta", tryout + "&seed=3", document);
  const auto other = try_out(works, "Berta", tryout + "&seed=4", document);
  ASSERT_EQ(once.status, 200) << once.body;
  EXPECT_EQ(once.body, again.body);
  EXPECT_NE(json::parse(once.body).at("report").at("events"),
            json::parse(other.body).at("report").at("events"));
}

TEST(Tryout, TakesOtherJobsThanTheDemand) {
  const OfficeService works;
  json file = works.floor_file();
  file.erase("demand");
  const auto none = try_out(works, "Berta", tryout, file.dump());
  EXPECT_EQ(none.status, 422);
  EXPECT_EQ(problem_of(none), "not_runnable");
  EXPECT_NE(none.body.find("names no demand"), std::string::npos) << none.body;
  const auto endless = try_out(works, "Berta", tryout + "&jobs=endless", file.dump());
  ASSERT_EQ(endless.status, 200) << endless.body;
  EXPECT_GE(json::parse(endless.body).at("report").at("jobs_open"), 10);
  const auto few = try_out(works, "Berta", tryout + "&jobs=per_hour&jobs_per_hour=6", file.dump());
  ASSERT_EQ(few.status, 200) << few.body;
  const int asked = json::parse(few.body).at("report").at("jobs_created");
  EXPECT_GE(asked, 1);
  EXPECT_LE(asked, 18);
}

TEST(Tryout, AFloorOnWhichCartsCantRunIsRefusedWithTheFindings) {
  const OfficeService works;
  const auto refused = [&](const std::string& target, const std::string& document,
                           const std::string& why) {
    const auto answer = try_out(works, "Berta", target, document);
    EXPECT_EQ(answer.status, 422);
    EXPECT_EQ(problem_of(answer), "not_runnable");
    EXPECT_NE(answer.body.find(why), std::string::npos) << answer.body;
  };
  json no_floor = works.floor_file();
  no_floor["segments"][3]["to"] = "P99";
  refused(tryout, no_floor.dump(), "/segments/3/to");
  refused(tryout, "{", "the file breaks off");
  json no_tag = works.floor_file();
  for (json& point : no_tag["points"])
    if (point["id"] == "P5") point["tags"] = json::array();  // of a station
  refused(tryout, no_tag.dump(), "tag");
  refused("/api/floor/tryout?carts=50&hours=1", text_in(works.floor()), "it stays live with");
}

TEST(Tryout, AQueryIsReadStrictly) {
  const OfficeService works;
  const std::string document = text_in(works.floor());
  for (const char* query :
       {"", "?carts=2", "?hours=1", "?carts=0&hours=1", "?carts=101&hours=1", "?carts=2&hours=0",
        "?carts=2&hours=25", "?carts=-1&hours=1", "?carts=2&hours=1.5", "?carts=2&hours=1&seed=x",
        "?carts=2&hours=1&jobs=many", "?carts=2&hours=1&jobs=per_hour",
        "?carts=2&hours=1&jobs=per_hour&jobs_per_hour=0", "?carts=2&hours=1&jobs_per_hour=5",
        "?carts=2&hours=1&speed=3"}) {
    const auto answer = try_out(works, "Berta", std::string("/api/floor/tryout") + query, document);
    EXPECT_EQ(answer.status, 400) << query;
    EXPECT_EQ(problem_of(answer), "invalid_query") << query;
  }
}

TEST(Tryout, IsEndedByItsPersonAndOnlyByThem) {
  const OfficeService works;
  const std::string document = text_in(works.floor());
  const Headers berta = browser_of(works.service, "session of Berta");
  const Headers builder = bearer("token of builder");
  EXPECT_FALSE(end(works, berta));
  auto running = std::async(std::launch::async,
                            [&] { return try_out(works, "Berta", long_tryout, document); });
  ASSERT_TRUE(runs(works));
  EXPECT_FALSE(end(works, builder));
  const auto other = works.service.ask("POST", tryout, document, builder);
  EXPECT_EQ(other.status, 429);
  EXPECT_EQ(other.header("Retry-After"), "5");
  EXPECT_NE(other.body.find("Berta"), std::string::npos) << other.body;
  EXPECT_TRUE(end(works, berta));
  EXPECT_FALSE(end(works, berta));
  const auto answer = running.get();
  EXPECT_EQ(answer.status, 409) << answer.body.substr(0, 300);
  EXPECT_EQ(problem_of(answer), "ended");
  const auto next = works.service.ask("POST", tryout, document, builder);
  EXPECT_EQ(next.status, 200) << next.body.substr(0, 300);
}

TEST(Tryout, ANewerOneOfTheSamePersonTakesItsPlace) {
  const OfficeService works;
  const std::string document = text_in(works.floor());
  auto first = std::async(std::launch::async,
                          [&] { return try_out(works, "Berta", long_tryout, document); });
  ASSERT_TRUE(runs(works));
  const auto second = try_out(works, "Berta", tryout, document);
  EXPECT_EQ(second.status, 200) << second.body.substr(0, 300);
  EXPECT_EQ(json::parse(second.body).at("report").at("hours"), 1);
  EXPECT_EQ(problem_of(first.get()), "ended");
}

TEST(Tryout, EndsByItsBoundOfTimeOrOfTheProcessor) {
  OfficeFolder folder;
  net::TryoutWish wish;
  wish.document = text_in(folder.floor());
  wish.carts = 2;
  wish.hours = 24;
  wish.jobs = net::TryoutWish::Jobs::endless;
  const std::atomic<bool> ended{false};
  app::SideBounds no_time{};
  no_time.time = std::chrono::milliseconds(1);
  const auto late = app::run_tryout({TAGLINE_PROGRAM, folder.path, no_time}, wish, ended);
  EXPECT_EQ(late.how, net::Tryout::How::too_much);
  // More than a second of work in any build.
  wish.document = floor::format_floor(LiveService::sample_plant()->floor);
  app::SideBounds a_second{};
  a_second.processor = std::chrono::seconds(1);
  const auto began = std::chrono::steady_clock::now();
  wish.hours = 100'000;
  const auto long_run = app::run_tryout({TAGLINE_PROGRAM, folder.path, a_second}, wish, ended);
  EXPECT_EQ(long_run.how, net::Tryout::How::too_much);
  EXPECT_LT(std::chrono::steady_clock::now() - began, std::chrono::seconds(50));
  const std::atomic<bool> at_once{true};
  EXPECT_EQ(app::run_tryout({TAGLINE_PROGRAM, folder.path, {}}, wish, at_once).how,
            net::Tryout::How::ended);
}

TEST(Tryout, EndsByItsBoundOfMemory) {
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
  GTEST_SKIP() << "the bound is left out with sanitizers, whose own memory is beyond any";
#else
  OfficeFolder folder;
  net::TryoutWish wish;
  wish.document = text_in(folder.floor()) + std::string(900 * 1024, ' ');
  const std::atomic<bool> ended{false};
  app::SideBounds little{};
  // What the program takes to start, and nearly nothing more.
  for (std::uint64_t mebibyte = 16; mebibyte <= 256; ++mebibyte) {
    little.memory = mebibyte << 20;
    const auto run =
        app::run_aside(TAGLINE_PROGRAM, {"--version"}, folder.path / "out", little, ended);
    if (run && run->exit_code == 0) break;
  }
  EXPECT_EQ(app::run_tryout({TAGLINE_PROGRAM, folder.path, little}, wish, ended).how,
            net::Tryout::How::too_much);
  EXPECT_EQ(app::run_tryout({TAGLINE_PROGRAM, folder.path, {}}, wish, ended).how,
            net::Tryout::How::done);
#endif
}

TEST(Tryout, TheServiceEndsWithoutWaitingForIt) {
  auto works = std::make_unique<OfficeService>();
  const std::string document = text_in(works->floor());
  const OfficeService& running_on = *works;
  auto running = std::async(std::launch::async, [&running_on, document] {
    try {
      return try_out(running_on, "Berta", long_tryout, document).status;
    } catch (const std::exception&) {
      return 0;  // the link was closed
    }
  });
  ASSERT_TRUE(runs(*works));
  const auto began = std::chrono::steady_clock::now();
  works->service.stop();
  EXPECT_NE(running.get(), 200);
  works.reset();
  EXPECT_LT(std::chrono::steady_clock::now() - began, std::chrono::seconds(5));
}

}  // namespace
}  // namespace tagline::test
