// Loading of floor and fleet with findings as lines; places of shipped files.
#include "server/app/inputs.hpp"

#include "server/app/bad_input.hpp"

namespace tagline::app {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void refuse(const fs::path& path, const std::vector<floor::FileFinding>& findings) {
  std::vector<std::string> lines;
  lines.reserve(findings.size());
  for (const floor::FileFinding& finding : findings)
    lines.push_back(floor::describe(path, finding));
  throw BadInput(std::move(lines));
}

fs::path first_that_exists(const std::vector<fs::path>& places) {
  std::error_code ignored;
  for (const fs::path& place : places)
    if (fs::exists(place, ignored)) return place;
  return places.front();
}

}  // namespace

std::unique_ptr<const Plant> load_plant(const fs::path& path) {
  auto loaded = floor::load_floor(path);
  if (const auto* findings = std::get_if<std::vector<floor::FileFinding>>(&loaded))
    refuse(path, *findings);
  return std::make_unique<const Plant>(std::get<floor::Floor>(std::move(loaded)));
}

Fleet load_fleet_or_refuse(const fs::path& path, const floor::Floor& floor) {
  auto loaded = load_fleet(path, floor);
  if (const auto* findings = std::get_if<std::vector<floor::FileFinding>>(&loaded))
    refuse(path, *findings);
  return std::get<Fleet>(std::move(loaded));
}

PoseIx home_pose(const Plant& plant, const FleetCart& cart, const fs::path& file) {
  if (!cart.home)
    throw BadInput(file.string() + ": cart \"" + cart.id +
                   "\" has no home, where a virtual cart is set down; give it one");
  const auto poses = plant.ways.poses_at(*plant.floor.find_point(*cart.home));
  if (poses.empty())
    throw BadInput(file.string() + ": no segment leads to \"" + *cart.home + "\", the home of \"" +
                   cart.id + "\"; give it another");
  return poses.front();
}

fs::path program_folder() {
  std::error_code error;
  const fs::path program = fs::read_symlink("/proc/self/exe", error);
  return error ? fs::current_path() : program.parent_path();
}

fs::path shipped_file(const std::string& name) {
  return first_that_exists({fs::path(TAGLINE_SOURCE_DIR) / "deploy" / name,
                            program_folder().parent_path() / "share/tagline" / name,
                            fs::path("/usr/share/tagline") / name});
}

fs::path shipped_web() {
  return first_that_exists({program_folder() / "web",
                            program_folder().parent_path() / "share/tagline/web",
                            fs::path("/usr/share/tagline/web")});
}

}  // namespace tagline::app
