// `tagline replay`: the built program on the journal of a real service that ran, was stopped, and
// was killed; what it lists, shows, finds and refuses.
#include <SQLiteCpp/SQLiteCpp.h>
#include <sys/wait.h>

#include <csignal>
#include <fstream>
#include <sstream>

#include "server/net/time_text.hpp"
#include "tests/interop/live_service.hpp"
#include "tests/support/command.hpp"

namespace tagline::test {
namespace {

namespace fs = std::filesystem;

class ReplayCommandTest : public ::testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "tagline-replay-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder = name;
    std::ofstream(folder / "fleet.json") << R"({"format":"tagline-fleet/1","carts":[
      {"id":"cart-1","key":"sample-key-of-cart-1","home":"H1"}]})";
  }
  void TearDown() override {
    std::error_code ignored;
    fs::remove_all(folder, ignored);
  }
  [[nodiscard]] std::string at(const std::string& name) const { return (folder / name).string(); }

  pid_t start_service() {
    fs::remove(folder / "port");
    std::vector<std::string> words{
        TAGLINE_PROGRAM, "serve",
        "--floor",       std::string(TAGLINE_SOURCE_DIR) + "/protocol/samples/small.floor.json",
        "--fleet",       at("fleet.json"),
        "--data",        at("data"),
        "--port",        "0",
        "--port-file",   at("port"),
        "--pace",        "20",
        "--open-door",   "builder"};
    std::vector<char*> argv;
    for (std::string& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    const std::string errors = at("stderr");
    const pid_t pid = fork();
    if (pid == 0) {
      if (!std::freopen(errors.c_str(), "a", stderr)) _exit(126);
      execv(argv[0], argv.data());
      _exit(127);
    }
    for (int k = 0; k < 500; ++k) {
      std::ifstream in(at("port"));
      if (in >> port) return pid;
      std::this_thread::sleep_for(Millis(20));
    }
    ADD_FAILURE() << "the service doesn't start";
    return pid;
  }
  static void end(pid_t pid, int signal) {
    kill(pid, signal);
    int status = 0;
    waitpid(pid, &status, 0);
  }
  void ask(const std::string& target, const std::string& body) const {
    const auto answer = net::ask_http("127.0.0.1", port, {"POST", target, {}, body});
    EXPECT_LT(answer.status, 300) << answer.body;
  }
  void some_life() const {
    ask("/api/jobs", R"({"from":"CAST","to":"DRY","note":"two \"tall\" vases"})");
    ask("/api/jobs", R"({"from":"DRY","to":"CAST"})");
    ask("/api/stop", "");
    std::this_thread::sleep_for(Millis(700));
  }

  struct Said {
    int code;
    std::vector<std::string> lines;
    [[nodiscard]] std::string all() const {
      std::string text;
      for (const std::string& line : lines) text += line + "\n";
      return text;
    }
  };
  [[nodiscard]] Said replay(const std::string& more) const {
    const Ran ran =
        test::run(std::string(TAGLINE_PROGRAM) + " replay --data " + at("data") + " " + more);
    Said said{WIFEXITED(ran.status) ? WEXITSTATUS(ran.status) : 128, {}};
    std::istringstream in(ran.output);
    for (std::string line; std::getline(in, line);) said.lines.push_back(line);
    return said;
  }
  void expect_refused(const std::string& more, const std::string& text) const {
    SCOPED_TRACE(more);
    const Said said = replay(more);
    EXPECT_EQ(said.code, 2) << said.all();
    ASSERT_FALSE(said.lines.empty());
    EXPECT_TRUE(said.lines.back().starts_with("tagline: ")) << said.lines.back();
    EXPECT_NE(said.lines.back().find(text), std::string::npos) << said.lines.back();
  }
  [[nodiscard]] std::vector<json> objects(const std::string& more) const {
    std::vector<json> all;
    const Said said = replay(more + " --json");
    EXPECT_EQ(said.code, 0) << said.all();
    for (const std::string& line : said.lines) all.push_back(json::parse(line));
    return all;
  }
  void sql(const std::string& text) const {
    SQLite::Database database(at("data/tagline.db"), SQLite::OPEN_READWRITE);
    database.exec(text);
  }

  fs::path folder;
  std::uint16_t port{};
};

