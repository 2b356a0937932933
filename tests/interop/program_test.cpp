// The program itself: bad input ends with exit code 2 and one clear line; a good start serves and
// ends in order. Runs the built binary.
#include <sys/wait.h>

#include <algorithm>
#include <csignal>
#include <fstream>
#include <iterator>

#include "tests/interop/live_service.hpp"

namespace tagline::test {
namespace {

namespace fs = std::filesystem;

class ProgramTest : public ::testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "tagline-program-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder = name;
    write("fleet.json", R"({"format":"tagline-fleet/1","carts":[
      {"id":"cart-1","key":"sample-key-of-cart-1","home":"H1"}]})");
  }
  void TearDown() override {
    std::error_code ignored;
    fs::permissions(folder, fs::perms::owner_all, fs::perm_options::add, ignored);
    fs::remove_all(folder, ignored);
  }
  void write(const std::string& name, const std::string& text) {
    std::ofstream(folder / name) << text;
  }
  [[nodiscard]] std::string at(const std::string& name) const { return (folder / name).string(); }
  [[nodiscard]] static std::string source(const std::string& name) {
    return (fs::path(TAGLINE_SOURCE_DIR) / name).string();
  }
  [[nodiscard]] static json sample_floor() {
    return json::parse(std::ifstream(source("protocol/samples/small.floor.json")));
  }
  [[nodiscard]] std::vector<std::string> serve(std::vector<std::string> more) const {
    std::vector<std::string> words{
        "serve",    "--floor",        source("protocol/samples/small.floor.json"),
        "--fleet",  at("fleet.json"), "--data",
        at("data"), "--open-door",    "builder"};
    if (std::find(more.begin(), more.end(), "--port") == more.end())
      more.insert(more.end(), {"--port", "0"});
    words.insert(words.end(), more.begin(), more.end());
    return words;
  }
  pid_t start(std::vector<std::string> words) {
    words.insert(words.begin(), TAGLINE_PROGRAM);
    std::vector<char*> argv;
    for (std::string& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    const std::string errors = at("stderr"), output = at("stdout");
    const pid_t pid = fork();
    if (pid != 0) return pid;
    if (!std::freopen(errors.c_str(), "w", stderr) || !std::freopen(output.c_str(), "w", stdout))
      _exit(126);
    execv(argv[0], argv.data());
    _exit(127);
  }
  /// The port that a program started with `--port-file` listens on; 0 if it tells none.
  [[nodiscard]] std::uint16_t port_told() const {
    std::uint16_t port = 0;
    for (int k = 0; k < 500; ++k) {
      std::ifstream in(at("port"));
      if (in >> port) return port;
      std::this_thread::sleep_for(Millis(20));
    }
    return 0;
  }
  static int wait_for(pid_t pid) {
    int status = 0;
    waitpid(pid, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  }
  struct Ended {
    int code;
    std::vector<std::string> lines;
  };
  Ended run(const std::vector<std::string>& words) {
    Ended ended{wait_for(start(words)), {}};
    std::ifstream in(at("stderr"));
    for (std::string line; std::getline(in, line);) ended.lines.push_back(line);
    return ended;
  }
  /// Exit code 2, and one line that has `text`.
  void expect_refused(const std::vector<std::string>& words, const std::string& text) {
    SCOPED_TRACE(text);
    const Ended ended = run(words);
    EXPECT_EQ(ended.code, 2);
    ASSERT_EQ(ended.lines.size(), 1u) << (ended.lines.empty() ? "" : ended.lines[1]);
    EXPECT_NE(ended.lines[0].find(text), std::string::npos) << ended.lines[0];
    EXPECT_TRUE(ended.lines[0].starts_with("tagline: ")) << ended.lines[0];
  }
  fs::path folder;
};

TEST_F(ProgramTest, BadOptions) {
  expect_refused({}, "subcommand");
  expect_refused({"serve"}, "--floor");
  expect_refused(serve({"--pace", "101"}), "101");
  expect_refused(serve({"--port", "70000"}), "70000");
  expect_refused(serve({"--colour", "red"}), "--colour");
  expect_refused(serve({"--listen", "nowhere"}), "nowhere");
}

TEST_F(ProgramTest, BadFloorNamesEveryFinding) {
  const std::string bad = source("tests/data/bad-many.floor.json");
  const Ended ended = run(
      {"serve", "--floor", bad, "--fleet", at("fleet.json"), "--data", at("data"), "--port", "0"});
  EXPECT_EQ(ended.code, 2);
  EXPECT_GT(ended.lines.size(), 1u);
  for (const std::string& line : ended.lines)
    EXPECT_TRUE(line.starts_with("tagline: " + bad)) << line;
  EXPECT_FALSE(fs::exists(folder / "data"));
  expect_refused(
      {"serve", "--floor", at("none"), "--fleet", at("fleet.json"), "--data", at("data")}, "none");
}

TEST_F(ProgramTest, BadFleet) {
  const auto fleet = [&](const std::string& text) {
    write("fleet.json", text);
    return serve({});
  };
  const std::string head = R"({"format":"tagline-fleet/1","carts":[)";
  expect_refused(fleet("{"), "no JSON");
  expect_refused(
      fleet(R"({"format":"tagline-fleet/2","carts":[{"id":"a","key":"0123456789abcdef"}]})"),
      "/format");
  expect_refused(fleet(head + "]}"), "/carts");
  expect_refused(fleet(head + R"({"id":"a b","key":"0123456789abcdef"}]})"), "/carts/0/id");
  expect_refused(fleet(head + R"({"id":"a","key":"short"}]})"), "/carts/0/key");
  expect_refused(fleet(head + R"({"id":"a","key":"0123456789abcdef","home":"X"}]})"),
                 "/carts/0/home");
  expect_refused(fleet(head + R"({"id":"a","key":"0123456789abcdef","speed":1}]})"),
                 "/carts/0/speed");
  expect_refused(fleet(head + R"({"id":"a","key":"0123456789abcdef"},)" +
                       R"({"id":"a","key":"0123456789abcdeg"}]})"),
                 "/carts/1/id");
  const std::string digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
  expect_refused(fleet(head + R"({"id":"a","key_sha256":"abc"}]})"), "/carts/0/key_sha256");
  expect_refused(
      fleet(head + R"({"id":"a","key":"0123456789abcdef","key_sha256":")" + digest + R"("}]})"),
      "/carts/0/key_sha256");
  expect_refused(fleet(head + R"({"id":"a","key_sha256":")" + digest +
                       R"("},{"id":"b","key_sha256":")" + digest + R"("}]})"),
                 "the same key");
  (void)fleet(head + R"({"id":"a","home":"H1","key_sha256":")" + digest + R"("}]})");
  expect_refused({"cart", "--floor", source("protocol/samples/small.floor.json"), "--fleet",
                  at("fleet.json"), "--url", "ws://127.0.0.1:1/cart"},
                 "only the SHA-256");
  const Ended ended = run(fleet(head + R"({"id":"a","key":"secret-of-mine-1","x":1}]})"));
  for (const std::string& line : ended.lines)
    EXPECT_EQ(line.find("secret-of-mine"), std::string::npos) << line;
}

