// How sure the mean of a few runs is.
#pragma once

#include <span>

namespace tagline::sim {

struct Estimate {
  double mean{};
  /// Half the width of the 95 % confidence interval by Student's t with n - 1 degrees of freedom;
  /// 0 for a single value, of which nothing can be said.
  double half_width{};
};

/// Quantiles come from Boost.Math; the tests compare them with the table of the NIST/SEMATECH
/// e-Handbook of Statistical Methods, 1.3.6.7.2.
Estimate estimate(std::span<const double> values);
/// The two-sided 95 % quantile of Student's t, `freedom` >= 1.
double student_t_95(double freedom);

}  // namespace tagline::sim
