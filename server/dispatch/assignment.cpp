// See assignment.hpp.
#include "server/dispatch/assignment.hpp"

#include <algorithm>
#include <cstdlib>
#include <numeric>
#include <utility>

namespace tagline::dispatch {
namespace {

constexpr Duration one_priority_step = std::chrono::minutes{10};
constexpr int usual_priority = 5;
constexpr Duration due_soon = std::chrono::hours{1};
constexpr std::int64_t urgency_per_travel = 10;
constexpr Duration steady = std::chrono::seconds{15};

/// More than any matching of allowed pairs can cost, so that a forbidden pair is the last resort.
constexpr std::int64_t last_resort = 1'000'000'000'000'000;

/// For rows <= columns: every row gets a column. Potentials keep all reduced costs >= 0; each row
/// in turn is matched along a shortest augmenting path (Dijkstra over the columns).
struct Rows {
  std::vector<std::size_t> column_of;
  std::vector<std::int64_t> column_potential;
};
Rows match_rows(std::size_t rows, std::size_t columns, const std::vector<std::int64_t>& costs) {
  constexpr std::size_t nobody = std::numeric_limits<std::size_t>::max();
  std::vector<std::int64_t> row_potential(rows, 0);
  std::vector<std::int64_t> column_potential(columns, 0);
  std::vector<std::size_t> row_of(columns, nobody);
  for (std::size_t begin = 0; begin < rows; ++begin) {
    std::vector<std::int64_t> distance(columns, std::numeric_limits<std::int64_t>::max());
    std::vector<std::size_t> before(columns, nobody);  // column before it on the path
    std::vector<bool> settled(columns, false);
    std::size_t row = begin;
    std::size_t last = nobody;
    std::int64_t so_far = 0;
    while (true) {
      std::size_t nearest = nobody;
      for (std::size_t c = 0; c < columns; ++c) {
        if (settled[c]) continue;
        const std::int64_t through =
            so_far + costs[row * columns + c] - row_potential[row] - column_potential[c];
        if (through < distance[c]) {
          distance[c] = through;
          before[c] = last;
        }
        if (nearest == nobody || distance[c] < distance[nearest]) nearest = c;
      }
      settled[nearest] = true;
      so_far = distance[nearest];
      last = nearest;
      if (row_of[nearest] == nobody) break;
      row = row_of[nearest];
    }
    row_potential[begin] += so_far;
    for (std::size_t c = 0; c < columns; ++c) {
      if (!settled[c]) continue;
      column_potential[c] += distance[c] - so_far;
      if (row_of[c] != nobody) row_potential[row_of[c]] += so_far - distance[c];
    }
    for (std::size_t c = last; c != nobody; c = before[c]) {
      row_of[c] = before[c] == nobody ? begin : row_of[before[c]];
    }
  }
  std::vector<std::size_t> column_of(rows);
  for (std::size_t c = 0; c < columns; ++c) {
    if (row_of[c] != nobody) column_of[row_of[c]] = c;
  }
  return {std::move(column_of), std::move(column_potential)};
}

/// About `total` units dealt out in proportion to `weights`, largest remainders first.
std::vector<std::size_t> deal(const std::vector<double>& weights, std::size_t total) {
  const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
  std::vector<std::size_t> units(weights.size());
  std::vector<std::pair<double, std::size_t>> remainders;
  std::size_t dealt = 0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const double exact = weights[i] / sum * static_cast<double>(total);
    units[i] = static_cast<std::size_t>(exact);
    dealt += units[i];
    remainders.emplace_back(static_cast<double>(units[i]) - exact, i);
  }
  std::ranges::sort(remainders);
  for (std::size_t i = 0; dealt < total; ++i, ++dealt) ++units[remainders[i].second];
  return units;
}

}  // namespace

std::vector<std::optional<std::size_t>> least_cost_matching(const CostTable& table) {
  std::vector<std::optional<std::size_t>> result(table.rows);
  if (table.rows == 0 || table.columns == 0) return result;
  const bool turned = table.rows > table.columns;
  const std::size_t rows = turned ? table.columns : table.rows;
  const std::size_t columns = turned ? table.rows : table.columns;
  std::vector<std::int64_t> costs(rows * columns);
  for (std::size_t r = 0; r < table.rows; ++r) {
    for (std::size_t c = 0; c < table.columns; ++c) {
      const std::int64_t cost = std::min(table.at(r, c), last_resort);
      (turned ? costs[c * columns + r] : costs[r * columns + c]) = cost;
    }
  }
  const auto matched = match_rows(rows, columns, costs).column_of;
  for (std::size_t i = 0; i < rows; ++i) {
    const std::size_t row = turned ? matched[i] : i;
    const std::size_t column = turned ? i : matched[i];
    if (table.at(row, column) < last_resort) result[row] = column;
  }
  return result;
}

Duration urgency(const Urgency& job) {
  Duration result = one_priority_step * (job.priority - usual_priority) + job.age;
  if (job.left && *job.left < due_soon) result += due_soon - *job.left;
  return result;
}

std::vector<Duration> pickup_prices(const std::vector<std::vector<Duration>>& travel,
                                    const std::vector<double>& ends,
                                    const std::vector<double>& begins) {
  constexpr std::size_t drawn = 60;
  std::vector<Duration> prices(begins.size(), Duration{0});
  const auto any = [](const std::vector<double>& weights) {
    return std::accumulate(weights.begin(), weights.end(), 0.0) > 0;
  };
  if (!any(ends) || !any(begins)) return prices;
  const auto units = [](const std::vector<std::size_t>& dealt) {
    std::vector<std::size_t> places;
    for (std::size_t i = 0; i < dealt.size(); ++i) places.insert(places.end(), dealt[i], i);
    return places;
  };
  const auto from = units(deal(ends, drawn));
  const auto to = units(deal(begins, drawn));
  std::vector<std::int64_t> costs;
  for (const std::size_t i : from) {
    for (const std::size_t j : to) {
      costs.push_back(std::min<std::int64_t>(travel[i][j].count(), last_resort));
    }
  }
  const auto potential = match_rows(from.size(), to.size(), costs).column_potential;
  std::vector<std::int64_t> sum(begins.size(), 0);
  std::vector<std::int64_t> count(begins.size(), 0);
  for (std::size_t u = 0; u < to.size(); ++u) {
    sum[to[u]] += potential[u];
    ++count[to[u]];
  }
  for (std::size_t j = 0; j < prices.size(); ++j) {
    // A price beyond any travel says only that there is no way.
    if (count[j] > 0 && std::abs(sum[j]) < last_resort / 2)
      prices[j] = Duration{sum[j] / count[j] / 2};
  }
  return prices;
}

std::int64_t cost(Duration ready, Duration travel, Duration price, const Urgency& job,
                  bool has_it_already) {
  return (ready + travel - price - (has_it_already ? steady : Duration{0})).count() -
         urgency(job).count() / urgency_per_travel;
}

}  // namespace tagline::dispatch
