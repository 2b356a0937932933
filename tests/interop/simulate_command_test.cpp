// `tagline simulate` and `tagline plan` as built: what they print, that equal seeds print equal
// bytes, what they refuse, and how a trace is shown again.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <boost/property_tree/ptree.hpp>
#include <boost/property_tree/xml_parser.hpp>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "server/floor/file.hpp"
#include "server/sim/fleet_trace.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::test {
namespace {

namespace fs = std::filesystem;
using json = nlohmann::json;
using ::testing::HasSubstr;
using ::testing::Not;

class SimulateCommandTest : public ::testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "tagline-simulate-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder = name;
    floor::Floor floor = loop_with_shortcut();
    floor.demand = {{{0}, {1}, 20}, {{1}, {3}, 10}};
    std::ofstream(at("floor.json")) << floor::format_floor(floor);
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
  struct Ended {
    int code{};
    std::string out, err;
  };
  Ended run(const std::string& words, const std::string& program = "'" TAGLINE_PROGRAM "'") {
    const std::string line =
        "cd '" + folder.string() + "' && " + program + " " + words + " >out 2>err </dev/null";
    const int status = std::system(line.c_str());  // NOLINT(cert-env33-c): words of this test only
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, text_of(at("out")), text_of(at("err"))};
  }
  fs::path folder;
};

TEST_F(SimulateCommandTest, PrintsEveryFigureAsJson) {
  const Ended ended = run("simulate floor.json --carts 3 --hours 2 --seed 7 --saturate --json");
  ASSERT_EQ(ended.code, 0) << ended.err;
  EXPECT_EQ(ended.err, "");
  const json j = json::parse(ended.out);
  EXPECT_EQ(j.at("carts"), 3);
  EXPECT_EQ(j.at("hours"), 2.0);
  EXPECT_EQ(j.at("seed"), 7);
  EXPECT_GT(j.at("deliveries"), 20);
  EXPECT_EQ(j.at("jobs_created").get<int>(),
            j.at("deliveries").get<int>() + j.at("jobs_open").get<int>());
  EXPECT_NEAR(j.at("deliveries_per_hour").get<double>(), j.at("deliveries").get<double>() / 2,
              1e-3);
  EXPECT_GE(j.at("bound_per_hour"), j.at("deliveries_per_hour"));
  for (const char* never : {"body_contacts", "held_conflicts", "gridlocks", "stuck_carts"}) {
    EXPECT_EQ(j.at(never), 0) << never;
  }
  const json& lead = j.at("lead_time_s");
  EXPECT_LE(lead.at("p50"), lead.at("p95"));
  EXPECT_LE(lead.at("p95"), lead.at("max"));
  EXPECT_LT(lead.at("mean"), lead.at("max"));
  double all = 0;
  for (const char* part : {"loaded", "empty", "waiting", "handling", "charging", "resting"}) {
    all += j.at("share").at(part).get<double>();
  }
  EXPECT_NEAR(all, 1, 1e-9);
  EXPECT_GT(j.at("distance_m"), 100);
  EXPECT_GT(j.at("events"), 7200);
  EXPECT_GT(j.at("wall_s"), 0);
  // The shortcut comes back to the loop at F.
  const auto& merges = j.at("merges");
  EXPECT_TRUE(std::any_of(merges.begin(), merges.end(), [](const json& merge) {
    return merge.at("point") == "F" && merge.contains("waits") && merge.contains("seconds");
  }));
}

