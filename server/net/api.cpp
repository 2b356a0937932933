// Routes under /api.
#include "server/net/api.hpp"

#include <algorithm>

#include "server/floor/file_limits.hpp"
#include "server/net/body_reader.hpp"

namespace tagline::net {
namespace {

constexpr std::size_t usual_limit = 200, highest_limit = 1'000;
constexpr std::size_t longest_id = 32;
/// The core takes no larger count, and no floor file gives a larger capacity.
constexpr int most_loads = floor::limits::capacity_loads;

bool is_get(const Request& request) { return request.method == "GET" || request.method == "HEAD"; }

/// The answer if the method isn't the one that this place takes.
std::optional<Response> only(const Request& request, std::string_view method) {
  if (method == "GET" ? is_get(request) : request.method == method) return std::nullopt;
  return method_not_allowed(request.method, method == "GET" ? "GET, HEAD" : method);
}

bool is_key(std::string_view text) {
  return !text.empty() && text.size() <= 64 && std::all_of(text.begin(), text.end(), [](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_';
  });
}

Response invalid_query(std::string_view detail) {
  return problem(400, "invalid_query", "The query can't be understood", detail);
}

Response refused(const control::Refusal& refusal) {
  switch (refusal.kind) {
    case control::Refused::unknown:
      return not_found(refusal.detail);
    case control::Refused::conflict:
      return problem(409, "conflict", "This can't be done now", refusal.detail);
    case control::Refused::key_reused:
      return problem(422, "idempotency_key_reused", "The Idempotency-Key belongs to another job",
                     refusal.detail);
    case control::Refused::invalid:
      break;
  }
  return problem(422, "not_possible", "This can't be done", refusal.detail);
}

template <class Items>
std::string some_ids(const Items& items) {
  std::string out;
  std::size_t count = 0;
  for (const auto& item : items) {
    if (count == 12) return out + ", ...";
    out += (out.empty() ? "" : ", ") + item.id;
    ++count;
  }
  return out;
}

}  // namespace

Api::Api(Setup setup) : setup_(std::move(setup)) {}

void Api::handle(const Request& request, const Target& target, Respond respond) {
  const auto& pieces = target.pieces;
  const std::string_view what = pieces.size() > 1 ? std::string_view(pieces[1]) : "";
  if (what == "jobs") return jobs(request, target, std::move(respond));
  if (what == "carts") return carts(request, target, std::move(respond));
  if (what == "stations") return stations(request, target, std::move(respond));
  if (what == "segments") return segments(request, target, std::move(respond));
  if (what == "zones") return zones(request, target, std::move(respond));
  if (pieces.size() == 2 && (what == "stop" || what == "release"))
    return fleet_command(request, target, std::move(respond));
  if (pieces.size() == 2 &&
      (what == "floor" || what == "health" || what == "alarms" || what == "downtimes")) {
    if (auto wrong = only(request, "GET")) return respond(std::move(*wrong));
    if (what == "health") return respond(setup_.health());
    return respond(json_response(200, what == "floor"    ? setup_.model.floor_json()
                                      : what == "alarms" ? setup_.model.alarms_json()
                                                         : setup_.model.downtimes_json()));
  }
  respond(
      not_found("The interface has health, floor, stations, segments, zones, carts, jobs, alarms, "
                "downtimes, stop and release."));
}

// ---- jobs ------------------------------------------------------------------------------------

void Api::jobs(const Request& request, const Target& target, Respond respond) {
  if (target.pieces.size() > 2) return one_job(request, target, std::move(respond));
  if (request.method == "POST") return create_job(request, std::move(respond));
  if (is_get(request)) return list_jobs(target, respond);
  respond(method_not_allowed(request.method, "GET, HEAD, POST"));
}

void Api::list_jobs(const Target& target, const Respond& respond) {
  std::optional<control::JobState> state;
  std::size_t limit = usual_limit;
  for (const auto& [name, value] : target.query) {
    if (name == "state") {
      state = control::job_state_from(value);
      if (!state)
        return respond(invalid_query(
            "state is one of queued, assigned, loaded, delivered, cancelled, stranded."));
    } else if (name == "limit") {
      const auto number = whole_number(value);
      if (!number || *number < 1 || *number > highest_limit)
        return respond(invalid_query("limit is a whole number from 1 to 1000."));
      limit = static_cast<std::size_t>(*number);
    } else {
      return respond(invalid_query("The parameters are state and limit."));
    }
  }
  respond(json_response(200, setup_.model.jobs_json(state, limit)));
}

void Api::create_job(const Request& request, Respond respond) {
  BodyReader body(request, {"from", "to", "via", "due", "priority", "note"});
  control::AskJob job = read_wish(body);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  ask_job(request, std::move(job), std::move(respond));
}

void Api::ask_job(const Request& request, control::AskJob job, Respond respond) {
  if (request.idempotency_key && !is_key(*request.idempotency_key))
    return respond(problem(400, "invalid_idempotency_key", "The Idempotency-Key can't be used",
                           "It has 1 to 64 of A-Z, a-z, 0-9, - and _."));
  job.key = request.idempotency_key.value_or("");
  ask(std::move(job), std::move(respond), [this](const control::Answer& answer) {
    const auto* taken = std::get_if<control::JobTaken>(&answer.what);
    if (!taken) return problem(500, "no_job", "No job was made", "Ask again.");
    Response response = job_response(taken->repeated ? 200 : 201, taken->job);
    response.about = "jobs/" + std::to_string(taken->job.value);
    if (taken->repeated) return response;
    response.headers.emplace_back("Location", "/api/jobs/" + std::to_string(taken->job.value));
    return response;
  });
}

control::AskJob Api::read_wish(BodyReader& body) const {
  const auto station = [this](BodyReader& from, std::string_view key) {
    std::string id = from.text(key, true, 1, longest_id);
    if (!id.empty() && id.size() <= longest_id && !setup_.floor.find_station(id))
      from.add_finding(key, "There is no station \"" + id + "\"; the stations are " +
                                some_ids(setup_.floor.stations) + ".");
    return id;
  };
  control::AskJob job;
  job.from = station(body, "from");
  job.to = station(body, "to");
  for (BodyReader& stop : body.objects("via", control::most_via, {"station", "what"})) {
    control::AskedStop asked;
    asked.station = station(stop, "station");
    const std::string what = stop.text("what", true, 1, longest_id);
    if (what == "unload")
      asked.what = control::Handling::unload;
    else if (what != "load" && !what.empty())
      stop.add_finding("what", "Must be \"load\" or \"unload\".");
    job.via.push_back(std::move(asked));
  }
  job.due = body.time("due");
  job.priority = body.integer("priority", 0, 9, 5);
  job.note = body.text("note", false, 0, 200);
  return job;
}

void Api::one_job(const Request& request, const Target& target, Respond respond) {
  const auto& pieces = target.pieces;
  const bool cancel = pieces.size() == 4 && pieces[3] == "cancel";
  const bool why = pieces.size() == 4 && pieces[3] == "why";
  const bool handled = pieces.size() == 4 && pieces[3] == "handled";
  const auto number = whole_number(pieces[2]);
  if ((pieces.size() != 3 && !cancel && !why && !handled) || !number || *number == 0)
    return respond(not_found(
        "A job is at /api/jobs/{id}, with id a whole number; it has cancel, handled and why."));
  const control::JobId id{*number};
  if (cancel) {
    if (auto wrong = only(request, "POST")) return respond(std::move(*wrong));
    if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
    return ask(control::AskCancelJob{0, id}, std::move(respond),
               [this, id](const control::Answer&) { return job_response(200, id); });
  }
  if (handled) return say_handled(request, id, std::move(respond));
  if (auto wrong = only(request, "GET")) return respond(std::move(*wrong));
  show_job(id, why, std::move(respond));
}

void Api::say_handled(const Request& request, control::JobId id, Respond respond) {
  if (auto wrong = only(request, "POST")) return respond(std::move(*wrong));
  BodyReader body(request, {"what"});
  const std::string what = body.text("what", true, 1, 16);
  if (what != "load" && what != "unload" && !what.empty())
    body.add_finding("what", "Must be \"load\" or \"unload\".");
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  ask(control::AskSayHandled{0, id,
                             what == "load" ? control::Handling::load : control::Handling::unload},
      std::move(respond), [this, id](const control::Answer&) { return job_response(202, id); });
}

void Api::show_job(control::JobId id, bool only_why, Respond respond) {
  if (setup_.model.job(id))
    return respond(only_why ? json_response(200, setup_.model.job_why_json(id))
                            : job_response(200, id));
  // Ended long ago, perhaps: the store has them all.
  setup_.inbox.find_job(id, [this, id, only_why,
                             respond = std::move(respond)](const std::optional<control::Job>& job) {
    setup_.post([this, id, only_why, respond, job] {
      if (!job) return respond(not_found("There is no job " + std::to_string(id.value) + "."));
      respond(json_response(
          200, only_why ? setup_.model.job_why_json(id) : setup_.model.job_json(*job)));
    });
  });
}

Response Api::job_response(int status, control::JobId id) const {
  std::string text = setup_.model.job_json(id);
  if (text.empty())
    return problem(500, "no_job", "The job can't be shown",
                   "Job " + std::to_string(id.value) + " was dealt with; read it again.");
  return json_response(status, std::move(text));
}

// ---- carts -----------------------------------------------------------------------------------

std::optional<CartIx> Api::find_cart(std::string_view id) const {
  const auto& names = setup_.cart_names;
  const auto found = std::find(names.begin(), names.end(), id);
  if (found == names.end()) return std::nullopt;
  return CartIx{static_cast<std::uint32_t>(found - names.begin())};
}

void Api::carts(const Request& request, const Target& target, Respond respond) {
  const auto& pieces = target.pieces;
  if (pieces.size() == 2) {
    if (auto wrong = only(request, "GET")) return respond(std::move(*wrong));
    return respond(json_response(200, setup_.model.carts_json()));
  }
  const auto cart = find_cart(pieces[2]);
  if (!cart) return respond(not_found("There is no such cart in the fleet; see /api/carts."));
  if (pieces.size() == 3) {
    if (auto wrong = only(request, "GET")) return respond(std::move(*wrong));
    return respond(json_response(200, setup_.model.cart_json(*cart)));
  }
  const std::string_view command = pieces.size() == 4 ? std::string_view(pieces[3]) : "";
  if (command == "why") {
    if (auto wrong = only(request, "GET")) return respond(std::move(*wrong));
    return respond(json_response(200, setup_.model.cart_why_json(*cart)));
  }
  if (command == "down" || command == "up")
    return change_service(request, target, *cart, std::move(respond));
  if (command != "place" && command != "remove" && command != "stop" && command != "release")
    return respond(not_found("A cart has why, place, remove, stop, release, down and up."));
  if (auto wrong = only(request, "POST")) return respond(std::move(*wrong));
  if (command == "place") return place_cart(request, *cart, std::move(respond));
  if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
  const Finish finish = [this, cart](const control::Answer&) {
    return json_response(200, setup_.model.cart_json(*cart));
  };
  if (command == "remove")
    ask(control::AskRemoveCart{0, *cart}, std::move(respond), finish);
  else if (command == "stop")
    ask(control::AskStopCart{0, *cart}, std::move(respond), finish);
  else
    ask(control::AskReleaseCart{0, *cart}, std::move(respond), finish);
}

void Api::place_cart(const Request& request, CartIx cart, Respond respond) {
  BodyReader body(request, {"point", "came_from"});
  control::AskPlaceCart place;
  place.cart = cart;
  place.point = body.text("point", true, 1, longest_id);
  place.came_from = body.text("came_from", false, 0, longest_id);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  for (const auto& [name, id] :
       {std::pair{"point", place.point}, std::pair{"came_from", place.came_from}})
    if (!id.empty() && !setup_.floor.find_point(id))
      body.add_finding(name, "There is no point \"" + id + "\"; see /api/floor.");
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  ask(std::move(place), std::move(respond), [this, cart](const control::Answer&) {
    return json_response(200, setup_.model.cart_json(cart));
  });
}

// ---- out of service, and zones ----------------------------------------------------------------

void Api::segments(const Request& request, const Target& target, Respond respond) {
  const auto& pieces = target.pieces;
  if (pieces.size() != 4 || (pieces[3] != "down" && pieces[3] != "up"))
    return respond(not_found("A segment has down and up; the segments are in /api/floor."));
  const auto segment = setup_.floor.find_segment(pieces[2]);
  if (!segment) return respond(not_found("There is no such segment; see /api/floor."));
  change_service(request, target, *segment, std::move(respond));
}

void Api::change_service(const Request& request, const Target& target, control::Facility what,
                         Respond respond) {
  if (auto wrong = only(request, "POST")) return respond(std::move(*wrong));
  const Finish finish = [this](const control::Answer&) {
    return json_response(200, setup_.model.downtimes_json());
  };
  if (target.pieces[3] == "up") {
    if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
    return ask(control::AskBringUp{0, what}, std::move(respond), finish);
  }
  BodyReader body(request, {"reason", "from", "until"});
  control::AskTakeDown down;
  down.what = what;
  down.reason = body.text("reason", false, 0, control::longest_downtime_reason);
  down.from = body.time("from");
  down.until = body.time("until");
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  ask(std::move(down), std::move(respond), finish);
}

void Api::zones(const Request& request, const Target& target, Respond respond) {
  const auto& pieces = target.pieces;
  if (pieces.size() == 2) {
    if (auto wrong = only(request, "GET")) return respond(std::move(*wrong));
    return respond(json_response(200, setup_.model.zones_json()));
  }
  const auto zone = setup_.floor.find_zone(pieces[2]);
  if (!zone) return respond(not_found("There is no such zone; see /api/zones."));
  if (pieces.size() != 4 || (pieces[3] != "stop" && pieces[3] != "release"))
    return respond(not_found("A zone has stop and release."));
  if (auto wrong = only(request, "POST")) return respond(std::move(*wrong));
  if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
  const Finish finish = [this, zone](const control::Answer&) {
    return json_response(200, setup_.model.zone_json(*zone));
  };
  if (pieces[3] == "stop")
    ask(control::AskStopZone{0, *zone}, std::move(respond), finish);
  else
    ask(control::AskReleaseZone{0, *zone}, std::move(respond), finish);
}

// ---- stations and the fleet ------------------------------------------------------------------

void Api::stations(const Request& request, const Target& target, Respond respond) {
  const auto& pieces = target.pieces;
  if (pieces.size() == 2) {
    if (auto wrong = only(request, "GET")) return respond(std::move(*wrong));
    return respond(json_response(200, setup_.model.stations_json()));
  }
  const auto station = setup_.floor.find_station(pieces[2]);
  if (!station) return respond(not_found("There is no such station; see /api/stations."));
  if (pieces.size() == 3) {
    if (auto wrong = only(request, "GET")) return respond(std::move(*wrong));
    return respond(json_response(200, setup_.model.station_json(*station)));
  }
  if (pieces.size() == 4 && (pieces[3] == "down" || pieces[3] == "up"))
    return change_service(request, target, *station, std::move(respond));
  if (pieces.size() != 4 || pieces[3] != "loads")
    return respond(not_found("A station has loads, down and up."));
  if (auto wrong = only(request, "POST")) return respond(std::move(*wrong));
  BodyReader body(request, {"loads"});
  control::AskCountLoads count;
  count.station = pieces[2];
  count.loads = body.integer("loads", 0, most_loads, std::nullopt);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  ask(std::move(count), std::move(respond), [this, station](const control::Answer&) {
    return json_response(200, setup_.model.station_json(*station));
  });
}

void Api::fleet_command(const Request& request, const Target& target, Respond respond) {
  if (auto wrong = only(request, "POST")) return respond(std::move(*wrong));
  if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
  const Finish finish = [this](const control::Answer&) {
    return json_response(
        200, std::string("{\"all_stopped\":") + (setup_.model.all_stopped() ? "true}" : "false}"));
  };
  if (target.pieces[1] == "stop")
    ask(control::AskStopAll{}, std::move(respond), finish);
  else
    ask(control::AskReleaseAll{}, std::move(respond), finish);
}

// ---- waiting for the core --------------------------------------------------------------------

template <class Ask>
void Api::ask(Ask event, Respond respond, Finish finish) {
  event.request = ++last_request_;
  waiting_.emplace(event.request, Waiting{std::move(finish), std::move(respond)});
  setup_.inbox.post(std::move(event), std::nullopt);
}

void Api::deliver(const Release& release) {
  for (const control::Answer& answer : release.answers) {
    auto waiting = waiting_.extract(answer.request);
    if (waiting.empty()) continue;
    const auto* refusal = std::get_if<control::Refusal>(&answer.what);
    waiting.mapped().respond(refusal ? refused(*refusal) : waiting.mapped().finish(answer));
  }
}

void Api::fail_waiting(const Response& response) {
  std::map<control::RequestId, Waiting> waiting;
  waiting.swap(waiting_);
  for (auto& [id, one] : waiting) one.respond(response);
}

}  // namespace tagline::net
