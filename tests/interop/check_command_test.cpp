// `tagline check`: exit codes, JSON, text and drawing of the built program, and which number of
// carts is looked at. The findings themselves are tested in tests/unit/inspection.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <boost/property_tree/xml_parser.hpp>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "server/app/check_result.hpp"
#include "server/floor/file.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::test {
namespace {

namespace fs = std::filesystem;
using json = nlohmann::json;
using ::testing::EndsWith;
using ::testing::HasSubstr;
using ::testing::Not;

/// A ring of one-way tape with a siding beside it, stations on bypasses, all reachable.
FloorBuilder ring() {
  FloorBuilder b;
  b.name("Glaze <kitchen> & kiln");
  b.point("A", 0, 0).point("B", 3000, 0).point("C", 6500, 0).point("D", 10'000, 0);
  b.point("E", 10'000, 6000).point("F", 0, 6000);
  b.point("R", 6500, -1500).siding();
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EF", "E", "F").segment("FA", "F", "A");
  b.segment("BR", "B", "R").via({{4500, -1500}}).segment("RD", "R", "D").via({{8500, -1500}});
  b.station("CAST", "E").station("DRY", "F");
  return b;
}

class CheckCommandTest : public ::testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "tagline-check-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder = name;
  }
  void TearDown() override {
    std::error_code ignored;
    fs::remove_all(folder, ignored);
  }
  [[nodiscard]] std::string at(const std::string& name) const { return (folder / name).string(); }
  [[nodiscard]] static std::string text_of(const std::string& path) {
    std::ifstream in(path);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  std::string write(const floor::Floor& floor) {
    std::ofstream(at("floor.json")) << floor::format_floor(floor);
    return at("floor.json");
  }
  static std::string demo() { return TAGLINE_SOURCE_DIR "/deploy/demo.floor.json"; }

  struct Ended {
    int code{};
    std::string out, errors;
  };
  Ended check(std::vector<std::string> words) {
    words.insert(words.begin(), {TAGLINE_PROGRAM, "check"});
    std::vector<char*> argv;
    for (std::string& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    const std::string out = at("stdout"), errors = at("stderr");
    const pid_t pid = fork();
    if (pid == 0) {
      if (!std::freopen(out.c_str(), "w", stdout) || !std::freopen(errors.c_str(), "w", stderr))
        _exit(126);
      execv(argv[0], argv.data());
      _exit(127);
    }
    int status = 0;
    waitpid(pid, &status, 0);
    return {WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status), text_of(out),
            text_of(errors)};
  }
  /// Of the first finding of the kind.
  static std::string severity_of(const json& result, const std::string& kind) {
    for (const json& finding : result.at("findings"))
      if (finding.at("kind") == kind) return finding.at("severity");
    return "none";
  }
  fs::path folder;
};

TEST_F(CheckCommandTest, DemoWorksMayRun) {
  const Ended ended = check({demo(), "--json"});
  EXPECT_EQ(ended.code, 0) << ended.errors;
  const json result = json::parse(ended.out);
  EXPECT_TRUE(result.at("may_run").get<bool>());
  EXPECT_EQ(result.at("floor").at("stations"), 8);
  EXPECT_GE(result.at("max_live_carts").get<int>(), 5);
  EXPECT_FALSE(result.at("limit_reason").get<std::string>().empty());
  EXPECT_NEAR(result.at("demand_per_hour").get<double>(), 40, 1e-9);
  EXPECT_EQ(result.at("carts"), 2);  // 36.3 an hour with one
  EXPECT_GT(result.at("bound_per_hour").get<double>(), 40);
  for (const json& finding : result.at("findings")) {
    EXPECT_NE(finding.at("severity"), "forbids");
    for (const char* key : {"place", "rule", "figure", "remedy", "source", "kind"})
      EXPECT_FALSE(finding.at(key).get<std::string>().empty()) << key;
  }
  EXPECT_EQ(result.at("merges").size(), 12u);
  ASSERT_EQ(result.at("crossings").size(), 1u);
  EXPECT_EQ(result.at("crossings")[0].at("approaches")[0].at("foul_mm"), 400);
}

TEST_F(CheckCommandTest, MoreCartsThanStayLiveAreForbidden) {
  const json usual = json::parse(check({demo(), "--json"}).out);
  const int most = usual.at("max_live_carts");
  EXPECT_EQ(check({demo(), "--carts", std::to_string(most)}).code, 0);
  const Ended ended = check({demo(), "--carts", std::to_string(most + 1), "--json"});
  EXPECT_EQ(ended.code, 1);
  const json result = json::parse(ended.out);
  ASSERT_FALSE(result.at("findings").empty());
  EXPECT_EQ(result.at("findings")[0].at("severity"), "forbids");
  EXPECT_EQ(result.at("findings")[0].at("kind"), "too-many-carts");
  EXPECT_EQ(result.at("carts"), most + 1);
}

TEST_F(CheckCommandTest, TheBoundGrowsWithTheCartsUpToTheTracks) {
  const json one = json::parse(check({demo(), "--carts", "1", "--json"}).out);
  const json five = json::parse(check({demo(), "--carts", "5", "--json"}).out);
  EXPECT_NEAR(five.at("bound_per_hour").get<double>(), 5 * one.at("bound_per_hour").get<double>(),
              1e-6);
  // 36.3 an hour with one, for a demand of 40.
  EXPECT_EQ(severity_of(one, "demand-too-high"), "costs");
  EXPECT_EQ(severity_of(five, "demand-too-high"), "none");
}

TEST_F(CheckCommandTest, DemandThatTheTrackCantCarry) {
  FloorBuilder b = ring();
  b.handling(Duration{60'000}, Duration{60'000}).demand("CAST", "DRY", 50);
  const Ended ended = check({write(b.build()), "--carts", "9", "--json"});
  const json result = json::parse(ended.out);
  // A minute and more at DRY for each: less than 60 an hour, however many carts there are.
  EXPECT_LT(result.at("track_bound_per_hour").get<double>(), 50);
  bool found = false;
  for (const json& finding : result.at("findings"))
    if (finding.at("kind") == "demand-too-high") {
      found = true;
      EXPECT_THAT(finding.at("place").get<std::string>(), HasSubstr("track around"));
    }
  EXPECT_TRUE(found);
}

TEST_F(CheckCommandTest, AFloorOnWhichCartsGetStuckIsForbidden) {
  FloorBuilder b = ring();
  b.point("X", 14'000, 9000).segment("EX", "E", "X").station("PACK", "X");
  b.demand("CAST", "PACK", 1);
  const std::string file = write(b.build());
  const Ended text = check({file});
  EXPECT_EQ(text.code, 1);
  EXPECT_THAT(text.out, HasSubstr("station PACK at X"));
  EXPECT_THAT(text.out, testing::ContainsRegex("Carts must not run yet: [0-9]+ findings? must be"));
  const json result = json::parse(check({file, "--json"}).out);
  EXPECT_FALSE(result.at("may_run").get<bool>());
  EXPECT_TRUE(result.at("bound_per_hour").is_null());
  EXPECT_THAT(result.at("no_bound_because").get<std::string>(), HasSubstr("PACK"));
}

TEST_F(CheckCommandTest, APlainLoopBearsCartsThatMoveOn) {
  const std::string file = write(plain_loop());
  const json usual = json::parse(check({file, "--json"}).out);
  const int most = usual.at("max_live_carts");
  ASSERT_GE(most, 2);
  EXPECT_TRUE(usual.at("rests").empty());
  EXPECT_TRUE(usual.at("moving_on").get<bool>());
  EXPECT_TRUE(usual.at("may_run").get<bool>());
  EXPECT_EQ(severity_of(usual, "moving-on"), "costs");
  const Ended fits = check({file, "--carts", std::to_string(most)});
  EXPECT_EQ(fits.code, 0);
  EXPECT_THAT(fits.out, HasSubstr("A siding for each of them would be better"));
  const Ended over = check({file, "--carts", std::to_string(most + 1), "--json"});
  EXPECT_EQ(over.code, 1);
  EXPECT_EQ(severity_of(json::parse(over.out), "too-many-carts"), "forbids");
  EXPECT_EQ(severity_of(json::parse(over.out), "moving-on"), "none");
}

/// A siding on the loop itself is none, but forbids only where carts can't live without it.
TEST_F(CheckCommandTest, ASidingThatIsNoneForbidsOnlyMoreCartsThanStayLive) {
  floor::Floor floor = plain_loop();
  floor.points.at(0).siding = true;
  const std::string file = write(floor);
  const int most = json::parse(check({file, "--json"}).out).at("max_live_carts");
  ASSERT_GE(most, 2);
  const auto with = [&](int carts, int code) {
    const Ended ended = check({file, "--carts", std::to_string(carts), "--json"});
    EXPECT_EQ(ended.code, code) << carts;
    return json::parse(ended.out);
  };
  const auto figure_of = [](const json& result) {
    for (const json& finding : result.at("findings"))
      if (finding.at("kind") == "no-siding") return finding.at("figure").get<std::string>();
    return std::string();
  };
  EXPECT_EQ(severity_of(with(1, 0), "no-siding"), "costs");
  EXPECT_THAT(figure_of(with(1, 0)), EndsWith("every station can still be served."));
  EXPECT_EQ(severity_of(with(most, 0), "no-siding"), "costs");
  EXPECT_THAT(figure_of(with(most, 0)), EndsWith("idle carts move on ahead of working ones."));
  EXPECT_EQ(severity_of(with(most + 1, 1), "no-siding"), "forbids");
  EXPECT_THAT(figure_of(with(most + 1, 1)), Not(HasSubstr("stays live")));
}

TEST_F(CheckCommandTest, NoCartIsSentToRestOnASidingThatIsNone) {
  FloorBuilder b = ring();
  b.point("X", 10'000, 3000).siding();
  // From D to E all must go over X now. R and Q are sidings as they should be.
  b.segment("DX", "D", "X").segment("XE", "X", "E");
  b.point("Q", 5000, 8000).siding();
  b.segment("EQ", "E", "Q").via({{8000, 8000}}).segment("QF", "Q", "F").via({{2000, 8000}});
  floor::Floor floor = b.build();
  std::erase_if(floor.segments, [](const floor::Segment& s) { return s.id == "DE"; });
  const Ended ended = check({write(floor), "--carts", "1", "--json"});
  EXPECT_EQ(ended.code, 0);
  EXPECT_EQ(severity_of(json::parse(ended.out), "no-siding"), "costs");
  EXPECT_THAT(ended.out, HasSubstr("no cart is sent there to rest."));
}

TEST_F(CheckCommandTest, TheTextNamesEveryFindingAndEndsWithASummary) {
  for (floor::Floor& floor : small_floors()) {
    const std::string file = write(floor);
    const Ended text = check({file});
    const Ended data = check({file, "--json"});
    EXPECT_EQ(text.code, data.code);
    std::size_t at = 0;
    const json result = json::parse(data.out);
    for (const json& finding : result.at("findings")) {
      // Long places are wrapped: the start of each will do.
      const std::string place = finding.at("place").get<std::string>().substr(0, 20);
      EXPECT_THAT(text.out, HasSubstr(place));
      ++at;
    }
    EXPECT_GT(at, 0u) << floor.name;
    EXPECT_THAT(text.out, HasSubstr(floor.name));
    const std::size_t last = text.out.rfind('\n', text.out.size() - 2) + 1;
    EXPECT_THAT(text.out.substr(last),
                ::testing::MatchesRegex("Carts (may run|must not run yet): .* worth knowing\\.\n"));
    for (std::istringstream lines(text.out); !lines.eof();) {
      std::string line;
      std::getline(lines, line);
      EXPECT_LE(line.size(), 100u) << line;
      EXPECT_THAT(line, Not(EndsWith(" ")));
    }
  }
}

TEST_F(CheckCommandTest, TheDrawingIsWellFormedAndHasEveryFinding) {
  FloorBuilder b = ring();
  b.point("X", 1500, 40).point("Y", 6500, 3000).segment("CY", "C", "Y");
  const std::string svg = at("floor.svg");
  const Ended ended = check({write(b.build()), "--json", "--svg", svg});
  boost::property_tree::ptree tree;
  ASSERT_NO_THROW(boost::property_tree::read_xml(svg, tree));
  const auto& root = tree.get_child("svg");
  EXPECT_THAT(root.get<std::string>("title"), HasSubstr("Glaze <kitchen> & kiln"));
  std::string words;
  for (const auto& [name, child] : root)
    if (name == "text") words += child.data() + "\n";
  const json result = json::parse(ended.out);
  EXPECT_GE(result.at("findings").size(), 2u);
  for (const json& finding : result.at("findings"))
    EXPECT_THAT(words, HasSubstr(finding.at("place").get<std::string>()));
  for (const char* id : {"CAST", "DRY"}) EXPECT_THAT(words, HasSubstr(id));
}

TEST_F(CheckCommandTest, WhatIsNoFloorEndsWithTwo) {
  EXPECT_EQ(check({}).code, 2);
  EXPECT_EQ(check({at("none.json")}).code, 2);
  std::ofstream(at("bad.json")) << R"({"format": "tagline-floor/1", "name": "x", "colour": 1})";
  const Ended ended = check({at("bad.json")});
  EXPECT_EQ(ended.code, 2);
  EXPECT_TRUE(ended.out.empty());
  EXPECT_THAT(ended.errors, HasSubstr("colour"));
  EXPECT_EQ(check({demo(), "--carts", "0"}).code, 2);
  EXPECT_EQ(check({demo(), "--carts", "many"}).code, 2);
  const Ended nowhere = check({demo(), "--svg", at("no/such/folder.svg")});
  EXPECT_EQ(nowhere.code, 2);
  EXPECT_THAT(nowhere.errors, HasSubstr("--svg"));
}

TEST(CheckResult, TakesAsManyCartsAsTheDemandNeedsOrTheFloorCarries) {
  const auto carts_of = [](const FloorBuilder& builder) {
    const app::Plant plant{builder.build()};
    return std::pair{app::check_floor(plant.track, {}), app::check_floor(plant.track, 3)};
  };
  // Without demand: all it can carry.
  const auto [plain, three] = carts_of(ring());
  EXPECT_EQ(plain.carts, std::max<std::size_t>(1, plain.limit.carts));
  EXPECT_FALSE(plain.carts_given);
  EXPECT_EQ(three.carts, 3u);
  EXPECT_TRUE(three.carts_given);
  // E to F is 10 m, F to E 22 m: with 30 s of handling and 2 s of ramps 112 s, 32.1 an hour.
  FloorBuilder b = ring();
  b.demand("CAST", "DRY", 32);
  EXPECT_EQ(carts_of(b).first.carts_for_demand, 1u);
  FloorBuilder more = ring();
  more.demand("CAST", "DRY", 33);
  EXPECT_EQ(carts_of(more).first.carts_for_demand, 2u);
  EXPECT_LE(carts_of(more).first.carts, std::max<std::size_t>(1, plain.limit.carts));
}

}  // namespace
}  // namespace tagline::test
