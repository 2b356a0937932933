// Marks on their way to the disk.
#include "server/net/alarm_desk.hpp"

#include "server/net/body_reader.hpp"

namespace tagline::net {
namespace {

Response no_such_alarm() {
  return not_found("There is no such alarm, or it has ended; see /api/alarms.");
}

}  // namespace

void AlarmDesk::see(const Request& request, const Target& target, const Visitor& visitor,
                    Respond respond) {
  BodyReader body(request, {"since"});
  const auto since = body.time("since");
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (!since) body.add_finding("since", "It is needed: the alarm's, as /api/alarms has it.");
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  const auto alarm = whole_number(target.pieces[2]);
  const auto cause = alarm ? setup_.model.alarm_board().cause_of(*alarm, *since) : std::nullopt;
  if (!cause) return respond(no_such_alarm());
  const auto good = [this, alarm, cause] {
    Response response = json_response(200, setup_.model.alarm_board().alarm_text(*alarm));
    response.about = "alarms/" + *cause;
    return response;
  };
  if (setup_.model.alarm_board().is_seen(*alarm)) return respond(good());
  const access::SeenAlarm seen{*cause, visitor.name, setup_.clock.now()};
  setup_.keeper.keep({access::PutSeenAlarm{seen}},
                     [this, alarm, seen, good, respond = std::move(respond)](bool stored) {
                       setup_.post([this, alarm, seen, good, respond, stored] {
                         if (!stored) return respond(store_failed());
                         const bool there = setup_.model.see_alarm(*alarm, seen);
                         tidy();
                         if (!there) return respond(no_such_alarm());
                         setup_.changed();
                         respond(good());
                       });
                     });
}

void AlarmDesk::tidy() {
  AlarmBoard& board = setup_.model.alarm_board();
  if (setup_.clock.up() > remembers) board.forget_unclaimed();
  auto changes = board.take_changes();
  if (!changes.empty()) setup_.keeper.keep(std::move(changes), {});
}

}  // namespace tagline::net