TEST_F(SimulateCommandTest, WritesTheMovementOfOneRunAndIsNoOtherForIt) {
  const std::string words = "simulate floor.json --carts 2 --hours 1 --saturate --json";
  const json alone = json::parse(run(words).out);
  const Ended ended = run(words + " --movement movement.json");
  ASSERT_EQ(ended.code, 0) << ended.err;
  json watched = json::parse(ended.out);
  watched["wall_s"] = alone.at("wall_s");
  EXPECT_EQ(watched, alone);
  const json movement = json::parse(text_of(at("movement.json")));
  EXPECT_EQ(movement.at("format"), "tagline-movement/1");
  EXPECT_EQ(movement.at("until_s"), 1200);
  ASSERT_EQ(movement.at("carts").size(), 2u);
  EXPECT_EQ(movement.at("carts")[1].at("cart"), "cart-2");
  for (const json& cart : movement.at("carts")) {
    ASSERT_GT(cart.at("sightings").size(), 20u);
    double before = 0;
    for (const json& row : cart.at("sightings")) {
      ASSERT_EQ(row.size(), 6u);
      EXPECT_GE(row[0], before);
      before = row[0];
      EXPECT_LT(row[4], movement.at("doing").size());
    }
    EXPECT_LE(before, 1'200'000);
  }
  const Ended two = run(words + " --runs 2 --movement movement.json");
  EXPECT_EQ(two.code, 2);
  EXPECT_THAT(two.err, HasSubstr("--runs"));
  const Ended nowhere = run(words + " --movement no/such/folder.json");
  EXPECT_EQ(nowhere.code, 2);
  EXPECT_THAT(nowhere.err, HasSubstr("no/such/folder.json: can't be written"));
}

TEST_F(SimulateCommandTest, EqualSeedsPrintEqualBytesButForTheTimeTaken) {
  const auto without_time = [](const std::string& text) {
    auto j = nlohmann::ordered_json::parse(text);
    j.erase("wall_s");
    return j.dump();
  };
  const std::string words =
      "simulate floor.json --carts 3 --hours 3 --speed-noise 0.1 --miss-rate 0.05 --stall-rate 3 "
      "--drop-rate 3 --json --seed ";
  const std::string first = run(words + "5").out;
  EXPECT_EQ(without_time(first), without_time(run(words + "5").out));
  EXPECT_NE(without_time(first), without_time(run(words + "6").out));
}

TEST_F(SimulateCommandTest, TrackOutOfServiceCostsDeliveriesAndNothingElse) {
  const std::string words = "simulate floor.json --carts 3 --hours 4 --saturate --json";
  const json open = json::parse(run(words).out);
  const Ended ended = run(words + " --closing-rate 20");
  ASSERT_EQ(ended.code, 0) << ended.err;
  const json closed = json::parse(ended.out);
  EXPECT_LT(closed.at("deliveries_per_hour"), open.at("deliveries_per_hour"));
  EXPECT_EQ(closed.at("body_contacts"), 0);
}

TEST_F(SimulateCommandTest, SeveralRunsGiveMeansAndIntervals) {
  const Ended ended = run("simulate floor.json --carts 2 --hours 2 --runs 4 --json");
  ASSERT_EQ(ended.code, 0) << ended.err;
  const json j = json::parse(ended.out);
  ASSERT_EQ(j.at("each").size(), 4u);
  double sum = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_EQ(j.at("each")[i].at("seed"), 1 + i);
    sum += j.at("each")[i].at("deliveries_per_hour").get<double>();
  }
  const json& estimate = j.at("estimates").at("deliveries_per_hour");
  EXPECT_NEAR(estimate.at("mean").get<double>(), sum / 4, 1e-3);
  EXPECT_GT(estimate.at("half_width_95"), 0);
  EXPECT_EQ(j.at("body_contacts"), 0);
}

TEST_F(SimulateCommandTest, PrintsATableForPeople) {
  const Ended ended = run("simulate floor.json --carts 2 --hours 1 --jobs-per-hour 12");
  EXPECT_EQ(ended.code, 0);
  EXPECT_THAT(ended.out, HasSubstr("Loop with a shortcut: 2 carts, 1 h, seed 1, 12 jobs"));
  EXPECT_THAT(ended.out, HasSubstr("deliveries"));
  EXPECT_THAT(ended.out, HasSubstr("0 contacts of bodies"));
}

