// See start_bytes.hpp.
#include "server/replay/start_bytes.hpp"

#include "server/replay/event_bytes.hpp"
#include "server/replay/seal.hpp"

namespace tagline::replay {
namespace {

void check(const Start& start) {
  for (const control::Job& job : start.restored.jobs) {
    if (job.stops_done > job.stop_count()) {
      throw BadBytes("job " + std::to_string(job.id.value) + " has more stops done than it has");
    }
  }
}

}  // namespace

Limits limits_of(const floor::Ways& ways, std::size_t carts) {
  const floor::Floor& floor = ways.floor();
  return {carts,
          floor.points.size(),
          ways.pose_count(),
          floor.stations.size(),
          floor.segments.size(),
          floor.zones.size()};
}

std::string start_bytes(const Start& start) {
  Bytes bytes;
  put(bytes, event_layout());
  put(bytes, shape_of<Start>());
  put(bytes, start);
  return sealed(std::move(bytes.all));
}

StartRead start_from(std::string_view bytes, const floor::Ways& ways) {
  // The number of carts is only known once their names are read, which come first.
  In in(unsealed(bytes), limits_of(ways, std::numeric_limits<std::size_t>::max()));
  StartRead read;
  std::string shape;
  get(in, read.layout);
  get(in, shape);
  if (shape != shape_of<Start>()) {
    throw BadBytes("another version of this program wrote it, which kept other things");
  }
  std::vector<std::string>& names = read.start.cart_names;
  get(in, names);
  In rest(in.rest(), limits_of(ways, names.size()));
  get(rest, read.start.policy);
  get(rest, read.start.restored);
  get(rest, read.start.now);
  if (rest.left() > 0) throw BadBytes("there is something behind its end");
  check(read.start);
  return read;
}

}  // namespace tagline::replay
