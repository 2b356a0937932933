// See by_lemon.hpp.
#include "tests/unit/dispatch/by_lemon.hpp"

#include <lemon/matching.h>
#include <lemon/network_simplex.h>
#include <lemon/smart_graph.h>

#include <cstdlib>
#include <numeric>

namespace tagline::test {

MatchingWorth matching_by_lemon(const Costs& costs) {
  using Graph = lemon::SmartGraph;
  Graph graph;
  std::vector<Graph::Node> rows(costs.size());
  std::vector<Graph::Node> columns(costs.empty() ? 0 : costs.front().size());
  for (auto& node : rows) node = graph.addNode();
  for (auto& node : columns) node = graph.addNode();
  std::int64_t a_pair = 1;
  for (const auto& row : costs) {
    for (const auto& cost : row) a_pair += cost ? 2 * std::abs(*cost) : 0;
  }
  Graph::EdgeMap<std::int64_t> weight(graph);
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (std::size_t c = 0; c < columns.size(); ++c) {
      if (costs[r][c]) weight[graph.addEdge(rows[r], columns[c])] = a_pair - *costs[r][c];
    }
  }
  lemon::MaxWeightedMatching<Graph, Graph::EdgeMap<std::int64_t>> matching(graph, weight);
  matching.run();
  const auto pairs = matching.matchingSize();
  return {static_cast<std::size_t>(pairs), pairs * a_pair - matching.matchingWeight()};
}

std::optional<std::int64_t> transport_by_lemon(const std::vector<int>& supply,
                                               const std::vector<int>& demand, const Costs& costs,
                                               bool all_demand) {
  using Graph = lemon::SmartDigraph;
  using Simplex = lemon::NetworkSimplex<Graph, int, std::int64_t>;
  Graph graph;
  std::vector<Graph::Node> from(supply.size());
  std::vector<Graph::Node> to(demand.size());
  for (auto& node : from) node = graph.addNode();
  for (auto& node : to) node = graph.addNode();
  const Graph::Node sink = graph.addNode();
  Graph::NodeMap<int> supplies(graph, 0);
  Graph::ArcMap<std::int64_t> cost(graph);
  Graph::ArcMap<int> least(graph, 0);
  Graph::ArcMap<int> most(graph);
  int total = 0;
  for (std::size_t i = 0; i < from.size(); ++i) {
    supplies[from[i]] = supply[i];
    total += supply[i];
  }
  supplies[sink] = -total;
  for (std::size_t j = 0; j < to.size(); ++j) {
    const Graph::Arc out = graph.addArc(to[j], sink);
    cost[out] = 0;
    most[out] = demand[j];
    if (all_demand) least[out] = demand[j];
  }
  for (std::size_t i = 0; i < from.size(); ++i) {
    for (std::size_t j = 0; j < to.size(); ++j) {
      if (!costs[i][j]) continue;
      const Graph::Arc arc = graph.addArc(from[i], to[j]);
      cost[arc] = *costs[i][j];
      most[arc] = total;
    }
  }
  Simplex simplex(graph);
  simplex.lowerMap(least).upperMap(most).costMap(cost).supplyMap(supplies);
  if (simplex.run() != Simplex::OPTIMAL) return std::nullopt;
  return simplex.totalCost<std::int64_t>();
}

}  // namespace tagline::test
