// Floors compared, and what that means to what is on them.
#include "server/app/floor_changes.hpp"

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "server/floor/file.hpp"
#include "server/store/floor_text.hpp"

namespace tagline::app {
namespace {

using floor::Floor;
using Json = nlohmann::ordered_json;

/// Lists of the floor file by the word for one of their things.
constexpr std::pair<const char*, const char*> lists[] = {
    {"points", "point"},     {"segments", "segment"}, {"stations", "station"},
    {"chargers", "charger"}, {"zones", "zone"},       {"conflicts", "conflict"},
    {"demand", "demand"},
};

/// What a thing is called; those without an id are called by what they join.
std::string id_of(const Json& thing) {
  if (thing.is_array()) {
    std::string one = thing.at(0), other = thing.at(1);
    if (other < one) std::swap(one, other);
    return one + " " + other;
  }
  if (const auto id = thing.find("id"); id != thing.end()) return *id;
  return thing.at("from").get<std::string>() + " to " + thing.at("to").get<std::string>();
}

std::vector<std::string> keys_that_differ(const Json& before, const Json& after) {
  std::vector<std::string> keys;
  if (!before.is_object()) return keys;
  for (const auto& [key, value] : before.items())
    if (!after.contains(key) || after.at(key) != value) keys.push_back(key);
  for (const auto& [key, value] : after.items())
    if (!before.contains(key)) keys.push_back(key);
  return keys;
}

void compare_list(const char* kind, const Json& before, const Json& after,
                  std::vector<ThingChange>& into) {
  std::map<std::string, const Json*> old_things;
  for (const Json& thing : before) old_things[id_of(thing)] = &thing;
  for (const Json& thing : after) {
    const std::string id = id_of(thing);
    const auto old = old_things.extract(id);
    if (old.empty()) {
      into.push_back({kind, id, "new", {}});
    } else if (auto keys = keys_that_differ(*old.mapped(), thing); !keys.empty()) {
      into.push_back({kind, id, "altered", std::move(keys)});
    }
  }
  for (const auto& [id, thing] : old_things) into.push_back({kind, id, "gone", {}});
}

std::string sentence(const ThingChange& change) {
  std::string text = change.kind == "cart"   ? "The carts’ body and limits"
                     : change.kind == "name" ? "The floor’s name"
                                             : change.kind + " " + change.id;
  text += change.how == "new" ? " is new" : change.how == "gone" ? " is gone" : " is altered";
  for (std::size_t k = 0; k < change.keys.size(); ++k)
    text += (k == 0 ? ": " : ", ") + change.keys[k];
  return text + ".";
}

bool is_open(const Json& job) {
  const auto& state = job.at("state");
  return state == "queued" || state == "assigned" || state == "loaded";
}

/// The first of the job's stations that the floor lacks; "" if it has all.
std::string missing_station(const Json& job, const Floor& floor) {
  std::vector<std::string> stations{job.at("from"), job.at("to")};
  for (const Json& stop : job.at("via")) stations.push_back(stop.at("station"));
  const auto missing = std::ranges::find_if(
      stations, [&](const std::string& id) { return !floor.find_station(id); });
  return missing == stations.end() ? "" : *missing;
}

Json jobs_that_end(const Json& works, const Floor& after) {
  Json jobs = Json::array();
  for (const Json& job : works.at("jobs")) {
    if (!is_open(job)) continue;
    const std::string missing = missing_station(job, after);
    if (missing.empty()) continue;
    const std::string becomes = job.at("state") == "loaded" ? "stranded" : "cancelled";
    const std::string number = std::to_string(job.at("id").get<std::uint64_t>());
    jobs.push_back(
        {{"id", job.at("id")},
         {"station", missing},
         {"becomes", becomes},
         {"text",
          "Job " + number + " loses its station " + missing + " and ends as " + becomes +
              (becomes == "stranded" ? ": its load is on " + job.at("cart").get<std::string>() +
                                           " and must be taken off by hand."
                                     : ".")}});
  }
  return jobs;
}

/// What is said of a cart that must be placed.
std::string standing_words(const std::string& cart, const std::string& point, bool gone) {
  if (point.empty())
    return cart + " stands somewhere on the floor: a person must find it and place it.";
  if (gone)
    return cart + " was last seen at " + point +
           ", on track that is gone: a person must bring it to the tape that is there, and place "
           "it.";
  return cart + " was last seen at " + point + ": a person must look where it stands and place it.";
}

/// `gone`: points and segments that are no longer there, or lie elsewhere.
Json carts_to_place(const Json& works, const std::set<std::string>& gone) {
  Json carts = Json::array();
  for (const Json& cart : works.at("carts")) {
    if (cart.at("mode") == "off_floor") continue;
    const std::string id = cart.at("id");
    std::string point;
    bool on_gone = false;
    if (const Json& path = cart.at("path"); !path.empty() && cart.at("mode") != "in_doubt") {
      point = path.at(0).at("point");
      for (const Json& piece : cart.at("holds")) on_gone = on_gone || gone.contains(piece);
      on_gone = on_gone || gone.contains(point);
    }
    carts.push_back({{"id", id},
                     {"point", point.empty() ? Json(nullptr) : Json(point)},
                     {"on_gone_track", on_gone},
                     {"text", standing_words(id, point, on_gone)}});
  }
  return carts;
}

Json loads_forgotten(const Json& works, const Floor& after) {
  Json loads = Json::array();
  for (const Json& station : works.at("stations")) {
    if (station.at("loads").is_null() || station.at("loads") == 0) continue;
    const std::string id = station.at("id");
    const auto still = after.find_station(id);
    if (still && after[*still].capacity) continue;
    const std::string count = std::to_string(station.at("loads").get<int>());
    loads.push_back(
        {{"station", id},
         {"text", "Station " + id + (still ? " has no capacity any more" : " is no longer there") +
                      ": it is forgotten that " + count + " loads stand at it."}});
  }
  return loads;
}

std::set<std::string> track_gone(const std::vector<ThingChange>& things) {
  static const std::set<std::string> places{"x", "y", "from", "to", "via"};
  std::set<std::string> gone;
  for (const ThingChange& thing : things) {
    if (thing.kind != "point" && thing.kind != "segment") continue;
    const bool lies_elsewhere = std::ranges::any_of(
        thing.keys, [](const std::string& key) { return places.contains(key); });
    if (thing.how == "gone" || lies_elsewhere) gone.insert(thing.id);
  }
  return gone;
}

}  // namespace

std::vector<ThingChange> compare_floors(const Floor& before, const Floor& after) {
  const Json old_file = Json::parse(floor::format_floor(before));
  const Json new_file = Json::parse(floor::format_floor(after));
  std::vector<ThingChange> things;
  for (const char* key : {"name", "cart"})
    if (old_file.at(key) != new_file.at(key))
      things.push_back({key, "", "altered", keys_that_differ(old_file.at(key), new_file.at(key))});
  for (const auto& [list, kind] : lists)
    compare_list(kind, old_file.at(list), new_file.at(list), things);
  return things;
}

bool must_place_anew(const Floor& before, const Floor& after) {
  return store::floor_text(before) != store::floor_text(after) ||
         !store::moved_tag(store::tag_text(before), store::tag_text(after)).empty();
}

Json changes_json(const Floor& before, const Floor& after, const net::WorksNow& works) {
  const auto things = compare_floors(before, after);
  Json changes{{"things", Json::array()}, {"places_anew", must_place_anew(before, after)}};
  for (const ThingChange& thing : things)
    changes["things"].push_back({{"kind", thing.kind},
                                 {"id", thing.id},
                                 {"how", thing.how},
                                 {"keys", thing.keys},
                                 {"text", sentence(thing)}});
  changes["carts"] = changes["places_anew"] == true
                         ? carts_to_place(Json::parse(works.carts), track_gone(things))
                         : Json::array();
  changes["jobs"] = jobs_that_end(Json::parse(works.jobs), after);
  changes["loads"] = loads_forgotten(Json::parse(works.stations), after);
  return changes;
}

}  // namespace tagline::app
