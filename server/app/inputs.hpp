// The files that every command starts from, and where to find those that come with the program.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "server/app/fleet_file.hpp"
#include "server/floor/track.hpp"

namespace tagline::app {

/// A floor with what is computed from it. Never moved, because the parts refer to each other.
struct Plant {
  explicit Plant(floor::Floor loaded) : floor(std::move(loaded)), ways(floor), track(ways) {}
  Plant(const Plant&) = delete;
  Plant& operator=(const Plant&) = delete;
  const floor::Floor floor;
  const floor::Ways ways;
  const floor::Track track;
};

/// Throw BadInput with every finding, one line each.
std::unique_ptr<const Plant> load_plant(const std::filesystem::path& path);
Fleet load_fleet_or_refuse(const std::filesystem::path& path, const floor::Floor& floor);

/// How a cart stands when it has been set down at its home: over the tag, having come the first
/// way that leads there. Throws BadInput if it has no home or nothing leads there.
PoseIx home_pose(const Plant& plant, const FleetCart& cart, const std::filesystem::path& file);

/// The folder of the running program.
std::filesystem::path program_folder();
/// "demo.floor.json" in the sources it was built from or beside the installed program; the first
/// place looked at if it is nowhere.
std::filesystem::path shipped_file(const std::string& name);
/// The built page: beside the program, or installed.
std::filesystem::path shipped_web();

}  // namespace tagline::app