TEST_F(ProgramTest, PortInUse) {
  LiveService other;
  expect_refused(serve({"--port", std::to_string(other.port())}), std::to_string(other.port()));
}

TEST_F(ProgramTest, DataFolderThatCantBeUsed) {
  write("data", "a file, not a folder");
  expect_refused(serve({}), at("data"));
}

TEST_F(ProgramTest, ServesUntilItIsToldToStopAndKeepsItsJobs) {
  const auto words = serve({"--port-file", at("port")});
  int job = 0;
  for (int round = 0; round < 2; ++round) {
    fs::remove(at("port"));
    const pid_t pid = start(words);
    const std::uint16_t port = port_told();
    ASSERT_NE(port, 0);
    if (round == 0) {
      const auto made = net::ask_http("127.0.0.1", port,
                                      {"POST", "/api/jobs", {}, R"({"from":"CAST","to":"DRY"})"});
      EXPECT_EQ(made.status, 201);
      job = json::parse(made.body).at("id");
    } else {
      const auto kept =
          net::ask_http("127.0.0.1", port, {"GET", "/api/jobs/" + std::to_string(job), {}, ""});
      EXPECT_EQ(kept.status, 200);
      EXPECT_EQ(json::parse(kept.body).at("state"), "queued");
      // A second service on the same data is refused.
      expect_refused(serve({}), at("data"));
    }
    kill(pid, SIGTERM);
    EXPECT_EQ(wait_for(pid), 0);
  }
}