TEST_F(SimulateCommandTest, NonsenseIsRefusedInOneLine) {
  std::ofstream(at("quiet.json")) << floor::format_floor(loop_with_bay());
  std::ofstream(at("broken.json")) << "{}";
  const auto refused = [&](const std::string& words, const std::string& says) {
    const Ended ended = run(words);
    EXPECT_EQ(ended.code, 2) << words;
    EXPECT_EQ(ended.out, "");
    EXPECT_THAT(ended.err, HasSubstr(says)) << words;
    EXPECT_THAT(ended.err, ::testing::StartsWith("tagline: "));
  };
  refused("simulate", "floor file");
  refused("simulate floor.json", "--carts");
  refused("simulate floor.json --carts 0", "--carts");
  refused("simulate floor.json --carts 400 --saturate", "stays live with at most");
  refused("simulate floor.json --carts 2 --hours -1", "--hours");
  refused("simulate floor.json --carts 2 --miss-rate 2", "--miss-rate");
  refused("simulate floor.json --carts 2 --saturate --jobs-per-hour 3", "one of the two");
  refused("simulate quiet.json --carts 2", "no demand");
  refused("simulate broken.json --carts 2", "broken.json");
  refused("simulate nowhere.json --carts 2", "nowhere.json");
  refused("simulate --replay nowhere.trace", "nowhere.trace");
  refused("simulate --replay broken.json", "line 1");
  refused("plan quiet.json", "no demand");
  refused("plan floor.json --demand-factor 0", "--demand-factor");
}

TEST_F(SimulateCommandTest, ATraceIsShownAgain) {
  const floor::Floor floor = std::get<floor::Floor>(floor::load_floor(at("floor.json")));
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  sim::FleetRunOptions options;
  options.carts = 2;
  options.hours = 0.2;
  options.jobs = sim::FleetRunOptions::Jobs::saturate;
  std::string lines = sim::trace_header(options, floor::format_floor(floor)) + "\n";
  std::size_t count = 1;
  sim::run_fleet(track, options, {}, [&](Instant now, const control::Event& event) {
    lines += sim::trace_line(now, event) + "\n";
    ++count;
  });
  std::ofstream(at("found.trace"))
      << lines << sim::trace_end(720, "cart-1 and cart-2 touched") << "\n";
  const Ended found = run("simulate --replay found.trace");
  EXPECT_EQ(found.code, 3);
  EXPECT_THAT(found.out, HasSubstr("cart-1 and cart-2 touched"));
  EXPECT_THAT(found.out, HasSubstr("cart-2: "));
  // Time that goes back is what the core refuses with an exception.
  std::ofstream(at("thrown.trace"))
      << lines << sim::trace_line(sim::run_begins, control::Tick{}) << "\n";
  const Ended thrown = run("simulate --replay thrown.trace");
  EXPECT_EQ(thrown.code, 3);
  EXPECT_THAT(thrown.out, HasSubstr("breaks at line " + std::to_string(count + 1)));
}

/// The lines of a trace: the header, one for each event, what broke.
std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

// The crossing left out of the tables: two bodies touch there, which only the referee can see.
TEST_F(SimulateCommandTest, AContactIsWrittenAndShownAgain) {
  const std::string faulty = "'" TAGLINE_WITH_FAULTS "'";
  std::ofstream(at("eight.json")) << floor::format_floor(figure_of_eight());
  const std::string words = "simulate eight.json --carts 3 --hours 4 --saturate --seed 1";
  EXPECT_EQ(run(words).code, 0) << "without the fault";
  EXPECT_FALSE(fs::exists(at("simulate.trace")));

  const Ended broken = run(words, faulty);
  ASSERT_EQ(broken.code, 3);
  EXPECT_THAT(broken.err, HasSubstr("simulate --replay simulate.trace"));
  EXPECT_THAT(broken.err, Not(HasSubstr("did not repeat itself")));
  const std::vector<std::string> lines = lines_of(text_of(at("simulate.trace")));
  ASSERT_GT(lines.size(), 50u);
  const sim::TraceLine end = sim::read_trace_line(lines.back());
  ASSERT_FALSE(end.event);
  EXPECT_THAT(end.broken, HasSubstr("touched"));
  EXPECT_THAT(broken.err, HasSubstr(end.broken));

  const Ended again = run("simulate --replay simulate.trace", faulty);
  EXPECT_EQ(again.code, 3);
  EXPECT_THAT(again.out,
              HasSubstr("The core took all " + std::to_string(lines.size() - 2) + " events"));
  EXPECT_THAT(again.out, HasSubstr(end.broken));
  // The books made anew from the events show two carts on the tapes that cross, one on each.
  std::set<std::string> on_the_crossing;
  for (const std::string& line : lines_of(again.out)) {
    const std::string holds = line.substr(std::min(line.size(), line.find("; holds")));
    for (const char* tape : {"BC", "HI"})
      if (holds.find(std::string(" ") + tape) != std::string::npos) on_the_crossing.insert(tape);
  }
  EXPECT_THAT(on_the_crossing, ::testing::ElementsAre("BC", "HI")) << again.out;
}

