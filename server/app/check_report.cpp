// See check_report.hpp.
#include "server/app/check_report.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <ostream>
#include <sstream>

namespace tagline::app {
namespace {

using floor::Approach;
using floor::Finding;
using floor::Severity;
using Json = nlohmann::ordered_json;

constexpr std::size_t width = 92;

std::string number(double value, int decimals) {
  char text[32];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  return text;
}

std::string counted(std::size_t count, const std::string& what) {
  return std::to_string(count) + " " + what + (count == 1 ? "" : "s");
}

std::size_t characters(const std::string& text) {
  return static_cast<std::size_t>(
      std::ranges::count_if(text, [](char c) { return (c & 0xC0) != 0x80; }));
}

struct Counts {
  std::size_t sidings{}, tags{};
  double tape_m{};
};

Counts counts_of(const floor::Floor& floor) {
  Counts counts;
  for (const floor::Point& point : floor.points) {
    if (point.siding) ++counts.sidings;
    counts.tags += point.tags.size();
  }
  for (const floor::Segment& segment : floor.segments) {
    counts.tape_m += static_cast<double>(segment.length.value) / 1000;
  }
  return counts;
}

void print_block(std::ostream& out, const std::string& indent, const std::string& label,
                 const std::string& text) {
  std::string lead = indent + label;
  for (const std::string& line : wrapped(text, width - lead.size())) {
    out << lead << line << '\n';
    lead = std::string(lead.size(), ' ');
  }
}

/// Findings under one heading: alike but for place and figure.
bool same_matter(const Finding& a, const Finding& b) {
  return a.severity == b.severity && a.kind == b.kind && a.rule == b.rule && a.remedy == b.remedy;
}

void print_findings(std::ostream& out, const std::vector<Finding>& findings) {
  std::vector<bool> printed(findings.size());
  for (std::size_t i = 0; i < findings.size(); ++i) {
    if (printed[i]) continue;
    const Finding& first = findings[i];
    out << '\n';
    print_block(out, "", heading_of(first.severity) + ": ", first.rule);
    for (std::size_t j = i; j < findings.size(); ++j) {
      if (!same_matter(first, findings[j])) continue;
      printed[j] = true;
      const std::string n = std::to_string(j + 1);
      print_block(out, std::string(n.size() < 4 ? 4 - n.size() : 0, ' '), n + "  ",
                  findings[j].place);
      print_block(out, "      ", "", findings[j].figure);
    }
    print_block(out, "  ", "What to do:  ", first.remedy);
    print_block(out, "  ", "Rule from:   ", first.source);
  }
}

using Row = std::vector<std::string>;

void print_table(std::ostream& out, const std::vector<Row>& rows) {
  std::vector<std::size_t> widths(rows.front().size());
  for (const Row& row : rows) {
    for (std::size_t c = 0; c < row.size(); ++c) {
      widths[c] = std::max(widths[c], characters(row[c]));
    }
  }
  for (const Row& row : rows) {
    std::string line = " ";
    for (std::size_t c = 0; c < row.size(); ++c) {
      line += " " + row[c] + std::string(widths[c] - characters(row[c]) + 1, ' ');
    }
    line.erase(line.find_last_not_of(' ') + 1);
    out << line << '\n';
  }
}

Row row_of(const floor::Track& track, const std::string& place, const Approach& approach) {
  const floor::Ways& ways = track.ways();
  const floor::Floor& floor = track.floor();
  const auto mm = [](Mm length) { return std::to_string(length.value) + " mm"; };
  Row row{place, floor[ways[approach.pose].by].id, approach.foul ? mm(*approach.foul) : "all along",
          "nowhere", ""};
  if (approach.wait) {
    row[3] = floor[ways[approach.wait->pose].at].id + (approach.wait->at_fork ? " (fork)" : "");
    row[4] = mm(approach.wait->before);
  }
  return row;
}

void print_merges(std::ostream& out, const floor::Track& track,
                  const floor::Inspection& inspection) {
  const floor::Floor& floor = track.floor();
  std::vector<Row> rows{{"place", "coming by", "bodies foul from", "wait at", "so far before"}};
  for (const floor::Merge& merge : inspection.merges) {
    for (const Approach& approach : merge.approaches) {
      rows.push_back(row_of(track, floor[merge.point].id, approach));
    }
  }
  for (const floor::Crossing& crossing : inspection.crossings) {
    for (const Approach& approach : crossing.approaches) {
      rows.push_back(
          row_of(track, floor[crossing.first].id + " x " + floor[crossing.second].id, approach));
    }
  }
  if (rows.size() == 1) return;
  out << "\nMerges and crossings: where bodies begin to foul each other, and where to wait\n";
  print_table(out, rows);
}

void print_carts(std::ostream& out, const floor::Track& track, const CheckResult& result) {
  out << "\nCarts\n";
  std::string live = "The floor stays live with up to " + counted(result.limit.carts, "cart");
  if (result.limit.moving_on(result.limit.carts)) {
    const std::size_t rests = result.limit.rests.size();
    live += (rests == 0 ? std::string(", of which") : "; with more than " + std::to_string(rests)) +
            " idle ones must move on ahead of working ones";
  }
  print_block(out, "  ", "", live + ". Not with one more: " + result.limit.reason);
  if (!result.bound) {
    print_block(out, "  ", "",
                "How many deliveries an hour are possible can't be said: " + result.no_bound + ".");
    return;
  }
  const dispatch::Throughput& bound = *result.bound;
  std::string said = "With " + counted(result.carts, "cart") + " at most ";
  said += std::isfinite(bound.per_hour) ? number(bound.per_hour, 1) : std::string("any number of");
  said += " deliveries an hour: each takes a cart " + number(bound.handling_s, 1) +
          " s of handling, " + number(bound.loaded_s, 1) + " s loaded and at least " +
          number(bound.empty_s, 1) + " s empty";
  if (bound.busiest && std::isfinite(bound.track_per_hour)) {
    said += "; the busiest track, around " + track.name(*bound.busiest) + ", allows " +
            number(bound.track_per_hour, 1);
  }
  print_block(out, "  ", "", said + ".");
  if (result.demand_per_hour > 0) {
    said = "The demand is " + number(result.demand_per_hour, 1) + " an hour";
    if (result.carts_for_demand) {
      said += "; without any waiting that takes " + counted(*result.carts_for_demand, "cart");
    }
    print_block(out, "  ", "", said + ".");
  } else {
    print_block(out, "  ", "",
                "The floor file names no demand; every pair of stations alike is "
                "taken.");
  }
}

Json finite(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

Json json_of(const floor::Track& track, const Approach& approach) {
  const floor::Ways& ways = track.ways();
  Json wait = nullptr;
  if (approach.wait) {
    wait = {{"point", track.floor()[ways[approach.wait->pose].at].id},
            {"before_mm", approach.wait->before.value},
            {"at_fork", approach.wait->at_fork}};
  }
  return {{"by", track.floor()[ways[approach.pose].by].id},
          {"foul_mm", approach.foul ? Json(approach.foul->value) : Json(nullptr)},
          {"wait", std::move(wait)}};
}

Json json_of(const floor::Track& track, const std::vector<Approach>& approaches) {
  Json list = Json::array();
  for (const Approach& approach : approaches) list.push_back(json_of(track, approach));
  return list;
}

}  // namespace

std::string heading_of(Severity severity) {
  switch (severity) {
    case Severity::forbids:
      return "MUST BE PUT RIGHT";
    case Severity::costs:
      return "COSTS TIME";
    case Severity::note:
      break;
  }
  return "WORTH KNOWING";
}

std::vector<std::string> wrapped(const std::string& text, std::size_t most) {
  std::vector<std::string> lines;
  std::istringstream words{text};
  std::string line;
  for (std::string word; words >> word;) {
    if (!line.empty() && characters(line) + 1 + characters(word) > most) {
      lines.push_back(std::move(line));
      line.clear();
    }
    if (!line.empty()) line += ' ';
    line += word;
  }
  if (!line.empty()) lines.push_back(std::move(line));
  return lines;
}

void print_check(std::ostream& out, const floor::Track& track, const CheckResult& result) {
  const floor::Floor& floor = track.floor();
  const Counts counts = counts_of(floor);
  out << "Floor check: " << floor.name << '\n';
  print_block(out, "  ", "",
              counted(floor.points.size(), "point") + " with " + counted(counts.tags, "tag") +
                  ", " + counted(floor.segments.size(), "segment") + " (" +
                  number(counts.tape_m, 1) + " m of tape), " +
                  counted(floor.stations.size(), "station") + ", " +
                  counted(counts.sidings, "siding") + ", " +
                  counted(floor.chargers.size(), "charger") + ".");
  print_findings(out, result.inspection.findings);
  print_merges(out, track, result.inspection);
  print_carts(out, track, result);
  const std::size_t forbidding = result.count(Severity::forbids);
  out << '\n'
      << (result.may_run() ? "Carts may run: nothing must be put right, "
                           : "Carts must not run yet: " + counted(forbidding, "finding") +
                                 " must be put right, ")
      << counted(result.count(Severity::costs), "finding")
      << (result.count(Severity::costs) == 1 ? " costs time, " : " cost time, ")
      << result.count(Severity::note) << " worth knowing.\n";
}

std::string check_json(const std::filesystem::path& file, const floor::Track& track,
                       const CheckResult& result) {
  const floor::Floor& floor = track.floor();
  const Counts counts = counts_of(floor);
  Json document{{"format", "tagline-check/1"},
                {"floor",
                 {{"file", file.string()},
                  {"name", floor.name},
                  {"points", floor.points.size()},
                  {"tags", counts.tags},
                  {"segments", floor.segments.size()},
                  {"tape_m", counts.tape_m},
                  {"stations", floor.stations.size()},
                  {"sidings", counts.sidings},
                  {"chargers", floor.chargers.size()}}},
                {"may_run", result.may_run()},
                {"max_live_carts", result.limit.carts},
                {"limit_reason", result.limit.reason},
                {"moving_on", result.must_move_on()},
                {"carts", result.carts},
                {"carts_given", result.carts_given},
                {"demand_per_hour", result.demand_per_hour},
                {"carts_for_demand", nullptr},
                {"bound_per_hour", nullptr},
                {"fleet_bound_per_hour", nullptr},
                {"track_bound_per_hour", nullptr},
                {"busiest_track", nullptr},
                {"handling_s", nullptr},
                {"loaded_s", nullptr},
                {"empty_s", nullptr},
                {"no_bound_because", nullptr}};
  if (result.carts_for_demand) document["carts_for_demand"] = *result.carts_for_demand;
  if (result.bound) {
    document["bound_per_hour"] = finite(result.bound->per_hour);
    document["fleet_bound_per_hour"] = finite(result.bound->fleet_per_hour);
    document["track_bound_per_hour"] = finite(result.bound->track_per_hour);
    if (result.bound->busiest) document["busiest_track"] = track.name(*result.bound->busiest);
    document["handling_s"] = result.bound->handling_s;
    document["loaded_s"] = result.bound->loaded_s;
    document["empty_s"] = result.bound->empty_s;
  } else {
    document["no_bound_because"] = result.no_bound;
  }
  Json& rests = document["rests"] = Json::array();
  for (const PoseIx rest : result.limit.rests) rests.push_back(floor[track.ways()[rest].at].id);
  Json& findings = document["findings"] = Json::array();
  for (const Finding& finding : result.inspection.findings) {
    findings.push_back({{"severity", floor::name_of(finding.severity)},
                        {"kind", finding.kind},
                        {"place", finding.place},
                        {"at", {finding.at.x, finding.at.y}},
                        {"rule", finding.rule},
                        {"source", finding.source},
                        {"figure", finding.figure},
                        {"remedy", finding.remedy}});
  }
  Json& merges = document["merges"] = Json::array();
  for (const floor::Merge& merge : result.inspection.merges) {
    merges.push_back(
        {{"point", floor[merge.point].id}, {"approaches", json_of(track, merge.approaches)}});
  }
  Json& crossings = document["crossings"] = Json::array();
  for (const floor::Crossing& crossing : result.inspection.crossings) {
    crossings.push_back({{"segments", {floor[crossing.first].id, floor[crossing.second].id}},
                         {"at", {crossing.at.x, crossing.at.y}},
                         {"approaches", json_of(track, crossing.approaches)}});
  }
  return document.dump(2);
}

}  // namespace tagline::app
