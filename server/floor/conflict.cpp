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

/// Side of the grid cells in which near outlines are looked for, mm.
constexpr double cell_side = 1500;

using Pieces = std::vector<PieceIx>;

struct Situation {
  enum class Kind { standing, turning, driving } kind{};
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

struct Box {
  Position low{std::numeric_limits<double>::max(), std::numeric_limits<double>::max()};
  Position high{-std::numeric_limits<double>::max(), -std::numeric_limits<double>::max()};

  void take(Position p) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
  [[nodiscard]] bool meets(const Box& other) const {
    return low.x <= other.high.x && other.low.x <= high.x && low.y <= other.high.y &&
           other.low.y <= high.y;
  }
};

/// The boxes round the outlines of a sweep, and round every few of them that follow each other.
/// Each is grown by half the clearance: bodies too close to each other are in boxes that meet.
class Boxes {
 public:
  Boxes(const Sweep& sweep, double half_clearance) {
    for (const Outline& outline : sweep) {
      const double grow = outline.round + half_clearance;
      Box box;
      for (const Position& c : outline.polygon()) {
        box.take({c.x - grow, c.y - grow});
        box.take({c.x + grow, c.y + grow});
      }
      if (single.size() % run == 0) runs.emplace_back();
      runs.back().take(box.low);
      runs.back().take(box.high);
      single.push_back(box);
    }
  }

  /// Calls `pair(i, j)` for outlines i of `a` and j of `b` whose boxes meet, until it returns true.
  template <class Pair>
  static bool any_meeting(const Boxes& a, const Boxes& b, const Pair& pair) {
    for (std::size_t k = 0; k < a.runs.size(); ++k) {
      for (std::size_t l = 0; l < b.runs.size(); ++l) {
        if (!a.runs[k].meets(b.runs[l])) continue;
        for (std::size_t i = k * run; i < std::min((k + 1) * run, a.single.size()); ++i) {
          if (!a.single[i].meets(b.runs[l])) continue;
          for (std::size_t j = l * run; j < std::min((l + 1) * run, b.single.size()); ++j) {
            if (a.single[i].meets(b.single[j]) && pair(i, j)) return true;
          }
        }
      }
    }
    return false;
  }

  static constexpr std::size_t run = 8;
  std::vector<Box> single;
  std::vector<Box> runs;
};

struct Cell {
  std::int64_t column{};
  std::int64_t row{};
  auto operator<=>(const Cell&) const = default;
};

Cell cell_of(Position p) {
  return {static_cast<std::int64_t>(std::floor(p.x / cell_side)),
          static_cast<std::int64_t>(std::floor(p.y / cell_side))};
}

/// Two situations that may come too close and share no piece.
struct Suspects {
  int rank{};  // standing pairs first
  std::uint32_t a{}, b{};
  auto operator<=>(const Suspects&) const = default;
};

/// In a fixed order: which pair is found first decides which conflicts are still needed after it.
std::vector<Suspects> find_suspects(const std::vector<Situation>& situations,
                                    const std::vector<Boxes>& boxes) {
  struct Entry {
    Cell cell;
    std::uint32_t situation{};
    std::uint32_t run{};
    auto operator<=>(const Entry&) const = default;
  };
  std::vector<Entry> entries;
  for (std::uint32_t s = 0; s < boxes.size(); ++s) {
    for (std::uint32_t r = 0; r < boxes[s].runs.size(); ++r) {
      const Cell low = cell_of(boxes[s].runs[r].low);
      const Cell high = cell_of(boxes[s].runs[r].high);
      for (std::int64_t c = low.column; c <= high.column; ++c) {
        for (std::int64_t w = low.row; w <= high.row; ++w) entries.push_back({{c, w}, s, r});
      }
    }
  }
  std::sort(entries.begin(), entries.end());

  std::vector<Suspects> suspects;
  for (std::size_t first = 0, last = 0; first < entries.size(); first = last) {
    while (last < entries.size() && entries[last].cell == entries[first].cell) ++last;
    for (std::size_t i = first; i < last; ++i) {
      const Situation& a = situations[entries[i].situation];
      for (std::size_t j = i + 1; j < last; ++j) {
        if (entries[i].situation == entries[j].situation) continue;
        if (!boxes[entries[i].situation].runs[entries[i].run].meets(
                boxes[entries[j].situation].runs[entries[j].run])) {
          continue;
        }
        const Situation& b = situations[entries[j].situation];
        if (share_a_piece(a.held, b.held)) continue;
        suspects.push_back({static_cast<int>(a.kind) + static_cast<int>(b.kind),
                            entries[i].situation, entries[j].situation});
      }
    }
  }
  std::sort(suspects.begin(), suspects.end());
  suspects.erase(std::unique(suspects.begin(), suspects.end()), suspects.end());
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
  std::vector<Boxes> boxes;
  boxes.reserve(situations.size());
  for (const Situation& situation : situations) boxes.emplace_back(situation.sweep, clearance / 2);
  for (const Suspects& pair : find_suspects(situations, boxes)) {
    const Situation& a = situations[pair.a];
    const Situation& b = situations[pair.b];
    if (conflicts.between(a.held, b.held)) continue;
    const bool too_close =
        Boxes::any_meeting(boxes[pair.a], boxes[pair.b], [&](std::size_t i, std::size_t j) {
          const double apart = gap(a.sweep[i], b.sweep[j]);
          return apart <= 0 || apart < clearance - gap_rounding;
        });
    if (too_close) conflicts.add(a.main, b.main);
  }
  return conflicts.take();
}

}  // namespace tagline::floor
