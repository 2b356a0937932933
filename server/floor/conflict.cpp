// Conflicts from geometry: see conflict.hpp.
#include "server/floor/conflict.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <limits>
#include <tuple>
#include <utility>

#include "server/floor/sweep.hpp"

namespace tagline::floor {
namespace {

/// Bodies exactly as far apart as the clearance are fine; this keeps rounding from deciding, mm.
constexpr double rounding = 1e-3;
/// Side of the grid cells in which near outlines are looked for, mm.
constexpr double cell_side = 1500;

using Pieces = std::vector<PieceIx>;

struct Situation {
  enum class Kind { driving, turning, standing } kind{};
  Sweep sweep;
  Pieces held;
  PieceIx main;
};

Pieces both(const Pieces& a, const Pieces& b) {
  Pieces result;
  std::set_union(a.begin(), a.end(), b.begin(), b.end(), std::back_inserter(result));
  return result;
}

bool share_a_piece(const Pieces& a, const Pieces& b) {
  auto i = a.begin();
  auto j = b.begin();
  while (i != a.end() && j != b.end()) {
    if (*i == *j) return true;
    if (*i < *j) {
      ++i;
    } else {
      ++j;
    }
  }
  return false;
}

std::vector<Situation> all_situations(const Ways& ways, const std::vector<Pieces>& covers,
                                      Mm slack) {
  const auto points = static_cast<std::uint32_t>(ways.floor().points.size());
  const Sweeper sweeper{ways};
  std::vector<Situation> result;
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    const PoseIx pose{p};
    const PieceIx point{ways[pose].at.value};
    result.push_back({Situation::Kind::standing, sweeper.standing(pose, slack), covers[p], point});
    if (!has_way_in(ways, pose)) {
      result.push_back({Situation::Kind::driving,
                        sweeper.driving_from_nowhere(pose),
                        covers[p],
                        {points + ways[pose].by.value}});
    }
    for (const Move& move : ways.moves_from(pose)) {
      if (move.gear == Gear::back) continue;  // the same space as on the way in
      const Pieces held = both(covers[p], covers[move.to.value]);
      const PieceIx segment{points + move.segment.value};
      result.push_back({Situation::Kind::driving, sweeper.driving(move), held, segment});
      if (move.turn_round) {
        result.push_back({Situation::Kind::turning, sweeper.turning(move), held, point});
      }
    }
  }
  return result;
}

/// One outline of one situation, with the box round it and half the clearance.
struct Boxed {
  std::uint32_t situation{};
  std::uint32_t outline{};
  Position low, high;
};

std::vector<Boxed> boxes_of(const std::vector<Situation>& situations, double half_clearance) {
  std::vector<Boxed> boxes;
  for (std::uint32_t s = 0; s < situations.size(); ++s) {
    for (std::uint32_t o = 0; o < situations[s].sweep.size(); ++o) {
      const Outline& outline = situations[s].sweep[o];
      constexpr double far = std::numeric_limits<double>::max();
      Boxed box{s, o, {far, far}, {-far, -far}};
      for (const Position& c : outline.polygon()) {
        box.low = {std::min(box.low.x, c.x), std::min(box.low.y, c.y)};
        box.high = {std::max(box.high.x, c.x), std::max(box.high.y, c.y)};
      }
      const double grow = outline.round + half_clearance;
      box.low = {box.low.x - grow, box.low.y - grow};
      box.high = {box.high.x + grow, box.high.y + grow};
      boxes.push_back(box);
    }
  }
  return boxes;
}

struct Cell {
  std::int64_t column{};
  std::int64_t row{};
  auto operator<=>(const Cell&) const = default;
};

Cell cell_of(Position p) {
  return {static_cast<std::int64_t>(std::floor(p.x / cell_side)),
          static_cast<std::int64_t>(std::floor(p.y / cell_side))};
}

/// Two outlines that may be too close, of situations that share no piece.
struct Suspect {
  int rank{};  // driving pairs first
  std::uint32_t a{}, b{};
  std::uint32_t outline_a{}, outline_b{};
  auto operator<=>(const Suspect&) const = default;
};

std::vector<Suspect> find_suspects(const std::vector<Situation>& situations,
                                   double half_clearance) {
  const std::vector<Boxed> boxes = boxes_of(situations, half_clearance);
  std::vector<std::pair<Cell, std::uint32_t>> in_cells;
  for (std::uint32_t i = 0; i < boxes.size(); ++i) {
    const Cell low = cell_of(boxes[i].low);
    const Cell high = cell_of(boxes[i].high);
    for (std::int64_t c = low.column; c <= high.column; ++c) {
      for (std::int64_t r = low.row; r <= high.row; ++r) in_cells.emplace_back(Cell{c, r}, i);
    }
  }
  std::sort(in_cells.begin(), in_cells.end());

  std::vector<Suspect> suspects;
  const auto consider = [&](Cell here, const Boxed& x, const Boxed& y) {
    if (x.situation == y.situation) return;
    const Position low{std::max(x.low.x, y.low.x), std::max(x.low.y, y.low.y)};
    const Position high{std::min(x.high.x, y.high.x), std::min(x.high.y, y.high.y)};
    if (low.x > high.x || low.y > high.y) return;
    if (cell_of(low) != here) return;  // met again in the cell where their common part starts
    const Situation& s = situations[x.situation];
    const Situation& t = situations[y.situation];
    if (share_a_piece(s.held, t.held)) return;
    suspects.push_back({static_cast<int>(s.kind) + static_cast<int>(t.kind), x.situation,
                        y.situation, x.outline, y.outline});
  };
  for (std::size_t first = 0; first < in_cells.size();) {
    std::size_t last = first;
    while (last < in_cells.size() && in_cells[last].first == in_cells[first].first) ++last;
    for (std::size_t i = first; i < last; ++i) {
      for (std::size_t j = i + 1; j < last; ++j) {
        // Boxes are numbered in the order of their situations, so x always is the lower one.
        consider(in_cells[first].first, boxes[in_cells[i].second], boxes[in_cells[j].second]);
      }
    }
    first = last;
  }
  // A fixed order: which pair is found first decides which conflicts are still needed after it.
  std::sort(suspects.begin(), suspects.end());
  return suspects;
}

class Conflicts {
 public:
  explicit Conflicts(std::size_t pieces) : of_(pieces) {}

