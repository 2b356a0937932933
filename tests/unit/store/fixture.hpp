// What the tests of the store share: a small pottery floor, a temporary folder, records to write,
// and a way to look into the file with plain SQL.
#pragma once

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <string>
#include <tuple>
#include <vector>

#include "server/floor/ways.hpp"
#include "server/store/store.hpp"

namespace tagline::store::test {

/// A loop A-B-C-D with a two-way shortcut between B and D and a spur from B into the kiln K, which
/// can therefore be entered in two poses.
inline floor::Floor small_works() {
  floor::Floor floor;
  floor.name = "Small pottery";
  floor.cart = {.length = Mm{600}, .width = Mm{400}};
  const auto point = [&](const char* id, double x, double y, const char* tag) {
    floor.points.push_back({.id = id, .at = {x, y}, .tags = {tag}});
  };
  point("A", 0, 0, "04A1B2C3");
  point("B", 4000, 0, "04A1B2C4");
  point("C", 4000, 3000, "04A1B2C5");
  point("D", 0, 3000, "04A1B2C6");
  point("K", 8000, 0, "04A1B2C7");
  const auto segment = [&](const char* id, std::uint32_t from, std::uint32_t to, std::int64_t mm,
                           bool two_way = false, bool spur = false) {
    floor.segments.push_back({.id = id,
                              .from = PointIx{from},
                              .to = PointIx{to},
                              .length = Mm{mm},
                              .speed = MmPerS{400},
                              .two_way = two_way,
                              .spur = spur,
                              .via = {},
                              .turn = {}});
  };
  segment("S1", 0, 1, 4000);
  segment("S2", 1, 2, 3000);
  segment("S3", 2, 3, 4000);
  segment("S4", 3, 0, 3000);
  segment("S5", 1, 4, 4000, false, true);
  segment("S6", 1, 3, 5000, true);
  floor.stations.push_back({.id = "CAST", .name = "Casting", .point = PointIx{0}, .capacity = {}});
  floor.stations.push_back({.id = "KILN", .name = "Kiln", .point = PointIx{4}, .capacity = {}});
  floor.stations.push_back({.id = "GLAZE", .name = "Glazing", .point = PointIx{2}, .capacity = 3});
  return floor;
}

struct Works {
  explicit Works(floor::Floor of = small_works()) : floor(std::move(of)), ways(floor) {}
  Works(const Works&) = delete;
  Works& operator=(const Works&) = delete;
  floor::Floor floor;
  floor::Ways ways;
};

inline const std::vector<std::string> three_carts{"cart-1", "cart-2", "cart-3"};

class TempFolder {
 public:
  TempFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "tagline-store-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = name;
  }
  ~TempFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  [[nodiscard]] std::filesystem::path data() const { return path_ / "data"; }
  [[nodiscard]] std::filesystem::path database() const { return data() / "tagline.db"; }

 private:
  std::filesystem::path path_;
};

inline Instant at(std::int64_t ms) { return Instant{Duration{1'800'000'000'000 + ms}}; }

inline control::Job queued_job(std::uint64_t id, std::int64_t ms = 0) {
  control::Job job;
  job.id = {id};
  job.from = StationIx{0};
  job.to = StationIx{1};
  job.created = at(ms);
  job.changed = at(ms);
  return job;
}

/// The poses of the shortest way from the pose at A to any pose at `goal`.
inline std::vector<control::PathStep> path_to(const floor::Ways& ways, std::string_view goal,
                                              control::Step first) {
  const PointIx start = ways.floor().find_point("A").value();
  const PointIx end = ways.floor().find_point(goal).value();
  const auto route = floor::shortest_route(
      ways, ways.poses_at(start).front(), [&](PoseIx pose) { return ways[pose].at == end; },
      [](PoseIx) { return true; });
  std::vector<control::PathStep> path;
  for (const PoseIx pose : route.value().steps) {
    path.push_back({first + path.size(), pose, control::Act::go});
  }
  path.back().act = control::Act::rest;
  return path;
}

/// "station:loads" of each, by station id.
inline std::vector<std::string> loads_in(const Found& found, const floor::Floor& floor) {
  std::vector<std::string> all;
  for (const control::StationRecord& one : found.restored.stations)
    all.push_back(floor[one.station].id + ":" + std::to_string(one.loads));
  return all;
}

inline Batch batch(std::vector<control::Record> records, std::vector<TimedTrace> trace = {}) {
  return {std::move(records), std::move(trace)};
}

inline void write(Store& store, std::int64_t ms, const Batch& one) {
  store.write(at(ms), std::span(&one, 1));
}

inline auto fields(const control::Job& job) {
  std::vector<std::pair<std::uint32_t, control::Handling>> via;
  for (const control::JobStop& stop : job.via) via.emplace_back(stop.station.value, stop.what);
  return std::tuple(job.id.value, job.from.value, job.to.value, via, job.stops_done, job.due,
                    job.state, job.priority, job.note, job.key, job.cart, job.created, job.changed,
                    job.loaded_at, job.ended_at, job.reason);
}

inline auto fields(const std::vector<control::PathStep>& path) {
  std::vector<std::tuple<control::Step, std::uint32_t, control::Act>> all;
  for (const auto& step : path) all.emplace_back(step.step, step.pose.value, step.act);
  return all;
}

/// Runs SQL on the file, as a person with a database tool would, while no Store has it open.
inline void run_sql(const std::filesystem::path& file, const std::string& sql) {
  SQLite::Database database(file.string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE, 1000);
  database.exec(sql);
}

/// The rows of a query as "a|b" texts.
inline std::vector<std::string> query(const std::filesystem::path& file, const std::string& sql) {
  SQLite::Database database(file.string(), SQLite::OPEN_READONLY, 1000);
  SQLite::Statement statement(database, sql);
  std::vector<std::string> rows;
  while (statement.executeStep()) {
    std::string row;
    for (int column = 0; column < statement.getColumnCount(); ++column) {
      row += (column > 0 ? "|" : "") + statement.getColumn(column).getString();
    }
    rows.push_back(row);
  }
  return rows;
}

/// The text of the StoreError that `action` throws; "" (and a failed test) if it throws none.
template <class Action>
std::string refusal(Action&& action) {
  try {
    action();
  } catch (const StoreError& error) {
    return error.what();
  }
  ADD_FAILURE() << "no StoreError";
  return "";
}

}  // namespace tagline::store::test
