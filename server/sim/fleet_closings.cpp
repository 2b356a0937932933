// See fleet_closings.hpp.
#include "server/sim/fleet_closings.hpp"

#include <algorithm>
#include <utility>

namespace tagline::sim {
namespace {

using What = FleetAgenda::What;

}  // namespace

FleetClosings::FleetClosings(FleetScene scene, FleetMishaps& mishaps,
                             std::function<bool(const control::Event& request)> ask)
    : scene_{scene}, mishaps_{mishaps}, ask_{std::move(ask)} {}

void FleetClosings::begin() {
  if (mishaps_.closings()) {
    scene_.agenda.at(mishaps_.next_closing(scene_.agenda.now()), What::closing);
  }
}

void FleetClosings::change() {
  const double now = scene_.agenda.now();
  if (closed_) {
    audit();
    if (!ask_(control::AskBringUp{fleet_request, *closed_})) {
      throw FleetBroken{"what is out of service could not be brought back"};
    }
    closed_.reset();
    reopened_ = now;
    begin();
    return;
  }
  const floor::Floor& floor = scene_.track.floor();
  const auto any = [&](std::size_t count) { return mishaps_.pick(count); };
  // Mostly track: that is what others have to do with.
  const std::uint32_t kind = any(4);
  if (kind == 0) {
    closed_ = StationIx{any(floor.stations.size())};
  } else if (kind == 1) {
    closed_ = CartIx{any(scene_.carts.size())};
  } else {
    closed_ = SegmentIx{any(floor.segments.size())};
  }
  excused_.clear();
  if (const auto* segment = std::get_if<SegmentIx>(&*closed_)) {
    for (std::uint32_t i = 0; i < scene_.carts.size(); ++i) {
      const auto view = scene_.core.cart({i});
      const bool astray =
          view.mode == control::CartMode::off_floor || view.mode == control::CartMode::in_doubt;
      if (astray || std::ranges::binary_search(view.holds, scene_.track.piece(*segment))) {
        excuse({i});
      }
    }
  }
  if (!ask_(control::AskTakeDown{fleet_request, *closed_, "work on it", {}, {}})) {
    throw FleetBroken{"nothing could be taken out of service"};
  }
  scene_.agenda.at(now + mishaps_.closing_lasts(), What::closing);
}

void FleetClosings::audit() const {
  if (!closed_) return;
  const auto* segment = std::get_if<SegmentIx>(&*closed_);
  if (segment == nullptr) return;
  const PieceIx piece = scene_.track.piece(*segment);
  for (std::uint32_t i = 0; i < scene_.carts.size(); ++i) {
    if (excused_.contains(CartIx{i})) continue;
    if (std::ranges::binary_search(scene_.core.cart({i}).holds, piece)) {
      throw FleetBroken{scene_.core.cart_name({i}) + " was let onto " + scene_.track.name(piece) +
                        ", which is out of service"};
    }
  }
}

bool FleetClosings::lately(double seconds) const {
  return closed_ || scene_.agenda.now() - reopened_ < seconds;
}

}  // namespace tagline::sim