TEST_F(ProgramTest, TheDoorIsOpenOnLoopbackOnly) {
  expect_refused(serve({"--listen", "0.0.0.0"}), "0.0.0.0");
  expect_refused(serve({"--listen", "::"}), "only for 127.0.0.1");
  expect_refused(serve({"--proxy", "127.0.0.1"}), "proxy");
  std::vector<std::string> words = serve({});
  *std::find(words.begin(), words.end(), "builder") = "owner";
  expect_refused(words, "--open-door owner");
  EXPECT_FALSE(fs::exists(folder / "data"));
}

/// The console's code makes a builder, whose session outlives the service; then there is none,
/// until one is asked for.
TEST_F(ProgramTest, TheFirstStartPrintsASetupCodeAndTheNextOneDoesnt) {
  std::vector<std::string> words = serve({"--port-file", at("port")});
  words.erase(std::find(words.begin(), words.end(), "--open-door"));
  words.erase(std::find(words.begin(), words.end(), "builder"));
  const auto start_service = [&] {
    fs::remove(at("port"));
    return start(words);
  };
  const auto code_told = [&] {
    std::ifstream in(at("stderr"));
    const std::string told{std::istreambuf_iterator<char>(in), {}};
    const std::size_t from = told.find("setup code ");
    return from == std::string::npos ? "" : told.substr(from + 11, 19);
  };
  const auto ask = [&](std::uint16_t port, const std::string& target, const std::string& body,
                       const std::string& cookie = "") {
    std::vector<std::pair<std::string, std::string>> headers;
    if (!cookie.empty()) headers.emplace_back("Cookie", cookie);
    return net::ask_http("127.0.0.1", port, {body.empty() ? "GET" : "POST", target, headers, body});
  };
  const auto set_up = [&](std::uint16_t port, const std::string& code, const std::string& name) {
    return ask(port, "/api/setup",
               json{{"code", code}, {"name", name}, {"password", "bisque before glaze"}}.dump());
  };
  const pid_t first = start_service();
  std::uint16_t port = port_told();
  ASSERT_NE(port, 0);
  EXPECT_EQ(ask(port, "/api/jobs", R"({"from":"CAST","to":"DRY"})").status, 401);
  std::string code = code_told();
  for (int k = 0; k < 100 && code.empty(); ++k) {
    std::this_thread::sleep_for(Millis(20));
    code = code_told();
  }
  ASSERT_EQ(code.size(), 19u);
  EXPECT_EQ(set_up(port, "0000-0000-0000-0000", "Berta").status, 403);
  const auto made = set_up(port, code, "Berta");
  ASSERT_EQ(made.status, 201) << made.body;
  const std::string cookie = made.header("Set-Cookie").substr(0, 16 + 43);
  EXPECT_EQ(ask(port, "/api/accounts", "", cookie).status, 200);
  EXPECT_EQ(set_up(port, code, "Bert").status, 409);
  kill(first, SIGKILL);
  wait_for(first);

  const pid_t second = start_service();
  port = port_told();
  ASSERT_NE(port, 0);
  EXPECT_EQ(ask(port, "/api/accounts", "", cookie).status, 200) << "Berta is still signed in";
  EXPECT_EQ(set_up(port, code, "Bert").status, 409);
  kill(second, SIGTERM);
  EXPECT_EQ(wait_for(second), 0);
  EXPECT_EQ(code_told(), "");

  words.emplace_back("--setup-code");
  const pid_t third = start_service();
  port = port_told();
  ASSERT_NE(port, 0);
  for (int k = 0; k < 100 && code_told().empty(); ++k) std::this_thread::sleep_for(Millis(20));
  EXPECT_EQ(set_up(port, code_told(), "Bert").status, 201);
  kill(third, SIGTERM);
  EXPECT_EQ(wait_for(third), 0);
}