  void add(PieceIx a, PieceIx b) {
    if (a == b) return;
    insert(of_[a.value], b);
    insert(of_[b.value], a);
  }
  [[nodiscard]] bool between(const Pieces& a, const Pieces& b) const {
    return std::any_of(a.begin(), a.end(),
                       [&](PieceIx piece) { return share_a_piece(of_[piece.value], b); });
  }
  std::vector<Pieces> take() { return std::move(of_); }

 private:
  static void insert(Pieces& pieces, PieceIx piece) {
    const auto place = std::lower_bound(pieces.begin(), pieces.end(), piece);
    if (place == pieces.end() || *place != piece) pieces.insert(place, piece);
  }
  std::vector<Pieces> of_;
};

}  // namespace

std::vector<Pieces> find_conflicts(const Ways& ways, const std::vector<Pieces>& covers, Mm slack) {
  const Floor& floor = ways.floor();
  const auto points = static_cast<std::uint32_t>(floor.points.size());
  Conflicts conflicts{floor.points.size() + floor.segments.size()};
  for (const auto& [a, b] : floor.conflicts) {
    conflicts.add({points + a.value}, {points + b.value});
  }
  const std::vector<Situation> situations = all_situations(ways, covers, slack);
  const auto clearance = static_cast<double>(floor.cart.clearance.value);
  const std::vector<Suspect> suspects = find_suspects(situations, clearance / 2);
  for (std::size_t i = 0; i < suspects.size();) {
    const Situation& a = situations[suspects[i].a];
    const Situation& b = situations[suspects[i].b];
    std::size_t end = i;
    const auto same_pair = [&](const Suspect& s) {
      return s.a == suspects[i].a && s.b == suspects[i].b;
    };
    while (end < suspects.size() && same_pair(suspects[end])) ++end;
    if (!conflicts.between(a.held, b.held)) {
      const bool close =
          std::any_of(suspects.begin() + static_cast<std::ptrdiff_t>(i),
                      suspects.begin() + static_cast<std::ptrdiff_t>(end), [&](const Suspect& s) {
                        const double apart = gap(a.sweep[s.outline_a], b.sweep[s.outline_b]);
                        return apart <= 0 || apart < clearance - rounding;
                      });
      if (close) conflicts.add(a.main, b.main);
    }
    i = end;
  }
  return conflicts.take();
}

}  // namespace tagline::floor
