// See confidence.hpp.
#include "server/sim/confidence.hpp"

#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <numeric>

namespace tagline::sim {

double student_t_95(double freedom) {
  return boost::math::quantile(boost::math::students_t(freedom), 0.975);
}

Estimate estimate(std::span<const double> values) {
  if (values.empty()) return {};
  const auto n = static_cast<double>(values.size());
  const double mean = std::accumulate(values.begin(), values.end(), 0.0) / n;
  if (values.size() < 2) return {mean, 0};
  double squares = 0;
  for (const double value : values) squares += (value - mean) * (value - mean);
  return {mean, student_t_95(n - 1) * std::sqrt(squares / (n - 1) / n)};
}

}  // namespace tagline::sim
