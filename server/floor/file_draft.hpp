// A floor being read: what the schema pass found usable, with the references still as text and the
// gaps still visible, so that the passes after it can go on past a finding.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "server/floor/file_document.hpp"
#include "server/floor/floor.hpp"

namespace tagline::floor {

/// A reference by id: nothing where the file had no text, which is a finding already.
using Reference = std::optional<std::string>;

/// Index in a Draft list = index in the file's list, so that pointers can be made from it.
struct DraftPoint {
  std::optional<std::string> id;
  std::optional<Position> at;
  std::vector<std::string> tags;
  bool siding{};
  bool turn_round{};
};

struct DraftSegment {
  std::optional<std::string> id;
  Reference from, to;
  std::optional<double> length;  // mm; only if the file gives one
  bool bad_length{};
  std::optional<MmPerS> speed;  // only if the file gives one
  bool two_way{};
  bool spur{};
  std::vector<Position> via;
  bool bad_via{};
  std::optional<Branch> turn;
};

struct DraftStation {
  std::optional<std::string> id;
  std::string name;
  Reference point;
  Duration load{}, unload{};
  std::optional<int> capacity;
};

struct DraftCharger {
  std::optional<std::string> id;
  Reference point;
};

struct DraftDemand {
  Reference from, to;
  double per_hour{};
};

struct DraftZone {
  std::optional<std::string> id;
  std::string name;
  std::vector<Reference> segments;
};

struct Draft {
  std::string name;
  CartBody cart;
  /// Segment speeds can't be compared with the cart's while that itself is wrong.
  bool cart_speed_known{};
  /// With a list missing or broken as a whole, that is the finding, not each use of its ids.
  bool points_listed{}, segments_listed{}, stations_listed{};
  std::vector<DraftPoint> points;
  std::vector<DraftSegment> segments;
  std::vector<DraftStation> stations;
  std::vector<DraftCharger> chargers;
  std::vector<std::pair<Reference, Reference>> conflicts;
  std::vector<DraftDemand> demand;
  std::vector<DraftZone> zones;
};

/// The ends of one segment, where both are known.
struct Ends {
  std::optional<PointIx> from, to;
};

/// Every reference that could be resolved; index = index in the draft. A floor made from it is
/// whole exactly when there were no findings.
struct Resolved {
  std::vector<Ends> segments;
  std::vector<std::optional<PointIx>> stations, chargers;
  std::vector<std::pair<SegmentIx, SegmentIx>> conflicts;
  std::vector<Demand> demand;
  std::vector<std::vector<SegmentIx>> zones;
};

// The passes, in order. Each adds its findings and goes on.

/// Keys, types, ranges, ids and tags.
Draft read_schema(const JsonValue& document, Findings& findings);
/// Ids and tags given twice, references to nothing, pairs that make no sense.
Resolved resolve(const Draft& draft, Findings& findings);
/// Lines, lengths and dead ends. Returns the driven length of each segment (0 where unknown).
std::vector<Mm> check_geometry(const Draft& draft, const Resolved& resolved, Findings& findings);

}  // namespace tagline::floor