TEST_F(ProgramTest, AHomeHasATag) {
  json floor = sample_floor();
  floor.at("points").at(2).erase("tags");  // P3
  write("floor.json", floor.dump());
  for (const auto& [home, fits] : {std::pair("P3", false), std::pair("P4", true)}) {
    write("fleet.json",
          R"({"format":"tagline-fleet/1","carts":[{"id":"a","key":"0123456789abcdef","home":")" +
              std::string(home) + R"("}]})");
    std::vector<std::string> words{"serve",    "--floor",        at("floor.json"),
                                   "--fleet",  at("fleet.json"), "--data",
                                   at("data"), "--port",         "0"};
    if (!fits) {
      expect_refused(words, "\"P3\" has no tag");
      continue;
    }
    words.insert(words.end(), {"--port-file", at("port")});
    const pid_t pid = start(words);
    EXPECT_NE(port_told(), 0);
    kill(pid, SIGTERM);
    EXPECT_EQ(wait_for(pid), 0);
  }
}

TEST_F(ProgramTest, StopsDueTimeAndLoadsOutliveAKill) {
  json floor = sample_floor();
  floor.at("stations").at(1)["capacity"] = 3;
  write("floor.json", floor.dump());
  const auto ask = [](std::uint16_t port, const std::string& method, const std::string& target,
                      const std::string& body = {}) {
    return json::parse(net::ask_http("127.0.0.1", port, {method, target, {}, body}).body);
  };
  const auto start_service = [&] {
    fs::remove(at("port"));
    return start({"serve", "--floor", at("floor.json"), "--fleet", at("fleet.json"), "--data",
                  at("data"), "--port", "0", "--port-file", at("port"), "--open-door", "builder"});
  };

  const pid_t first = start_service();
  std::uint16_t port = port_told();
  ASSERT_NE(port, 0);
  const json job = ask(port, "POST", "/api/jobs",
                       R"({"from":"CAST","to":"DRY","due":"2030-01-02T03:04:05+06:00",
                           "via":[{"station":"DRY","what":"unload"},
                                  {"station":"CAST","what":"load"}]})");
  EXPECT_EQ(ask(port, "POST", "/api/stations/DRY/loads", R"({"loads":2})").at("loads"), 2);
  kill(first, SIGKILL);
  EXPECT_EQ(wait_for(first), 128 + SIGKILL);

  const pid_t second = start_service();
  port = port_told();
  ASSERT_NE(port, 0);
  json dry = json::object();
  for (int k = 0; k < 200 && dry.value("loads", json()).is_null(); ++k) {
    dry = ask(port, "GET", "/api/stations/DRY");
    std::this_thread::sleep_for(Millis(20));
  }
  const json kept = ask(port, "GET", "/api/jobs/" + std::to_string(job.at("id").get<int>()));
  EXPECT_EQ(dry.at("loads"), 2);
  EXPECT_EQ(kept.at("due"), "2030-01-01T21:04:05.000Z");
  for (const char* same : {"from", "to", "via", "stops_done", "due", "created"})
    EXPECT_EQ(kept.at(same), job.at(same)) << same;
  kill(second, SIGTERM);
  EXPECT_EQ(wait_for(second), 0);
}

