// Dense indices into the tables of one floor. A PointIx can never be used as a SegmentIx.
// They are meaningful only for the Floor (or Ways, Track) they were taken from; what leaves the
// process (files, API, wire) is always the textual id.
#pragma once

#include <compare>
#include <cstddef>
#include <cstdint>
#include <functional>

namespace tagline {

template <class Kind>
struct Index {
  std::uint32_t value{};
  constexpr auto operator<=>(const Index&) const = default;
};

using PointIx = Index<struct PointKind>;
using SegmentIx = Index<struct SegmentKind>;
using StationIx = Index<struct StationKind>;
using ChargerIx = Index<struct ChargerKind>;
using ZoneIx = Index<struct ZoneKind>;
/// A point together with the way a cart came to stand on it (see ways.hpp).
using PoseIx = Index<struct PoseKind>;
/// A piece of exclusive track: one per point, one per segment (see track.hpp).
using PieceIx = Index<struct PieceKind>;
/// A cart of the fleet, numbered in the order of the fleet list.
using CartIx = Index<struct CartKind>;

}  // namespace tagline

template <class Kind>
struct std::hash<tagline::Index<Kind>> {
  std::size_t operator()(tagline::Index<Kind> ix) const noexcept {
    return std::hash<std::uint32_t>{}(ix.value);
  }
};