// A conflict known one way only: the core itself finds its books broken.
TEST_F(SimulateCommandTest, ABreakInTheCoreBreaksAtTheSameEventAgain) {
  const std::string faulty = "TAGLINE_FAULT=one-sided '" TAGLINE_WITH_FAULTS "'";
  const std::string words = "simulate floor.json --carts 3 --hours 4 --saturate --seed 1";
  ASSERT_EQ(run(words + " --trace core.trace", faulty).code, 3);
  const std::vector<std::string> lines = lines_of(text_of(at("core.trace")));
  ASSERT_GT(lines.size(), 100u);
  const std::string broken = sim::read_trace_line(lines.back()).broken;
  const std::string by_the_core = "the core broke an invariant: ";
  ASSERT_THAT(broken, ::testing::StartsWith(by_the_core));

  const Ended again = run("simulate --replay core.trace", faulty);
  EXPECT_EQ(again.code, 3);
  // The event before the last line is the one it breaks at.
  EXPECT_THAT(again.out,
              HasSubstr("The core breaks at line " + std::to_string(lines.size() - 1) + ": " +
                        broken.substr(by_the_core.size()) + "\n  " + lines[lines.size() - 2]));
}

TEST_F(SimulateCommandTest, PlansTheFleet) {
  const Ended ended = run("plan floor.json --hours 1 --runs 2 --json --svg plan.svg");
  ASSERT_EQ(ended.code, 0) << ended.err;
  const json j = json::parse(ended.out);
  EXPECT_EQ(j.at("demand_per_hour"), 30.0);
  const json& textbook = j.at("textbook");
  EXPECT_NEAR(textbook.at("cycle_s").get<double>(),
              textbook.at("handling_s").get<double>() + textbook.at("loaded_s").get<double>() +
                  textbook.at("empty_s").get<double>(),
              1e-9);
  EXPECT_NEAR(textbook.at("handling_s").get<double>(), 30, 1e-9);
  EXPECT_NEAR(textbook.at("exact").get<double>(),
              textbook.at("workload_s_per_hour").get<double>() /
                  textbook.at("available_s_per_hour").get<double>(),
              1e-9);
  const auto needed = j.at("carts_needed").get<std::size_t>();
  const json& fleets = j.at("fleets");
  ASSERT_GE(fleets.size(), needed);
  for (std::size_t i = 0; i < fleets.size(); ++i) {
    EXPECT_EQ(fleets[i].at("carts"), i + 1);
    const json& can = fleets[i].at("capacity_per_hour");
    EXPECT_LE(can.at("mean"), fleets[i].at("bound_per_hour"));
    EXPECT_TRUE(i + 1 >= needed || !fleets[i].at("carries").get<bool>());
  }
  EXPECT_TRUE(fleets[needed - 1].at("carries"));
  EXPECT_NE(j.at("bottleneck").at("text"), "");
  boost::property_tree::ptree svg;
  EXPECT_NO_THROW(boost::property_tree::read_xml(at("plan.svg"), svg));
  EXPECT_THAT(text_of(at("plan.svg")), HasSubstr("carts carry the demand"));
  // Far more than the floor can carry: exit code 1, and it says so.
  const Ended too_much = run("plan floor.json --hours 0.5 --runs 2 --demand-factor 15");
  EXPECT_EQ(too_much.code, 1);
  EXPECT_THAT(too_much.out, HasSubstr("No number of carts"));
}

}  // namespace
}  // namespace tagline::test
