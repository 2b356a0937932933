// See tryout_run.hpp.
#include "server/app/tryout_run.hpp"

#include <fstream>
#include <nlohmann/json.hpp>
#include <optional>
#include <stdexcept>

#include "server/app/whole_file.hpp"
#include "server/floor/file.hpp"

namespace tagline::app {
namespace {

using Json = nlohmann::ordered_json;
using How = net::Tryout::How;
using Jobs = net::TryoutWish::Jobs;

// Exit codes: of check (check_command.hpp), of simulate (simulate_command.hpp), and of both.
constexpr int fine = 0, carts_must_not_run = 1, bad_input = 2, broke_an_invariant = 3;

net::Tryout refused(std::vector<std::string> reasons) {
  return {.how = How::refused, .json = {}, .reasons = std::move(reasons)};
}

/// A program that has no more memory ends with this word in its complaint (command_line.cpp).
bool ran_out_of_memory(const SideRun& run) {
  return run.complained.find("bad_alloc") != std::string::npos;
}

/// "tagline: --carts 9: ..." without the program's name, as a sentence.
std::string complaint_of(const SideRun& run) {
  std::string text = run.complained;
  constexpr std::string_view name = "tagline: ";
  if (text.starts_with(name)) text.erase(0, name.size());
  while (!text.empty() && text.back() == '\n') text.pop_back();
  return text + ".";
}

/// What the two processes leave in the folder.
class Files {
 public:
  explicit Files(const std::filesystem::path& folder)
      : floor(folder / "tryout.json"),
        printed(folder / "tryout.out"),
        movement(folder / "tryout.movement") {}
  ~Files() {
    std::error_code ignored;
    for (const auto& file : {floor, printed, movement}) std::filesystem::remove(file, ignored);
  }
  Files(const Files&) = delete;
  Files& operator=(const Files&) = delete;
  const std::filesystem::path floor, printed, movement;
};

class TryoutRun {
 public:
  TryoutRun(const TryoutSetup& setup, const net::TryoutWish& wish, const std::atomic<bool>& ended)
      : setup_(setup), wish_(wish), ended_(ended), files_(setup.folder) {}

  net::Tryout run() {
    const auto read = floor::parse_floor(wish_.document);
    if (const auto* wrong = std::get_if<std::vector<floor::FileFinding>>(&read)) {
      std::vector<std::string> reasons;
      for (const floor::FileFinding& one : *wrong)
        reasons.push_back((one.pointer.empty() ? "The file" : one.pointer) + ": " + one.wrong +
                          "; " + one.right + ".");
      return refused(std::move(reasons));
    }
    write_whole(files_.floor, wish_.document);
    if (auto no = check()) return std::move(*no);
    return simulate();
  }

 private:
  /// Nothing if it was killed; `why` says why then.
  std::optional<SideRun> aside(const std::vector<std::string>& arguments, How& why) {
    auto run = run_aside(setup_.program, arguments, files_.printed, setup_.most, ended_);
    if (run && run->exit_code != fine && ran_out_of_memory(*run)) run.reset();
    if (!run) why = ended_ ? How::ended : How::too_much;
    return run;
  }

  /// Why not, if carts can't run there.
  std::optional<net::Tryout> check() {
    How why{};
    const auto run = aside(
        {"check", files_.floor.string(), "--json", "--carts", std::to_string(wish_.carts)}, why);
    if (!run) return net::Tryout{.how = why};
    if (run->exit_code != fine && run->exit_code != carts_must_not_run) throw broken_off(*run);
    const Json check = Json::parse(run->printed);
    about_floor_ = {{"max_live_carts", check.at("max_live_carts")},
                    {"demand_per_hour", check.at("demand_per_hour")}};
    std::vector<std::string> reasons;
    for (const Json& finding : check.at("findings"))
      if (finding.at("severity") == "forbids")
        reasons.push_back(finding.at("place").get<std::string>() + ": " +
                          finding.at("figure").get<std::string>() + " " +
                          finding.at("remedy").get<std::string>());
    if (reasons.empty()) return std::nullopt;
    return refused(std::move(reasons));
  }

  net::Tryout simulate() {
    std::vector<std::string> arguments{
        "simulate", files_.floor.string(), "--json", "--carts", std::to_string(wish_.carts),
        "--hours", std::to_string(wish_.hours), "--seed", std::to_string(wish_.seed),
        // The page tells how to have the trace of a run that broke something.
        "--trace", "/dev/null", "--movement", files_.movement.string()};
    if (wish_.jobs == Jobs::endless) arguments.emplace_back("--saturate");
    if (wish_.jobs == Jobs::per_hour)
      arguments.insert(arguments.end(), {"--jobs-per-hour", std::to_string(wish_.jobs_per_hour)});
    How why{};
    const auto run = aside(arguments, why);
    if (!run) return {.how = why};
    if (run->exit_code == bad_input) return refused({complaint_of(*run)});
    if (run->exit_code != fine && run->exit_code != broke_an_invariant) throw broken_off(*run);
    Json report = Json::parse(run->printed);
    report.erase("wall_s");  // all that isn't the same for equal seeds
    std::ifstream in(files_.movement, std::ios::binary);
    Json answer = std::move(about_floor_);
    answer["report"] = std::move(report);
    answer["movement"] = Json::parse(in);
    return {.how = How::done, .json = answer.dump()};
  }

  [[nodiscard]] static std::runtime_error broken_off(const SideRun& run) {
    return std::runtime_error("The try-out broke off with code " + std::to_string(run.exit_code) +
                              ": " + run.complained);
  }

  const TryoutSetup& setup_;
  const net::TryoutWish& wish_;
  const std::atomic<bool>& ended_;
  const Files files_;
  Json about_floor_;
};

}  // namespace

net::Tryout run_tryout(const TryoutSetup& setup, const net::TryoutWish& wish,
                       const std::atomic<bool>& ended) {
  return TryoutRun(setup, wish, ended).run();
}

}  // namespace tagline::app
