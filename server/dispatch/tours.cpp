// See tours.hpp.
#include "server/dispatch/tours.hpp"

#include <limits>
#include <utility>

namespace tagline::dispatch {
namespace {

using Tour = std::vector<std::size_t>;
constexpr std::int64_t impossible = std::numeric_limits<std::int64_t>::max() / 4;

std::int64_t cost(const TourProblem& problem, std::size_t cart, const Tour& tour) {
  std::int64_t time = problem.ready[cart].count();
  std::int64_t sum = 0;
  for (std::size_t i = 0; i < tour.size(); ++i) {
    const Duration drive =
        i == 0 ? problem.start[cart][tour[0]] : problem.empty[tour[i - 1]][tour[i]];
    if (drive == Duration::max()) return impossible;
    time += drive.count() + problem.work[tour[i]].count();
    sum += problem.weight[tour[i]] * time;
  }
  return sum;
}

struct Place {
  std::int64_t more{impossible};
  std::size_t cart{}, at{};
};

/// Where a job costs least. Of places in one tour that cost the same it takes the last: a job does
/// not push in before one that is like it and was there first.
Place best_place(const TourProblem& problem, const std::vector<Tour>& tours,
                 const std::vector<std::int64_t>& costs, std::size_t job) {
  Place best;
  for (std::size_t k = 0; k < tours.size(); ++k) {
    Tour tour = tours[k];
    tour.insert(tour.begin(), job);
    for (std::size_t at = 0;; ++at) {
      const std::int64_t whole = cost(problem, k, tour);
      const std::int64_t more = whole - costs[k];
      if (whole < impossible && (more < best.more || (more == best.more && best.cart == k)))
        best = {more, k, at};
      if (at + 1 == tour.size()) break;
      std::swap(tour[at], tour[at + 1]);
    }
  }
  return best;
}

}  // namespace

std::vector<Tour> plan_tours(const TourProblem& problem) {
  std::vector<Tour> tours(problem.ready.size());
  std::vector<std::int64_t> costs(tours.size(), 0);
  const auto insert = [&](const Place& place, std::size_t job) {
    Tour& tour = tours[place.cart];
    tour.insert(tour.begin() + static_cast<std::ptrdiff_t>(place.at), job);
    costs[place.cart] += place.more;
  };
  for (std::size_t job = 0; job < problem.work.size(); ++job) {
    const Place place = best_place(problem, tours, costs, job);
    if (place.more < impossible) insert(place, job);
  }
  constexpr int most_rounds = 20;
  bool better = true;
  for (int round = 0; better && round < most_rounds; ++round) {
    better = false;
    // Each job out, and in where it is best.
    for (std::size_t k = 0; k < tours.size(); ++k) {
      for (std::size_t i = 0; i < tours[k].size(); ++i) {
        const std::size_t job = tours[k][i];
        const std::int64_t with = costs[k];
        tours[k].erase(tours[k].begin() + static_cast<std::ptrdiff_t>(i));
        costs[k] = cost(problem, k, tours[k]);
        Place place = best_place(problem, tours, costs, job);
        if (place.more < with - costs[k]) {
          better = true;
        } else {
          place = {with - costs[k], k, i};
        }
        insert(place, job);
      }
    }
    // Any two change places.
    for (std::size_t k = 0; k < tours.size(); ++k) {
      for (std::size_t m = k; m < tours.size(); ++m) {
        for (std::size_t i = 0; i < tours[k].size(); ++i) {
          for (std::size_t j = m == k ? i + 1 : 0; j < tours[m].size(); ++j) {
            std::swap(tours[k][i], tours[m][j]);
            const std::int64_t one = cost(problem, k, tours[k]);
            const std::int64_t other = m == k ? 0 : cost(problem, m, tours[m]);
            const std::int64_t before = costs[k] + (m == k ? 0 : costs[m]);
            if (one < impossible && other < impossible && one + other < before) {
              costs[k] = one;
              if (m != k) costs[m] = other;
              better = true;
            } else {
              std::swap(tours[k][i], tours[m][j]);
            }
          }
        }
      }
    }
  }
  return tours;
}

}  // namespace tagline::dispatch
