// A mixed-integer linear program for GLPK 5.0 (GNU Linear Programming Kit), a solver of other
// people's making.
#pragma once

#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

namespace tagline::test {

struct LinearProgram {
  struct Column {
    double cost{};
    bool binary{};  // else any number >= 0
  };
  struct Row {
    std::vector<std::pair<std::size_t, double>> terms;  // column, factor
    std::optional<double> least{}, most{};
  };
  std::vector<Column> columns;
  std::vector<Row> rows;

  std::size_t number(double cost) { return add({cost, false}); }
  std::size_t choice(double cost) { return add({cost, true}); }

 private:
  std::size_t add(Column column) {
    columns.push_back(column);
    return columns.size() - 1;
  }
};

struct ProgramSolution {
  /// Proven: no solution costs less.
  double bound{};
  /// Of the best solution found, if one was.
  std::optional<double> cost{};
  std::vector<double> values{};
  /// The search ended: `cost` is the least, or there is no solution.
  bool complete{};
};

/// Least cost by branch and cut; stops after `seconds`.
ProgramSolution solve(const LinearProgram& program, double seconds);

}  // namespace tagline::test
