// See fleet_trace.hpp.
#include "server/sim/fleet_trace.hpp"

#include <nlohmann/json.hpp>

namespace tagline::sim {
namespace {

using nlohmann::json;
using namespace control;

template <class E>
json with_cart(const char* name, const E& event) {
  return {{"event", name}, {"cart", event.cart.value}};
}

struct Writer {
  json operator()(const CartGreets& e) const {
    json j = with_cart("greets", e);
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
    json j = with_cart("reads", e);
    j.update({{"tag", e.tag}, {"step", e.step}});
    return j;
  }
  json operator()(const CartReports& e) const {
    json j = with_cart("reports", e);
    j.update({{"battery", e.battery},
              {"loaded", e.loaded},
              {"moving", e.moving},
              {"fault", static_cast<int>(e.fault)}});
    return j;
  }
  json operator()(const CartHandled& e) const {
    json j = with_cart("handled", e);
    j.update({{"step", e.step}, {"unload", e.what == Handling::unload}});
    return j;
  }
  json operator()(const CartStopped& e) const {
    json j = with_cart("stopped", e);
    j["cause"] = static_cast<int>(e.cause);
    return j;
  }
  json operator()(const CartReleased& e) const { return with_cart("released", e); }
  json operator()(const CartLinkLost& e) const { return with_cart("link_lost", e); }
  json operator()(const AskJob& e) const {
    return {{"event", "job"},
            {"request", e.request},
            {"from", e.from},
            {"to", e.to},
            {"priority", e.priority}};
  }
  json operator()(const AskPlaceCart& e) const {
    json j = with_cart("place", e);
    j.update({{"request", e.request}, {"point", e.point}, {"came_from", e.came_from}});
    return j;
  }
  json operator()(const AskRemoveCart& e) const {
    json j = with_cart("remove", e);
    j["request"] = e.request;
    return j;
  }
  json operator()(const AskReleaseCart& e) const {
    json j = with_cart("release", e);
    j["request"] = e.request;
    return j;
  }
  json operator()(const AskCountLoads& e) const {
    return {{"event", "loads"}, {"request", e.request}, {"station", e.station}, {"loads", e.loads}};
  }
  json operator()(const Tick&) const { return {{"event", "tick"}}; }
  template <class Other>
  json operator()(const Other&) const {
    // A simulated run asks for nothing else.
    throw std::logic_error("trace: an event that no run makes");
  }
};

Event read_event(const json& j) {
  const auto& name = j.at("event").get_ref<const std::string&>();
  const auto cart = [&] { return CartIx{j.at("cart").get<std::uint32_t>()}; };
  const auto request = [&] { return j.at("request").get<RequestId>(); };
  if (name == "tick") return Tick{};
  if (name == "reads") return CartReads{cart(), j.at("tag"), j.at("step")};
  if (name == "reports") {
    return CartReports{cart(), j.at("battery"), j.at("loaded"), j.at("moving"),
                       static_cast<Fault>(j.at("fault").get<int>())};
  }
  if (name == "handled") {
    return CartHandled{cart(), j.at("step"),
                       j.at("unload").get<bool>() ? Handling::unload : Handling::load};
  }
  if (name == "greets") {
    return CartGreets{cart(),           j.at("tag"),    j.at("step"),    j.at("until"),
                      j.at("rebooted"), j.at("loaded"), j.at("battery"), j.at("stopped")};
  }
  if (name == "stopped") {
    return CartStopped{cart(), static_cast<StopCause>(j.at("cause").get<int>())};
  }
  if (name == "released") return CartReleased{cart()};
  if (name == "link_lost") return CartLinkLost{cart()};
  if (name == "job") {
    AskJob ask;
    ask.request = request();
    ask.from = j.at("from");
    ask.to = j.at("to");
    ask.priority = j.at("priority");
    return ask;
  }
  if (name == "place") return AskPlaceCart{request(), cart(), j.at("point"), j.at("came_from")};
  if (name == "remove") return AskRemoveCart{request(), cart()};
  if (name == "loads") return AskCountLoads{request(), j.at("station"), j.at("loads")};
  if (name == "release") return AskReleaseCart{request(), cart()};
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
                    {"floor", json::parse(floor_document)}};
  return header.dump();
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
