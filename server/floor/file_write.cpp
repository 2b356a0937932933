// A floor -> floor file: one object a line, so that a person can read it and a difference between
// two versions shows which point or segment changed.
#include <nlohmann/json.hpp>
#include <utility>

#include "server/floor/file.hpp"

namespace tagline::floor {
namespace {

using Json = nlohmann::ordered_json;

std::string text_of(const Json& value) {
  // A floor made by code may hold any bytes in its name: written readable, never thrown about.
  return value.dump(-1, ' ', false, Json::error_handler_t::replace);
}

/// Whole numbers without a decimal point, as a person would write them.
Json number(double value) {
  constexpr double exactly_whole = 1e15;
  if (value > -exactly_whole && value < exactly_whole &&
      value == static_cast<double>(static_cast<std::int64_t>(value))) {
    return static_cast<std::int64_t>(value);
  }
  return value;
}

Json seconds(Duration time) {
  constexpr double ms_per_s = 1000;
  return number(static_cast<double>(time.count()) / ms_per_s);
}

Json place(Position at) { return Json::array({number(at.x), number(at.y)}); }

std::string_view name_of(Branch branch) {
  switch (branch) {
    case Branch::left:
      return "left";
    case Branch::straight:
      return "straight";
    case Branch::right:
      return "right";
  }
  return "straight";
}

Json cart_json(const CartBody& cart) {
  return {{"length", cart.length.value},
          {"width", cart.width.value},
          {"reader_to_nose", cart.reader_to_nose.value},
          {"speed", cart.speed.value},
          {"acceleration", cart.acceleration.value},
          {"deceleration", cart.deceleration.value},
          {"clearance", cart.clearance.value}};
}

Json point_json(const Point& point) {
  return {{"id", point.id},     {"x", number(point.at.x)}, {"y", number(point.at.y)},
          {"tags", point.tags}, {"siding", point.siding},  {"turn_round", point.turn_round}};
}

Json segment_json(const Floor& floor, const Segment& segment) {
  Json json = {{"id", segment.id},
               {"from", floor[segment.from].id},
               {"to", floor[segment.to].id},
               {"length", segment.length.value},
               {"speed", segment.speed.value},
               {"two_way", segment.two_way},
               {"spur", segment.spur}};
  json["via"] = Json::array();
  for (const Position via : segment.via) json["via"].push_back(place(via));
  // Left out means "from the geometry"; no other value says that.
  if (segment.turn) json["turn"] = name_of(*segment.turn);
  return json;
}

Json station_json(const Floor& floor, const Station& station) {
  Json json = {{"id", station.id},
               {"name", station.name},
               {"point", floor[station.point].id},
               {"load_s", seconds(station.load)},
               {"unload_s", seconds(station.unload)}};
  // Left out means "no limit"; no other value says that.
  if (station.capacity) json["capacity"] = *station.capacity;
  return json;
}

/// `  "key": [` and one item a line.
template <class Item, class ToJson>
std::string list_text(std::string_view key, const std::vector<Item>& items, ToJson to_json) {
  std::string text = "  \"" + std::string(key) + "\": [";
  for (std::size_t k = 0; k < items.size(); ++k) {
    text += (k == 0 ? "\n    " : ",\n    ") + text_of(to_json(items[k]));
  }
  return text + (items.empty() ? "]" : "\n  ]");
}

}  // namespace

std::string format_floor(const Floor& floor) {
  std::string text = "{\n  \"format\": \"tagline-floor/1\",\n";
  text += "  \"name\": " + text_of(floor.name) + ",\n";
  text += "  \"cart\": " + text_of(cart_json(floor.cart)) + ",\n";
  text += list_text("points", floor.points, point_json) + ",\n";
  text += list_text("segments", floor.segments,
                    [&](const Segment& segment) { return segment_json(floor, segment); }) +
          ",\n";
  text += list_text("stations", floor.stations,
                    [&](const Station& station) { return station_json(floor, station); }) +
          ",\n";
  text += list_text("chargers", floor.chargers,
                    [&](const Charger& charger) {
                      return Json{{"id", charger.id}, {"point", floor[charger.point].id}};
                    }) +
          ",\n";
  text += list_text("conflicts", floor.conflicts,
                    [&](const std::pair<SegmentIx, SegmentIx>& pair) {
                      return Json::array({floor[pair.first].id, floor[pair.second].id});
                    }) +
          ",\n";
  text += list_text("demand", floor.demand, [&](const Demand& flow) {
    return Json{{"from", floor[flow.from].id},
                {"to", floor[flow.to].id},
                {"per_hour", number(flow.per_hour)}};
  });
  text += ",\n" + list_text("zones", floor.zones, [&](const Zone& zone) {
            Json json = {{"id", zone.id}, {"name", zone.name}, {"segments", Json::array()}};
            for (const SegmentIx segment : zone.segments)
              json["segments"].push_back(floor[segment].id);
            return json;
          });
  return text + "\n}\n";
}

}  // namespace tagline::floor