TEST_F(ReplayCommandTest, ListsShowsAndVerifiesWhileTheServiceRunsAndAfterAKill) {
  const pid_t first = start_service();
  some_life();
  end(first, SIGTERM);
  const pid_t second = start_service();
  some_life();

  // The service is running.
  std::vector<json> runs = objects("");
  ASSERT_EQ(runs.size(), 2U);
  EXPECT_EQ(runs[0].at("ending"), "stopped");
  EXPECT_EQ(runs[1].at("ending"), nullptr);
  EXPECT_EQ(runs[0].at("floor"), "Sample floor of the cart link");
  EXPECT_GE(runs[0].at("events"), 3);
  const Said table = replay("");
  ASSERT_EQ(table.lines.size(), 3U);
  EXPECT_NE(table.lines[1].find("stopped"), std::string::npos) << table.lines[1];
  EXPECT_NE(table.lines[2].find("running, or cut off"), std::string::npos) << table.lines[2];
  EXPECT_EQ(objects("--run 2").at(0).at("same"), true);
  end(second, SIGKILL);

  // Everything that something came of is there, though the process was killed.
  const Said whole = replay("--run 2");
  EXPECT_EQ(whole.code, 0) << whole.all();
  EXPECT_NE(whole.all().find("may be missing"), std::string::npos) << whole.all();
  EXPECT_NE(whole.lines.back().find("is the same as was written down"), std::string::npos);

  // A past moment: before the stop, and after it.
  const std::string from = runs[0].at("from").get<std::string>();
  const std::vector<json> events = objects("--run 1 --from " + from);
  std::string before;
  std::set<std::string> kinds;
  for (const json& line : events) {
    if (!line.contains("event")) continue;
    kinds.insert(line.at("event").at("event"));
    if (line.at("event").at("event") == "stop_all" && before.empty()) before = line.at("at");
  }
  ASSERT_EQ(kinds, (std::set<std::string>{"job", "stop_all", "tick"}));
  EXPECT_EQ(events.at(events.size() - 1).at("same"), true);
  const auto stopped = net::time_from(before).value();
  const json then = objects("--until " + net::time_text(stopped - Duration{1})).at(0);
  EXPECT_EQ(then.at("all_stopped"), false);
  EXPECT_EQ(then.at("jobs").size(), 2U);
  EXPECT_FALSE(then.at("jobs").at(0).at("why").empty());
  EXPECT_EQ(then.at("carts").at(0).at("mode"), "off_floor");
  const json later = objects("--run 1 --until " + before).at(0);
  EXPECT_EQ(later.at("all_stopped"), true);
  EXPECT_NE(later.at("alarms").dump().find("\"all_stopped\""), std::string::npos);
  const std::string text = replay("--run 1 --until " + before).all();
  for (const char* words :
       {"cart-1: off_floor, no link", "why: cart-1 is not on the floor",
        "job 1: ", "two \"tall\" vases", "Alarms:", "A person has stopped all carts"})
    EXPECT_NE(text.find(words), std::string::npos) << words << " in " << text;
}

TEST_F(ReplayCommandTest, ADifferenceEndsWithItsEventAndCodeThree) {
  const pid_t pid = start_service();
  some_life();
  end(pid, SIGTERM);
  // What a changed program would do: here the floor it is worked out on is another.
  sql("UPDATE run_floors SET document = replace(document, '\"id\":\"DRY\"', '\"id\":\"DRAIN\"')");
  sql("UPDATE run_floors SET document = replace(document, '\"to\":\"DRY\"', '\"to\":\"DRAIN\"')");
  const Said said = replay("--run 1");
  EXPECT_EQ(said.code, 3) << said.all();
  EXPECT_NE(said.all().find("job from=CAST"), std::string::npos) << said.all();
  EXPECT_NE(said.all().find("refused"), std::string::npos) << said.all();
  EXPECT_TRUE(said.lines.back().starts_with("Event ")) << said.lines.back();
  EXPECT_NE(said.lines.back().find("came out differently"), std::string::npos);
}

TEST_F(ReplayCommandTest, WhatIsDamagedOrMissingIsNamed) {
  expect_refused("", "no database");
  const pid_t pid = start_service();
  some_life();
  end(pid, SIGTERM);
  expect_refused("--run 7", "no such run");
  expect_refused("--until yesterday", "no moment of RFC 3339");
  expect_refused("--until 2001-01-01T00:00:00Z", "the journal begins at");
  expect_refused("--run 1 --until 2001-01-01T00:00:00Z", "began later");
  expect_refused("--from 2101-01-01T00:00:00Z --until 2100-01-01T00:00:00Z", "later than --until");
  expect_refused("--run one", "--run");

  fs::copy(folder / "data", folder / "kept", fs::copy_options::recursive);
  const auto anew = [&](const std::string& change) {
    fs::remove_all(folder / "data");
    fs::copy(folder / "kept", folder / "data", fs::copy_options::recursive);
    sql(change);
  };
  anew("UPDATE run_events SET events = substr(events, 1, length(events) - 1)");
  expect_refused("--run 1", "can't be read: it is damaged");
  anew("UPDATE run_events SET events = x''");
  expect_refused("--run 1", "it ends too early");
  anew("UPDATE run_events SET first = 5");
  expect_refused("--run 1", "events 1 to 4 are missing");
  anew("UPDATE runs SET start = zeroblob(length(start))");
  expect_refused("--run 1", "what it began from can't be used: it is damaged");
  anew("UPDATE run_floors SET document = '{'");
  expect_refused("--run 1", "its floor can't be read");
  anew("DELETE FROM run_events");
  EXPECT_EQ(replay("--run 1").code, 0);
}

}  // namespace
}  // namespace tagline::test
