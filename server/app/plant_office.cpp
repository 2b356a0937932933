// See plant_office.hpp.
#include "server/app/plant_office.hpp"

#include <nlohmann/json.hpp>

#include "server/app/fleet_file.hpp"
#include "server/app/floor_changes.hpp"
#include "server/app/side_program.hpp"
#include "server/app/whole_file.hpp"
#include "server/floor/file.hpp"

namespace tagline::app {
namespace {

using floor::FileFinding;
using floor::Floor;
using Json = nlohmann::ordered_json;
using net::FloorDraft;
using net::OfficeError;

constexpr std::string_view published_already =
    "There is no draft: the floor in use is the one last published. Change something and save it "
    "first.";

Json json_of(const std::vector<FileFinding>& findings) {
  Json list = Json::array();
  for (const FileFinding& finding : findings)
    list.push_back(
        {{"pointer", finding.pointer}, {"wrong", finding.wrong}, {"right", finding.right}});
  return list;
}

Floor floor_of(const std::string& document, const std::filesystem::path& file) {
  auto read = floor::parse_floor(document);
  if (auto* right = std::get_if<Floor>(&read)) return std::move(*right);
  const auto& findings = std::get<std::vector<FileFinding>>(read);
  throw OfficeError(floor::describe(file, findings.front()));
}

std::string sentence(const FileFinding& finding) {
  return (finding.pointer.empty() ? "The file: " : finding.pointer + ": ") + finding.wrong + "; " +
         finding.right + ".";
}

}  // namespace

PlantOffice::PlantOffice(Setup setup)
    : setup_(std::move(setup)), shelf_(setup_.floor_file, setup_.folder, setup_.now) {}

std::string PlantOffice::in_use() {
  const std::lock_guard lock(mutex_);
  return shelf_.in_use();
}

std::string PlantOffice::check_aside(const std::string& document, bool& too_long) {
  const auto file = setup_.folder / "checked.json";
  write_whole(file, document);
  std::vector<std::string> arguments{"check", file.string(), "--json"};
  const auto fleet = load_fleet(setup_.fleet_file, floor_of(document, "the floor file"));
  // A fleet that doesn't fit this floor is another matter: reasons_against() tells it.
  if (const auto* carts = std::get_if<Fleet>(&fleet))
    arguments.insert(arguments.end(), {"--carts", std::to_string(carts->size())});
  const auto run = run_aside(setup_.program, arguments, setup_.folder / "checked.out",
                             {.time = setup_.longest_check}, given_up_);
  std::error_code ignored;
  std::filesystem::remove(file, ignored);
  too_long = !run;
  if (!run) return {};
  if (run->exit_code > 1)
    throw OfficeError("the check ended with code " + std::to_string(run->exit_code) + ": " +
                      run->complained);
  return run->printed;
}

std::string PlantOffice::check(const std::string& document) {
  Json answer{
      {"may_run", false}, {"wrong", Json::array()}, {"too_long", false}, {"check", nullptr}};
  const auto read = floor::parse_floor(document);
  if (const auto* findings = std::get_if<std::vector<FileFinding>>(&read)) {
    answer["wrong"] = json_of(*findings);
    return answer.dump();
  }
  bool too_long = false;
  const std::string printed = check_aside(document, too_long);
  answer["too_long"] = too_long;
  if (!too_long) {
    answer["check"] = Json::parse(printed);
    answer["check"]["floor"].erase("file");
    answer["may_run"] = answer["check"]["may_run"];
  }
  return answer.dump();
}

FloorDraft PlantOffice::draft() {
  const std::lock_guard lock(mutex_);
  return shelf_.draft();
}

net::FloorOffice::Saved PlantOffice::save(std::string document, std::string by, std::string at,
                                          std::uint64_t expected_version) {
  const std::size_t first = document.find_first_not_of(" \t\r\n");
  if (first == std::string::npos || document[first] != '{' || !Json::accept(document))
    return {Saved::How::no_json, {}};
  const std::lock_guard lock(mutex_);
  FloorDraft now = shelf_.draft();
  if (now.version != expected_version) return {Saved::How::other_version, std::move(now)};
  return {Saved::How::saved, shelf_.save(std::move(document), std::move(by), std::move(at))};
}

std::vector<std::string> PlantOffice::misfits(const std::string& document) const {
  std::vector<std::string> reasons;
  const auto fleet = load_fleet(setup_.fleet_file, floor_of(document, "the floor file"));
  if (const auto* findings = std::get_if<std::vector<FileFinding>>(&fleet))
    for (const FileFinding& finding : *findings)
      reasons.push_back("The fleet file does not fit this floor. " + sentence(finding));
  return reasons;
}

std::vector<std::string> PlantOffice::reasons_against(const std::string& document) {
  std::vector<std::string> reasons;
  const auto read = floor::parse_floor(document);
  if (const auto* findings = std::get_if<std::vector<FileFinding>>(&read)) {
    for (const FileFinding& finding : *findings) reasons.push_back(sentence(finding));
    return reasons;
  }
  reasons = misfits(document);
  bool too_long = false;
  const std::string printed = check_aside(document, too_long);
  if (too_long) {
    reasons.emplace_back("The check of it takes too long, so nobody knows whether carts may run.");
    return reasons;
  }
  const Json check = Json::parse(printed);  // named: a loop keeps no part of a temporary alive
  for (const Json& finding : check.at("findings"))
    if (finding.at("severity") == "forbids")
      reasons.push_back(finding.at("place").get<std::string>() + ": " +
                        finding.at("figure").get<std::string>() + " " +
                        finding.at("remedy").get<std::string>());
  return reasons;
}

std::string PlantOffice::changes(const net::WorksNow& works) {
  FloorDraft draft;
  std::string in_use;
  bool by_hand = false;
  {
    const std::lock_guard lock(mutex_);
    draft = shelf_.draft();
    in_use = shelf_.in_use();
    by_hand = shelf_.changed_by_hand();
  }
  Json answer{{"version", draft.version},
              {"saved_by", draft.saved_by},
              {"saved_at", draft.saved_at},
              {"against", Json::array()}};
  if (!draft.document) {
    answer["against"].push_back(published_already);
    return answer.dump();
  }
  for (const std::string& reason : reasons_against(*draft.document))
    answer["against"].push_back(reason);
  if (by_hand)
    answer["against"].push_back(setup_.floor_file.string() +
                                " was changed by hand since the service started. Start it anew, "
                                "or put the old file back.");
  if (const auto after = floor::parse_floor(*draft.document);
      const auto* floor = std::get_if<Floor>(&after))
    answer.update(changes_json(floor_of(in_use, setup_.floor_file), *floor, works));
  return answer.dump();
}

net::FloorOffice::Published PlantOffice::publish(std::uint64_t expected_version, std::string by,
                                                 std::string at) {
  Published published;
  {
    const std::lock_guard lock(mutex_);
    published.now = shelf_.draft();
  }
  published.other_version = published.now.version != expected_version;
  if (published.other_version) return published;
  if (!published.now.document) {
    published.refused.emplace_back(published_already);
    return published;
  }
  published.refused = reasons_against(*published.now.document);
  const std::lock_guard lock(mutex_);
  // It took a while: somebody may have saved in the meantime.
  if (shelf_.draft().version != expected_version) {
    published.now = shelf_.draft();
    published.other_version = true;
    return published;
  }
  if (shelf_.changed_by_hand())
    published.refused.push_back(setup_.floor_file.string() +
                                " was changed by hand since the service started. Start it anew, "
                                "or put the old file back.");
  // And a cart may have been added whose home is not on this floor.
  if (published.refused.empty()) published.refused = misfits(*published.now.document);
  if (published.refused.empty()) published.now = shelf_.publish(by, at);
  return published;
}

net::Tryout PlantOffice::try_out(const net::TryoutWish& wish, const std::atomic<bool>& ended) {
  return run_tryout({setup_.program, setup_.folder, setup_.tryout}, wish, ended);
}

std::vector<net::FloorEdition> PlantOffice::history() {
  const std::lock_guard lock(mutex_);
  return shelf_.history();
}

std::optional<std::string> PlantOffice::edition(std::uint64_t number) {
  const std::lock_guard lock(mutex_);
  return shelf_.edition(number);
}

}  // namespace tagline::app
