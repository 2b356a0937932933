// See event_text.hpp.
#include "server/app/event_text.hpp"

#include <nlohmann/json.hpp>

#include "server/control/view.hpp"
#include "server/net/time_text.hpp"
#include "server/sim/fleet_trace.hpp"

namespace tagline::app {
namespace {

using Json = nlohmann::ordered_json;

/// The event as a trace has it, with names for what a trace has numbers for.
Json named(const control::Event& event, const std::vector<std::string>& carts,
           const floor::Floor& floor) {
  Json json = Json::parse(sim::event_json(event));
  if (json.contains("cart")) json["cart"] = carts.at(json["cart"].get<std::size_t>());
  if (json.contains("zone")) json["zone"] = floor.zones.at(json["zone"].get<std::size_t>()).id;
  if (json.contains("kind")) {
    const auto number = json["number"].get<std::size_t>();
    const auto kind = json["kind"].get<std::size_t>();
    json[kind == 0   ? "segment"
         : kind == 1 ? "station"
                     : "cart"] = kind == 0   ? floor.segments.at(number).id
                                 : kind == 1 ? floor.stations.at(number).id
                                             : carts.at(number);
    json.erase("kind");
    json.erase("number");
  }
  for (const char* moment : {"from", "until", "due"}) {
    if (!json.contains(moment) || !json[moment].is_number()) continue;
    json[moment] = net::time_text(Instant{Duration{json[moment].get<std::int64_t>()}});
  }
  if (json.contains("fault"))
    json["fault"] = control::name_of(static_cast<control::Fault>(json["fault"].get<int>()));
  if (json.contains("cause"))
    json["cause"] = control::name_of(static_cast<control::StopCause>(json["cause"].get<int>()));
  return json;
}

}  // namespace

std::string EventText::event_json(const control::Event& event) const {
  return named(event, *carts_, floor()).dump();
}

std::string EventText::event(const control::Event& event) const {
  const Json json = named(event, *carts_, floor());
  std::string text = json.at("event").get<std::string>();
  if (json.contains("cart")) text += " cart=" + json.at("cart").get<std::string>();
  for (const auto& [key, value] : json.items()) {
    if (key == "event" || key == "request" || key == "cart") continue;
    // Texts without quotes where nothing in them could be misread.
    const bool plain =
        value.is_string() && !value.get_ref<const std::string&>().empty() &&
        value.get_ref<const std::string&>().find_first_of(" \"\n\t") == std::string::npos;
    text += " " + key + "=" + (plain ? value.get<std::string>() : value.dump());
  }
  return text;
}

std::vector<std::string> EventText::effects(const control::Outcome& outcome) const {
  std::vector<std::string> all;
  const auto add = [&](const auto& list) {
    for (const auto& each : list)
      all.push_back(std::visit([&](const auto& what) { return words(what); }, each));
  };
  add(outcome.trace);
  add(outcome.records);
  add(outcome.messages);
  for (const control::Answer& answer : outcome.answers)
    all.push_back(std::visit([&](const auto& what) { return words(what); }, answer.what));
  return all;
}

std::string EventText::words(const control::JobRecord& record) const {
  const control::Job& job = record.job;
  std::string text = "job " + std::to_string(job.id.value) + " (" + floor()[job.from].id + " to " +
                     floor()[job.to].id + ") is " + std::string(control::name_of(job.state));
  if (job.cart) text += " to " + name(*job.cart);
  if (job.stops_done > 0)
    text += ", " + std::to_string(job.stops_done) + " of " + std::to_string(job.stop_count()) +
            " stops done";
  return job.reason.empty() ? text : text + ": " + job.reason;
}

std::string EventText::words(const control::PathRecord& record) const {
  if (record.path.empty()) return name(record.cart) + " is nowhere on the floor";
  std::string text = name(record.cart) + "'s way is";
  for (const control::PathStep& step : record.path)
    text += " " + floor()[(*ways_)[step.pose].at].id +
            (step.act == control::Act::load     ? " (load)"
             : step.act == control::Act::unload ? " (unload)"
                                                : "");
  return record.job ? text + ", for job " + std::to_string(record.job->value) : text;
}

std::string EventText::words(const control::CartRecord& record) const {
  std::string text = name(record.cart) + (record.loaded ? " has a load on" : " has no load on");
  if (record.needs_release) text += ", needs a release";
  return record.doubt.empty() ? text : text + ", is in doubt: " + record.doubt;
}

std::string EventText::words(const control::FleetRecord& record) const {
  return record.all_stopped ? "all carts are stopped" : "no general stop is in force";
}

std::string EventText::words(const control::StationRecord& record) const {
  return std::to_string(record.loads) + (record.loads == 1 ? " load stands" : " loads stand") +
         " at " + floor()[record.station].id;
}

std::string EventText::name(const control::Facility& what) const {
  if (const auto* segment = std::get_if<SegmentIx>(&what)) return "segment " + floor()[*segment].id;
  if (const auto* station = std::get_if<StationIx>(&what)) return "station " + floor()[*station].id;
  return name(std::get<CartIx>(what));
}

std::string EventText::words(const control::DowntimeRecord& record) const {
  if (!record.downtime) return name(record.what) + " is in service";
  const std::string& reason = record.downtime->reason;
  return name(record.what) + " is taken out of service" + (reason.empty() ? "" : ": " + reason);
}

std::string EventText::words(const control::ZoneRecord& record) const {
  return "zone " + floor()[record.zone].id + (record.stopped ? " is stopped" : " is not stopped");
}

std::string EventText::words(const control::TellAuthority& message) const {
  if (message.points.empty()) return name(message.cart) + " may go nowhere";
  const control::ToldPoint& last = message.points.back();
  return name(message.cart) + " may go to " + floor()[last.point].id + ", step " +
         std::to_string(last.step);
}

std::string EventText::words(const control::TellHold& message) const {
  return name(message.cart) + " is told to wait: " + message.reason;
}

std::string EventText::words(const control::TellStop& message) const {
  return name(message.cart) + " is told to stop: " + message.reason;
}

std::string EventText::words(const control::TellRelease& message) const {
  return name(message.cart) + " is released";
}

std::string EventText::words(const control::TellReset& message) const {
  return name(message.cart) + " is told to forget its trip";
}

std::string EventText::words(const control::TellHandled& message) const {
  return name(message.cart) + " is told that it is " +
         (message.what == control::Handling::load ? "loaded" : "unloaded") + ", step " +
         std::to_string(message.step);
}

std::string EventText::words(const control::JobTaken& answer) const {
  return "answer: job " + std::to_string(answer.job.value) +
         (answer.repeated ? ", taken before" : " taken");
}

std::string EventText::words(const control::Accepted& /*answer*/) const {
  return "answer: accepted";
}

std::string EventText::words(const control::Refusal& answer) const {
  return "answer: refused: " + answer.detail;
}

std::string EventText::words(const control::ReadTrace& trace) const {
  std::string text = name(trace.cart) + " passed " + floor()[trace.point].id;
  for (const PointIx missed : trace.missed) text += ", missed " + floor()[missed].id;
  return text;
}

std::string EventText::words(const control::UnknownTagTrace& trace) const {
  return name(trace.cart) + " read the unknown tag " + trace.tag;
}

}  // namespace tagline::app
