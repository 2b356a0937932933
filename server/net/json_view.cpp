// JSON texts of floor, carts, jobs and alarms (API.md).
#include "server/net/json_view.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace tagline::net {
namespace {

using Json = nlohmann::ordered_json;

std::string text_of(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Json time_or_null(const std::optional<Instant>& at) { return at ? Json(time_text(*at)) : Json(); }

std::string_view name_of(control::Act act) {
  switch (act) {
    case control::Act::go:
      return "go";
    case control::Act::load:
      return "load";
    case control::Act::unload:
      return "unload";
    case control::Act::rest:
      return "rest";
  }
  return "go";
}

std::string_view name_of(control::Handling what) {
  return what == control::Handling::load ? "load" : "unload";
}

Json station_json(const floor::Floor& floor, const floor::Station& station,
                  std::optional<int> loads) {
  return {{"id", station.id},
          {"name", station.name},
          {"point", floor[station.point].id},
          {"capacity", station.capacity ? Json(*station.capacity) : Json()},
          {"loads", loads ? Json(*loads) : Json()}};
}

/// `object` with one member more, which is JSON already.
std::string with_member(const Json& object, std::string_view key, std::string_view value) {
  std::string text = text_of(object);
  text.pop_back();  // the closing brace
  return text.append(",\"").append(key).append("\":").append(value).append("}");
}

/// `before`: the step that it follows in its path, if it has one there.
Json step_json(const floor::Track& track, const control::PathStep* before,
               const control::PathStep& step) {
  const floor::Ways& ways = track.ways();
  const floor::Floor& floor = track.floor();
  const floor::Pose& pose = ways[step.pose];
  Json segment;
  bool reversed = false, back = false, turn = false;
  if (before == nullptr) {
    segment = floor[pose.by].id;
    reversed = pose.reversed;
  } else if (const floor::Move* move = ways.find_move(before->pose, step.pose)) {
    segment = floor[move->segment].id;
    back = move->gear == floor::Gear::back;
    turn = move->turn_round;
    // Backing out of a spur ends in the pose from before the spur, which says nothing of it.
    reversed = back ? floor[move->segment].to == ways[before->pose].at : pose.reversed;
  }
  return {{"step", step.step},
          {"point", floor[pose.at].id},
          {"segment", std::move(segment)},
          {"reversed", reversed},
          {"back", back},
          {"turn", turn},
          {"act", name_of(step.act)}};
}

Json path_json(const floor::Track& track, const std::vector<control::PathStep>& path) {
  Json out = Json::array();
  for (std::size_t k = 0; k < path.size(); ++k)
    out.push_back(step_json(track, k == 0 ? nullptr : &path[k - 1], path[k]));
  return out;
}

/// Whether whoever has the JSON of `told` needs but drop its first steps to have that of `now`.
bool only_drops_steps(const floor::Track& track, const std::vector<control::PathStep>& told,
                      const std::vector<control::PathStep>& now) {
  if (now.empty() || now.size() > told.size()) return false;
  const std::size_t dropped = told.size() - now.size();
  if (!std::equal(now.begin(), now.end(), told.begin() + static_cast<std::ptrdiff_t>(dropped)))
    return false;
  return dropped == 0 || step_json(track, nullptr, now.front()) ==
                             step_json(track, &told[dropped - 1], now.front());
}

/// All but the path and why it stands.
Json cart_json(const floor::Track& track, const std::vector<std::string>& cart_names,
               const control::CartView& view) {
  Json out{{"id", cart_names.at(view.cart.value)},
           {"mode", control::name_of(view.mode)},
           {"connected", view.connected},
           {"loaded", view.loaded},
           {"battery", view.battery},
           {"fault", control::name_of(view.fault)},
           {"trouble", view.trouble},
           {"job", view.job ? Json(view.job->value) : Json()},
           {"trip", view.trip},
           {"authority", view.authority},
           {"passed_at", time_text(view.passed_at)}};
  Json holds = Json::array();
  for (const PieceIx piece : view.holds) holds.push_back(track.name(piece));
  out["holds"] = std::move(holds);
  if (view.waits_for) {
    out["waits_for"] = {
        {"track", track.name(view.waits_for->piece)},
        {"cart", view.waits_for->cart ? Json(cart_names.at(view.waits_for->cart->value)) : Json()},
        {"for_turn", view.waits_for->for_turn},
        {"since", time_text(view.waits_for->since)}};
  } else {
    out["waits_for"] = nullptr;
  }
  return out;
}

}  // namespace

std::string json_quote(std::string_view text) { return text_of(Json(text)); }

std::string JsonView::floor(int pace, const control::LiveLimit& limit,
                            const std::vector<std::optional<int>>& loads) const {
  const floor::Floor& floor = track_->floor();
  const floor::CartBody& body = floor.cart;
  Json out{{"name", floor.name},
           {"pace", pace},
           {"cart",
            {{"length", body.length.value},
             {"width", body.width.value},
             {"reader_to_nose", body.reader_to_nose.value},
             {"speed", body.speed.value},
             {"acceleration", body.acceleration.value},
             {"deceleration", body.deceleration.value},
             {"clearance", body.clearance.value}}},
           {"live_limit", {{"carts", limit.carts}, {"reason", limit.reason}}}};
  out["points"] = Json::array();
  for (const floor::Point& point : floor.points)
    out["points"].push_back({{"id", point.id},
                             {"x", point.at.x},
                             {"y", point.at.y},
                             {"siding", point.siding},
                             {"turn_round", point.turn_round},
                             {"tagged", !point.tags.empty()}});
  out["segments"] = Json::array();
  for (const floor::Segment& segment : floor.segments) {
    Json line = Json::array();
    const auto add = [&](const floor::Position& at) { line.push_back(Json::array({at.x, at.y})); };
    add(floor[segment.from].at);
    for (const floor::Position& at : segment.via) add(at);
    add(floor[segment.to].at);
    out["segments"].push_back({{"id", segment.id},
                               {"from", floor[segment.from].id},
                               {"to", floor[segment.to].id},
                               {"line", std::move(line)},
                               {"length", segment.length.value},
                               {"speed", segment.speed.value},
                               {"two_way", segment.two_way},
                               {"spur", segment.spur}});
  }
  out["stations"] = Json::array();
  for (std::size_t k = 0; k < floor.stations.size(); ++k)
    out["stations"].push_back(station_json(floor, floor.stations[k], loads.at(k)));
  out["chargers"] = Json::array();
  for (const floor::Charger& charger : floor.chargers)
    out["chargers"].push_back({{"id", charger.id}, {"point", floor[charger.point].id}});
  return text_of(out);
}

std::string JsonView::station(StationIx station, std::optional<int> loads) const {
  const floor::Floor& floor = track_->floor();
  return text_of(station_json(floor, floor[station], loads));
}

std::string JsonView::cart(const control::CartView& view, std::string_view why) const {
  Json out = cart_json(*track_, *cart_names_, view);
  out["path"] = path_json(*track_, view.path);
  return with_member(out, "why", why);
}

std::string JsonView::cart_change(const control::CartView& told, std::string_view told_why,
                                  const control::CartView& now, std::string_view why) const {
  const Json before = cart_json(*track_, *cart_names_, told);
  Json out{{"id", before.at("id")}};
  const Json after = cart_json(*track_, *cart_names_, now);
  for (const auto& [key, value] : after.items())
    if (value != before.at(key)) out[key] = value;
  if (now.path != told.path) {
    if (only_drops_steps(*track_, told.path, now.path))
      out["path_from"] = now.path.front().step;
    else
      out["path"] = path_json(*track_, now.path);
  }
  if (why != told_why) return with_member(out, "why", why);
  return out.size() == 1 ? std::string() : text_of(out);
}

std::string JsonView::job(const control::Job& job, std::string_view why,
                          const std::optional<control::Expected>& expected) const {
  const floor::Floor& floor = track_->floor();
  Json via = Json::array();
  for (const control::JobStop& stop : job.via)
    via.push_back({{"station", floor[stop.station].id}, {"what", name_of(stop.what)}});
  return with_member(
      Json{{"id", job.id.value},
           {"from", floor[job.from].id},
           {"to", floor[job.to].id},
           {"via", std::move(via)},
           {"stops_done", job.stops_done},
           {"state", control::name_of(job.state)},
           {"priority", job.priority},
           {"note", job.note},
           {"due", time_or_null(job.due)},
           {"cart", job.cart ? Json(cart_names_->at(job.cart->value)) : Json()},
           {"created", time_text(job.created)},
           {"changed", time_text(job.changed)},
           {"loaded_at", time_or_null(job.loaded_at)},
           {"ended_at", time_or_null(job.ended_at)},
           {"expected_pickup", expected ? time_or_null(expected->pickup) : Json()},
           {"expected_delivery", expected ? Json(time_text(expected->delivery)) : Json()},
           {"reason", job.reason}},
      "why", why);
}

std::string JsonView::alarm_cause(const control::Alarm& alarm) const {
  std::string cause(control::name_of(alarm.kind));
  if (alarm.cart) cause += " " + cart_names_->at(alarm.cart->value);
  if (alarm.job) cause += " job " + std::to_string(alarm.job->value);
  if (alarm.point) cause += " " + track_->floor()[*alarm.point].id;
  if (!alarm.detail.empty()) cause += " " + alarm.detail;
  return cause;
}

std::string JsonView::alarm(const control::Alarm& alarm, const access::SeenAlarm* seen) const {
  return text_of(
      Json{{"id", alarm.id},
           {"kind", control::name_of(alarm.kind)},
           {"cart", alarm.cart ? Json(cart_names_->at(alarm.cart->value)) : Json()},
           {"job", alarm.job ? Json(alarm.job->value) : Json()},
           {"point", alarm.point ? Json(track_->floor()[*alarm.point].id) : Json()},
           {"text", alarm.text},
           {"since", time_text(alarm.since)},
           {"seen", seen ? Json{{"by", seen->who}, {"at", time_text(seen->at)}} : Json()}});
}

std::string JsonView::downtimes(const std::vector<control::DowntimeView>& downtimes) const {
  const floor::Floor& floor = track_->floor();
  Json out = Json::array();
  for (const control::DowntimeView& one : downtimes) {
    Json& item = out.emplace_back(Json::object());
    const control::Facility& what = one.downtime.what;
    if (const auto* segment = std::get_if<SegmentIx>(&what)) item["segment"] = floor[*segment].id;
    if (const auto* station = std::get_if<StationIx>(&what)) item["station"] = floor[*station].id;
    if (const auto* cart = std::get_if<CartIx>(&what)) item["cart"] = cart_names_->at(cart->value);
    item["reason"] = one.downtime.reason;
    item["from"] = time_text(one.downtime.from);
    item["until"] = time_or_null(one.downtime.until);
    item["begun"] = one.begun;
    item["clear"] = one.clear;
  }
  return text_of(out);
}

std::string JsonView::zone(ZoneIx zone, bool stopped) const {
  const floor::Floor& floor = track_->floor();
  Json segments = Json::array();
  for (const SegmentIx segment : floor[zone].segments) segments.push_back(floor[segment].id);
  return text_of(Json{{"id", floor[zone].id},
                      {"name", floor[zone].name},
                      {"segments", std::move(segments)},
                      {"stopped", stopped}});
}

std::string JsonView::zones(const std::vector<ZoneIx>& stopped) const {
  std::string out = "[";
  for (std::uint32_t k = 0; k < track_->floor().zones.size(); ++k) {
    if (k > 0) out += ',';
    out += zone(ZoneIx{k}, std::find(stopped.begin(), stopped.end(), ZoneIx{k}) != stopped.end());
  }
  return out + "]";
}

std::string JsonView::alarms(const std::vector<control::Alarm>& alarms) const {
  std::string out = "[";
  for (const control::Alarm& one : alarms) {
    if (out.size() > 1) out += ',';
    out += alarm(one, nullptr);
  }
  return out + "]";
}

}  // namespace tagline::net
