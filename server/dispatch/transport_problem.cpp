// See transport_problem.hpp.
#include "server/dispatch/transport_problem.hpp"

#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/successive_shortest_path_nonnegative_weights.hpp>
#include <cmath>
#include <numeric>

namespace tagline::dispatch {
namespace {

using Traits = boost::adjacency_list_traits<boost::vecS, boost::vecS, boost::directedS>;
using Edge = Traits::edge_descriptor;

/// Weights are whole numbers in floating point, exact as long as they stay below 2^53: Boost adds
/// up the distances of vertices out of reach, the largest number there is, which overflows in whole
/// ones.
struct Arc {
  std::int64_t capacity{};
  std::int64_t residual{};
  double weight{};
  Edge reverse{};
};

using Graph =
    boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS, boost::no_property, Arc>;

void add_arc(Graph& graph, std::size_t from, std::size_t to, std::int64_t capacity, double weight) {
  const Edge there = boost::add_edge(from, to, graph).first;
  const Edge back = boost::add_edge(to, from, graph).first;
  graph[there] = {capacity, 0, weight, back};
  graph[back] = {0, 0, -weight, there};
}

}  // namespace

std::optional<std::int64_t> least_cost(const TransportProblem& problem) {
  const std::size_t from = problem.supply.size();
  const std::size_t to = problem.demand.size();
  const std::int64_t total =
      std::accumulate(problem.supply.begin(), problem.supply.end(), std::int64_t{0});
  const std::size_t source = from + to;
  const std::size_t sink = source + 1;
  Graph graph(from + to + 2);
  for (std::size_t i = 0; i < from; ++i) {
    if (problem.supply[i] == 0) continue;
    add_arc(graph, source, i, problem.supply[i], 0);
    for (std::size_t j = 0; j < to; ++j) {
      const auto& cost = problem.cost[i][j];
      if (cost && problem.demand[j] > 0) {
        add_arc(graph, i, from + j, total, static_cast<double>(*cost));
      }
    }
  }
  for (std::size_t j = 0; j < to; ++j) {
    if (problem.demand[j] > 0) add_arc(graph, from + j, sink, problem.demand[j], 0);
  }
  boost::successive_shortest_path_nonnegative_weights(
      graph, source, sink,
      boost::capacity_map(boost::get(&Arc::capacity, graph))
          .residual_capacity_map(boost::get(&Arc::residual, graph))
          .reverse_edge_map(boost::get(&Arc::reverse, graph))
          .weight_map(boost::get(&Arc::weight, graph)));
  std::int64_t brought = 0;
  std::int64_t cost = 0;
  for (const Edge edge : boost::make_iterator_range(boost::edges(graph))) {
    const Arc& arc = graph[edge];
    if (arc.capacity == 0) continue;  // the way back of another
    const std::int64_t flow = arc.capacity - arc.residual;
    cost += flow * std::llround(arc.weight);
    if (boost::source(edge, graph) == source) brought += flow;
  }
  if (brought != total) return std::nullopt;
  return cost;
}

}  // namespace tagline::dispatch
