// Least driving times from stand to stand over an empty floor, by Boost.Graph's
// dijkstra_shortest_paths (Boost 1.81; E. W. Dijkstra, Numerische Mathematik 1, 1959) over a graph
// of our own whose vertices are the moves, so that stopping on the way (to turn on the spot, to
// change gear) has its price. Takes from the code under test only what moves there are, how long
// each is, and the time of a turn.
#pragma once

#include <algorithm>
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/dijkstra_shortest_paths.hpp>
#include <limits>
#include <span>
#include <stdexcept>
#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::test {

class FreeTimes {
 public:
  /// A cart that sets off and stops loses v/2a and v/2d (uniformly accelerated motion), where a
  /// move is long enough to reach v at all. Reckoned at the floor's slowest speed: exact on floors
  /// with one speed, up to half a second a leg too short, never too long, on others. Throws
  /// std::invalid_argument for a floor with a move too short for that.
  explicit FreeTimes(const floor::Ways& ways) : ways_(&ways) {
    const floor::CartBody& cart = ways.floor().cart;
    const auto a = static_cast<double>(cart.acceleration.value);
    const auto d = static_cast<double>(cart.deceleration.value);
    auto v = static_cast<double>(cart.speed.value);
    for (const floor::Segment& segment : ways.floor().segments) {
      v = std::min(v, static_cast<double>(segment.speed.value));
    }
    setting_off_ = v / (2 * a);
    stopping_ = v / (2 * d);
    for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
      first_.push_back(moves_.size());
      for (const floor::Move& move : ways.moves_from({p})) {
        const auto length = static_cast<double>(move.length.value);
        if (length < v * v / (2 * a) + v * v / (2 * d)) {
          throw std::invalid_argument("segment " + ways.floor()[move.segment].id + " is too short");
        }
        moves_.push_back(&move);
        const double turn =
            move.turn_round ? std::chrono::duration<double>(floor::turn_round_time).count() : 0;
        drive_.push_back(length / static_cast<double>(ways.floor()[move.segment].speed.value) +
                         turn);
      }
    }
    first_.push_back(moves_.size());
  }

  /// s, from a stand in `start` to a stand in each pose; infinity where there is no way.
  [[nodiscard]] std::vector<double> from(PoseIx start) const {
    Graph graph(moves_.size() + 1);
    // Vertex 0 is the start; vertex m + 1 is the end of move m.
    const auto onwards = [&](std::size_t vertex, PoseIx at, const floor::Move* by) {
      for (std::size_t m = first_[at.value]; m < first_[at.value + 1]; ++m) {
        const bool stands = by != nullptr && (by->gear != moves_[m]->gear || moves_[m]->turn_round);
        const double lost = stands ? setting_off_ + stopping_ : 0;
        boost::add_edge(vertex, m + 1, drive_[m] + lost, graph);
      }
    };
    onwards(0, start, nullptr);
    for (std::size_t m = 0; m < moves_.size(); ++m) onwards(m + 1, moves_[m]->to, moves_[m]);
    std::vector<double> times(moves_.size() + 1);
    boost::dijkstra_shortest_paths(graph, 0,
                                   boost::distance_map(boost::make_iterator_property_map(
                                       times.begin(), boost::get(boost::vertex_index, graph))));
    std::vector<double> result(ways_->pose_count(), std::numeric_limits<double>::infinity());
    result[start.value] = 0;
    for (std::size_t m = 0; m < moves_.size(); ++m) {
      if (times[m + 1] == std::numeric_limits<double>::max()) continue;
      double& best = result[moves_[m]->to.value];
      best = std::min(best, times[m + 1] + setting_off_ + stopping_);
    }
    return result;
  }
  /// The least of from() over the starts and the goals.
  [[nodiscard]] double least(std::span<const PoseIx> starts, std::span<const PoseIx> goals) const {
    double best = std::numeric_limits<double>::infinity();
    for (const PoseIx start : starts) {
      const auto times = from(start);
      for (const PoseIx goal : goals) best = std::min(best, times[goal.value]);
    }
    return best;
  }
  [[nodiscard]] double setting_off() const { return setting_off_; }
  [[nodiscard]] double stopping() const { return stopping_; }

 private:
  using Graph =
      boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS, boost::no_property,
                            boost::property<boost::edge_weight_t, double>>;
  const floor::Ways* ways_;
  double setting_off_{}, stopping_{};
  std::vector<const floor::Move*> moves_;  // grouped by the pose they start from
  std::vector<double> drive_;
  std::vector<std::size_t> first_;  // pose -> first of its moves
};

}  // namespace tagline::test
