// A large works laid out as one-way streets, for tests of scale: rows and columns of tape 6 m
// apart, each running against its neighbours, so that every place can be reached from every other
// and there are many ways between two. Beside each stretch of a row lies a bay: a station, or a
// siding.
#pragma once

#include <string>
#include <vector>

#include "tests/support/floor_builder.hpp"

namespace tagline::test {

/// `side` rows and columns, an even number of at least 4; every third bay is a station.
inline floor::Floor street_grid(int side) {
  constexpr double block = 6000;
  constexpr double bay_away = 1200;
  FloorBuilder b;
  b.name("Streets " + std::to_string(side));
  const auto crossing = [](int column, int row) {
    return "X" + std::to_string(column) + "-" + std::to_string(row);
  };
  for (int row = 0; row < side; ++row) {
    for (int column = 0; column < side; ++column) {
      b.point(crossing(column, row), column * block, row * block);
    }
  }
  int segments = 0;
  const auto join = [&](const std::string& from, const std::string& to) {
    b.segment("S" + std::to_string(segments++), from, to);
  };
  const auto along = [&](const std::vector<std::string>& points, bool forward) {
    for (std::size_t i = 0; i + 1 < points.size(); ++i) {
      forward ? join(points[i], points[i + 1]) : join(points[i + 1], points[i]);
    }
  };
  int bays = 0;
  for (int row = 0; row < side; ++row) {
    const bool forward = row % 2 == 0;
    for (int column = 0; column + 1 < side; ++column) {
      const std::string name = std::to_string(column) + "-" + std::to_string(row);
      const double x = column * block;
      const double y = row * block;
      b.point("A" + name, x + 1200, y).point("M" + name, x + 3000, y);
      b.point("B" + name, x + 4800, y).point("K" + name, x + 3000, y + bay_away);
      const bool station = bays++ % 3 == 0;
      if (station) {
        b.station("W" + name, "K" + name);
      } else {
        b.siding();
      }
      along({crossing(column, row), "A" + name, "M" + name, "B" + name, crossing(column + 1, row)},
            forward);
      along({"A" + name, "K" + name, "B" + name}, forward);
    }
  }
  for (int column = 0; column < side; ++column) {
    const bool forward = column % 2 == 1;
    for (int row = 0; row + 1 < side; ++row) {
      const std::string name = std::to_string(column) + "-" + std::to_string(row);
      b.point("V" + name, column * block, row * block + block / 2);
      along({crossing(column, row), "V" + name, crossing(column, row + 1)}, forward);
    }
  }
  return b.build();
}

}  // namespace tagline::test
