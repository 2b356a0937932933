// The one job that a call button may ask for.
#include "server/net/api.hpp"
#include "server/net/body_reader.hpp"

namespace tagline::net {

void Api::call(const Request& request, const access::Call& call, const std::string& button,
               Respond respond) {
  if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
  for (const std::string& station : {call.from, call.to})
    if (!setup_.floor.find_station(station))
      return respond(problem(409, "conflict", "This can't be done now",
                             "The floor has no station \"" + station +
                                 "\" any more; make a new token for this button."));
  control::AskJob job;
  job.from = call.from;
  job.to = call.to;
  job.note = button;
  ask_job(request, std::move(job), std::move(respond));
}

}  // namespace tagline::net