TEST_F(ProgramTest, ABackupOfARunningServiceIsPutBack) {
  const auto start_service = [&] {
    fs::remove(folder / "port");
    return start(serve({"--port-file", at("port")}));
  };
  const auto ask = [](std::uint16_t port, const std::string& method, const std::string& target,
                      const std::string& body = "") {
    return json::parse(net::ask_http("127.0.0.1", port, {method, target, {}, body}).body);
  };
  const std::string job = R"({"from":"CAST","to":"DRY"})";
  const std::vector<std::string> back_up{"backup", "--data", at("data"), "--to", at("copy.db")};
  const std::vector<std::string> put_back{"restore", "--data", at("data"), "--from", at("copy.db")};
  expect_refused(back_up, "no database");

  const pid_t first = start_service();
  std::uint16_t port = port_told();
  ASSERT_NE(port, 0);
  const json before = ask(port, "POST", "/api/jobs", job);
  EXPECT_EQ(run(back_up).code, 0);
  std::ifstream in(at("stdout"));
  const std::string said{std::istreambuf_iterator<char>(in), {}};
  EXPECT_NE(said.find("1 job, 1 of them open"), std::string::npos) << said;
  const json after = ask(port, "POST", "/api/jobs", job);
  expect_refused(back_up, "exists already");
  expect_refused(put_back, "in use");
  kill(first, SIGTERM);
  EXPECT_EQ(wait_for(first), 0);

  EXPECT_EQ(run(put_back).code, 0);
  const pid_t second = start_service();
  port = port_told();
  ASSERT_NE(port, 0);
  const json jobs = ask(port, "GET", "/api/jobs").at("jobs");
  ASSERT_EQ(jobs.size(), 1U);
  EXPECT_EQ(jobs[0].at("id"), before.at("id"));
  EXPECT_NE(after.at("id"), before.at("id"));
  kill(second, SIGTERM);
  EXPECT_EQ(wait_for(second), 0);
  std::ifstream errors(at("stderr"));
  const std::string told{std::istreambuf_iterator<char>(errors), {}};
  EXPECT_NE(told.find("put back from a backup"), std::string::npos) << told;
}

/// Whole: service, virtual carts in their own process, the people's part; over real sockets.
TEST_F(ProgramTest, DemoDeliversAndClearsUp) {
  const pid_t pid = start({"demo", "--port", "0", "--pace", "50", "--jobs-per-hour", "60"});
  std::string address;
  const std::string said = "Board: http://127.0.0.1:";
  for (int k = 0; k < 3'000 && address.empty(); ++k) {
    std::ifstream in(at("stdout"));
    for (std::string line; std::getline(in, line);)
      if (line.starts_with(said) && line.ends_with("/")) address = line.substr(said.size());
    if (address.empty()) std::this_thread::sleep_for(Millis(20));
  }
  ASSERT_FALSE(address.empty());
  const auto port = static_cast<std::uint16_t>(std::stoi(address));
  std::size_t delivered = 0;
  for (int k = 0; k < 600 && delivered < 3; ++k) {
    const json jobs = json::parse(
        net::ask_http("127.0.0.1", port, {"GET", "/api/jobs?state=delivered", {}, ""}).body);
    delivered = jobs.at("jobs").size();
    std::this_thread::sleep_for(Millis(200));
  }
  EXPECT_GE(delivered, 3u);
  kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  std::ifstream in(at("stdout"));
  const std::string output{std::istreambuf_iterator<char>(in), {}};
  EXPECT_NE(output.find("\"body_contacts\":0"), std::string::npos) << output;
  const std::size_t from = output.find("Data: ") + 6;
  EXPECT_FALSE(fs::exists(output.substr(from, output.find(' ', from) - from))) << output;
}

TEST_F(ProgramTest, VersionAndHelp) {
  EXPECT_EQ(run({"--version"}).code, 0);
  EXPECT_EQ(run({"serve", "--help"}).code, 0);
}

}  // namespace
}  // namespace tagline::test
