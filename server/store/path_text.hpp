// Poses and paths as text, since a PoseIx means nothing on another floor (or after a change in how
// poses are numbered).
//
//   pose  = point "/" segment direction [ "@" pose ]     direction: ">" driven from `from` to
//           `to`, "<" the other way; after "@" the pose at a spur's mouth it was entered from
//   path  = { "\n" step " " pose " " act }               act: go, load, unload, rest
//
// e.g. "\n41 M1/S7> go\n42 K1/S9>@M1/S7> load". Ids have no "/", "@", "<", ">" or blank
// (floor file format).
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/control/outcome.hpp"
#include "server/floor/ways.hpp"

namespace tagline::store {

std::string pose_text(const floor::Ways& ways, PoseIx pose);
/// Nothing if the text is malformed or these ways have no such pose.
std::optional<PoseIx> pose_from(const floor::Ways& ways, std::string_view text);

std::string path_text(const floor::Ways& ways, const std::vector<control::PathStep>& path);
/// What the text of a path that has `step` at `point` contains.
std::string step_at_point(control::Step step, std::string_view point);

/// A path read back.
struct PathRead {
  std::vector<control::PathStep> path;
  /// Some step could not be resolved: `path` lacks it. Then `points` is all there is to rely on.
  bool broken{};
  /// Every point named on the path that the floor still has, in order.
  std::vector<PointIx> points;
};
/// Reads the steps from number `first` on.
PathRead path_from(const floor::Ways& ways, std::string_view text, control::Step first);

}  // namespace tagline::store
