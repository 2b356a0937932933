// See fleet_trace.hpp.
#include "server/sim/fleet_trace.hpp"

#include <nlohmann/json.hpp>

#include "server/control/event_names.hpp"

namespace tagline::sim {
namespace {

using nlohmann::json;
using namespace control;

std::string_view word_of(control::Handling what) {
  return what == control::Handling::unload ? "unload" : "load";
}

/// What every event has: its word, its cart, who asked.
template <class E>
json head_of(const E& event) {
  json j{{"event", event_name<E>()}};
  if constexpr (requires { event.cart; }) j["cart"] = event.cart.value;
  if constexpr (requires { event.request; }) j["request"] = event.request;
  return j;
}

std::uint32_t number_of(const Facility& what) {
  return std::visit([](auto ix) { return ix.value; }, what);
}

Facility read_facility(const json& j) {
  const auto number = j.at("number").get<std::uint32_t>();
  switch (j.at("kind").get<std::size_t>()) {
    case 0:
      return SegmentIx{number};
    case 1:
      return StationIx{number};
    default:
      return CartIx{number};
  }
}

struct Writer {
  json operator()(const CartGreets& e) const {
    json j = head_of(e);
    j.update({{"tag", e.last_tag},
              {"step", e.step},
              {"until", e.until},
              {"rebooted", e.rebooted},
              {"loaded", e.loaded},
              {"battery", e.battery},
              {"stopped", e.stopped}});
    return j;
  }
  json operator()(const CartReads& e) const {
    json j = head_of(e);
    j.update({{"tag", e.tag}, {"step", e.step}});
    return j;
  }
  json operator()(const CartReports& e) const {
    json j = head_of(e);
    j.update({{"battery", e.battery},
              {"loaded", e.loaded},
              {"moving", e.moving},
              {"fault", static_cast<int>(e.fault)}});
    return j;
  }
  json operator()(const CartHandled& e) const {
    json j = head_of(e);
    j.update({{"step", e.step}, {"unload", e.what == control::Handling::unload}});
    return j;
  }
  json operator()(const CartStopped& e) const {
    json j = head_of(e);
    j["cause"] = static_cast<int>(e.cause);
    return j;
  }
  json operator()(const CartReleased& e) const { return head_of(e); }
  json operator()(const CartLinkLost& e) const { return head_of(e); }
  json operator()(const AskJob& e) const {
    json j = head_of(e);
    j.update({{"from", e.from}, {"to", e.to}, {"priority", e.priority}});
    for (const AskedStop& stop : e.via)
      j["via"].push_back({{"station", stop.station}, {"what", word_of(stop.what)}});
    if (e.due) j["due"] = e.due->time_since_epoch().count();
    if (!e.note.empty()) j["note"] = e.note;
    if (!e.key.empty()) j["key"] = e.key;
    return j;
  }
  json operator()(const AskCancelJob& e) const {
    json j = head_of(e);
    j["job"] = e.job.value;
    return j;
  }
  json operator()(const AskSayHandled& e) const {
    json j = head_of(e);
    j.update({{"job", e.job.value}, {"what", word_of(e.what)}});
    return j;
  }
  json operator()(const AskPlaceCart& e) const {
    json j = head_of(e);
    j.update({{"point", e.point}, {"came_from", e.came_from}});
    return j;
  }
  json operator()(const AskRemoveCart& e) const { return head_of(e); }
  json operator()(const AskStopCart& e) const { return head_of(e); }
  json operator()(const AskReleaseCart& e) const { return head_of(e); }
  json operator()(const AskStopAll& e) const { return head_of(e); }
  json operator()(const AskReleaseAll& e) const { return head_of(e); }
  json operator()(const AskCountLoads& e) const {
    json j = head_of(e);
    j.update({{"station", e.station}, {"loads", e.loads}});
    return j;
  }
  json operator()(const AskTakeDown& e) const {
    json j = head_of(e);
    j.update({{"kind", e.what.index()}, {"number", number_of(e.what)}, {"reason", e.reason}});
    if (e.from) j["from"] = e.from->time_since_epoch().count();
    if (e.until) j["until"] = e.until->time_since_epoch().count();
    return j;
  }
  json operator()(const AskBringUp& e) const {
    json j = head_of(e);
    j.update({{"kind", e.what.index()}, {"number", number_of(e.what)}});
    return j;
  }
  json operator()(const AskStopZone& e) const {
    json j = head_of(e);
    j["zone"] = e.zone.value;
    return j;
  }
  json operator()(const AskReleaseZone& e) const {
    json j = head_of(e);
    j["zone"] = e.zone.value;
    return j;
  }
  json operator()(const Tick& e) const { return head_of(e); }
};

control::Handling handling_of(const json& word) {
  return word == word_of(control::Handling::unload) ? control::Handling::unload
                                                    : control::Handling::load;
}

AskJob read_job(const json& j) {
  AskJob ask;
  ask.request = j.at("request").get<RequestId>();
  ask.from = j.at("from");
  ask.to = j.at("to");
  ask.priority = j.at("priority");
  if (j.contains("via")) {
    for (const json& stop : j.at("via"))
      ask.via.push_back({stop.at("station"), handling_of(stop.at("what"))});
  }
  if (j.contains("due")) ask.due = Instant{Duration{j.at("due").get<std::int64_t>()}};
  ask.note = j.value("note", "");
  ask.key = j.value("key", "");
  return ask;
}

Event read_event(const json& j) {
  const auto& name = j.at("event").get_ref<const std::string&>();
  const auto is = [&]<class Kind>(const Kind&) { return name == event_name<Kind>(); };
  const auto cart = [&] { return CartIx{j.at("cart").get<std::uint32_t>()}; };
  const auto request = [&] { return j.at("request").get<RequestId>(); };
  if (is(Tick{})) return Tick{};
  if (is(CartReads{})) return CartReads{cart(), j.at("tag"), j.at("step")};
  if (is(CartReports{})) {
    return CartReports{cart(), j.at("battery"), j.at("loaded"), j.at("moving"),
                       static_cast<Fault>(j.at("fault").get<int>())};
  }
  if (is(CartHandled{})) {
    return CartHandled{
        cart(), j.at("step"),
        j.at("unload").get<bool>() ? control::Handling::unload : control::Handling::load};
  }
  if (is(CartGreets{})) {
    return CartGreets{cart(),           j.at("tag"),    j.at("step"),    j.at("until"),
                      j.at("rebooted"), j.at("loaded"), j.at("battery"), j.at("stopped")};
  }
  if (is(CartStopped{})) {
    return CartStopped{cart(), static_cast<StopCause>(j.at("cause").get<int>())};
  }
  if (is(CartReleased{})) return CartReleased{cart()};
  if (is(CartLinkLost{})) return CartLinkLost{cart()};
  if (is(AskJob{})) return read_job(j);
  if (is(AskCancelJob{})) return AskCancelJob{request(), {j.at("job").get<std::uint64_t>()}};
  if (is(AskSayHandled{}))
    return AskSayHandled{request(), {j.at("job").get<std::uint64_t>()}, handling_of(j.at("what"))};
  if (is(AskPlaceCart{})) return AskPlaceCart{request(), cart(), j.at("point"), j.at("came_from")};
  if (is(AskRemoveCart{})) return AskRemoveCart{request(), cart()};
  if (is(AskStopCart{})) return AskStopCart{request(), cart()};
  if (is(AskReleaseCart{})) return AskReleaseCart{request(), cart()};
  if (is(AskStopAll{})) return AskStopAll{request()};
  if (is(AskReleaseAll{})) return AskReleaseAll{request()};
  if (is(AskCountLoads{})) return AskCountLoads{request(), j.at("station"), j.at("loads")};
  if (is(AskTakeDown{})) {
    AskTakeDown ask{request(), read_facility(j), j.at("reason"), {}, {}};
    const auto moment = [&](const char* key) {
      return Instant{Duration{j.at(key).get<std::int64_t>()}};
    };
    if (j.contains("from")) ask.from = moment("from");
    if (j.contains("until")) ask.until = moment("until");
    return ask;
  }
  if (is(AskBringUp{})) return AskBringUp{request(), read_facility(j)};
  const auto zone = [&] { return ZoneIx{j.at("zone").get<std::uint32_t>()}; };
  if (is(AskStopZone{})) return AskStopZone{request(), zone()};
  if (is(AskReleaseZone{})) return AskReleaseZone{request(), zone()};
  throw BadTrace("there is no event \"" + name + "\"");
}

constexpr const char* format = "tagline-trace/1";

}  // namespace

std::string trace_header(const FleetRunOptions& options, const std::string& floor_document) {
  const json header{{"format", format},
                    {"carts", options.carts},
                    {"hours", options.hours},
                    {"seed", options.seed},
                    {"jobs", static_cast<int>(options.jobs)},
                    {"jobs_per_hour", options.jobs_per_hour},
                    {"speed_noise", options.speed_noise},
                    {"miss_rate", options.miss_rate},
                    {"stalls_per_hour", options.stalls_per_hour},
                    {"drops_per_hour", options.drops_per_hour},
                    {"closings_per_hour", options.closings_per_hour},
                    {"floor", json::parse(floor_document)}};
  return header.dump();
}

std::string event_json(const control::Event& event) {
  return std::visit(Writer{}, event).dump(-1, ' ', false, json::error_handler_t::replace);
}

std::string trace_line(Instant now, const control::Event& event) {
  json j = std::visit(Writer{}, event);
  j["t"] = (now - run_begins).count();
  return j.dump();
}

std::string trace_end(double seconds, const std::string& broken) {
  return json{{"t", static_cast<std::int64_t>(seconds * 1000)}, {"broken", broken}}.dump();
}

TraceHeader read_trace_header(const std::string& line) {
  try {
    const json j = json::parse(line);
    if (j.at("format") != format) throw BadTrace("it is not of the format " + std::string(format));
    TraceHeader header;
    header.options.carts = j.at("carts");
    header.options.hours = j.at("hours");
    header.options.seed = j.at("seed");
    header.options.jobs = static_cast<FleetRunOptions::Jobs>(j.at("jobs").get<int>());
    header.options.jobs_per_hour = j.at("jobs_per_hour");
    header.options.speed_noise = j.at("speed_noise");
    header.options.miss_rate = j.at("miss_rate");
    header.options.stalls_per_hour = j.at("stalls_per_hour");
    header.options.drops_per_hour = j.at("drops_per_hour");
    header.options.closings_per_hour = j.at("closings_per_hour");
    header.floor_document = j.at("floor").dump();
    return header;
  } catch (const json::exception& error) {
    throw BadTrace("its first line is no trace header: " + std::string(error.what()));
  }
}

TraceLine read_trace_line(const std::string& line) {
  try {
    const json j = json::parse(line);
    TraceLine result;
    result.now = run_begins + Duration{j.at("t").get<std::int64_t>()};
    if (j.contains("broken")) {
      result.broken = j.at("broken");
    } else {
      result.event = read_event(j);
    }
    return result;
  } catch (const json::exception& error) {
    throw BadTrace(error.what());
  }
}

}  // namespace tagline::sim
