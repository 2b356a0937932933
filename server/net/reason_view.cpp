// Reasons as JSON and as sentences.
#include "server/net/reason_view.hpp"

#include <nlohmann/json.hpp>

#include "server/net/time_text.hpp"

namespace tagline::net {
namespace {

using control::Reason;
using Json = nlohmann::ordered_json;

/// What follows the cart's name and place.
std::string_view words_of(control::Fault fault) {
  switch (fault) {
    case control::Fault::blocked:
      return "reports something in its way";
    case control::Fault::tape_lost:
      return "has lost the tape";
    case control::Fault::overrun:
      return "ran past its stop";
    case control::Fault::wrong_tag:
      return "read a tag that is not on its way";
    case control::Fault::battery:
      return "reports trouble with its battery";
    case control::Fault::drive:
      return "reports trouble with its drive";
    case control::Fault::reader:
      return "reports trouble with its tag reader";
    case control::Fault::none:
      break;
  }
  return "reports a fault";
}

/// A forecast: shown to whole five seconds, rounded up, lest it look surer than it is and change
/// with every look.
Instant rounded(Instant until) {
  constexpr Duration grain{5'000};
  const Duration since_epoch = until.time_since_epoch();
  return Instant{(since_epoch + grain - Duration{1}) / grain * grain};
}

std::string loads_there(int count) {
  return count == 1 ? "1 load stands there or is on the way"
                    : std::to_string(count) + " loads stand there or are on the way";
}

}  // namespace

std::string ReasonView::cart(std::optional<CartIx> ix) const {
  return ix ? cart_names_->at(ix->value) : "a cart";
}

/// "P12", with the station that is there.
std::string ReasonView::point(std::optional<PointIx> ix) const {
  if (!ix) return "its place";
  const floor::Floor& floor = track_->floor();
  for (const floor::Station& station : floor.stations)
    if (station.point == *ix) return floor[*ix].id + " (" + station.name + ")";
  return floor[*ix].id;
}

std::string ReasonView::piece(std::optional<PieceIx> ix) const {
  return ix ? track_->name(*ix) : "the track ahead";
}

std::string ReasonView::station(std::optional<StationIx> ix) const {
  return ix ? track_->floor()[*ix].name : "its station";
}

std::string ReasonView::zone(std::optional<ZoneIx> ix) const {
  return ix ? track_->floor()[*ix].name : "its zone";
}

std::string ReasonView::text(const Reason& reason) const {
  const std::string who = cart(reason.cart), other = cart(reason.other);
  const std::string job = reason.job ? "Job " + std::to_string(reason.job->value) : "The job";
  switch (reason.kind) {
    case Reason::Kind::held_track:
      return who + " waits at " + point(reason.point) + " for " + piece(reason.piece) + ", which " +
             other + " holds.";
    case Reason::Kind::turn:
      return who + " waits at " + point(reason.point) + " for " + piece(reason.piece) + ", where " +
             other + " passes first.";
    case Reason::Kind::way_out:
      return who + " waits at " + point(reason.point) + ": going on to " + piece(reason.piece) +
             " would lock " + other + " in.";
    case Reason::Kind::driving:
      return who + " is driving and has the track up to " + point(reason.point) + ".";
    case Reason::Kind::handling:
      return who + " is being " +
             (!reason.what                                ? "loaded or unloaded"
              : *reason.what == control::Handling::unload ? "unloaded"
                                                          : "loaded") +
             " at " + station(reason.station) + ".";
    case Reason::Kind::out_of_service:
      return reason.piece ? who + " waits at " + point(reason.point) + " for " +
                                piece(reason.piece) + ", which is out of service."
                          : who + " is out of service at " + point(reason.point) + ".";
    case Reason::Kind::zone_stopped:
      return who +
             (reason.piece
                  ? " waits at " + point(reason.point) + " for " + piece(reason.piece) + ": "
                  : " stands at " + point(reason.point) + ": ") +
             zone(reason.zone) + " was stopped by a person.";
    case Reason::Kind::resting:
      return who + " rests at " + point(reason.point) + " and has nothing to do.";
    case Reason::Kind::charging:
      return who + " charges at " + point(reason.point) + ".";
    case Reason::Kind::needs_release:
      return who + " stands at " + point(reason.point) + " until a person releases it.";
    case Reason::Kind::in_doubt:
      return "Nobody knows where " + who + " is; it keeps all track that it could have reached.";
    case Reason::Kind::not_connected:
      return who + ", last seen at " + point(reason.point) + ", has no link.";
    case Reason::Kind::fault:
      return who + " at " + point(reason.point) + " " + std::string(words_of(reason.fault)) + ".";
    case Reason::Kind::greetings:
      // Either it hasn't greeted itself, or it may not go on before another one has.
      return reason.other
                 ? who + " waits at " + point(reason.point) +
                       " until the service, which has restarted, is greeted by " + other + "."
                 : "The service has restarted and waits until " + who + " has greeted.";
    case Reason::Kind::all_stopped:
      return "A person has stopped all carts.";
    case Reason::Kind::off_floor:
      return who + " is not on the floor.";
    case Reason::Kind::standing_load:
      return who + " has a load on that no job knows of.";
    case Reason::Kind::no_cart:
      return job + " waits: no cart is on the floor, connected and in service.";
    case Reason::Kind::no_cart_free:
      return job + " waits: every cart is busy" +
             (reason.cart ? "; " + who + " is expected to be free first." : ".");
    case Reason::Kind::planned_for:
      return job + " is planned for " + who + ", as soon as that is free.";
    case Reason::Kind::others_first:
      return job + " waits: the free carts are better used for other jobs.";
    case Reason::Kind::station_down:
      return job + " waits: " + station(reason.station) + " is out of service.";
    case Reason::Kind::station_full:
      return job + " waits: " + station(reason.station) + " is full; " + loads_there(reason.count) +
             ".";
    case Reason::Kind::no_way:
      return job + " waits: no cart has an open way to " + station(reason.station) + ".";
    case Reason::Kind::locked:
      return job + " waits: " + who + " can't turn to it now without locking a cart in.";
  }
  return {};
}

std::string ReasonView::chain(const std::vector<Reason>& reasons) const {
  const floor::Floor& floor = track_->floor();
  Json all = Json::array();
  for (const Reason& reason : reasons) {
    Json& out =
        all.emplace_back(Json{{"kind", control::name_of(reason.kind)}, {"text", text(reason)}});
    if (reason.cart) out["cart"] = cart(reason.cart);
    if (reason.other) out["other"] = cart(reason.other);
    if (reason.job) out["job"] = reason.job->value;
    if (reason.point) out["point"] = floor[*reason.point].id;
    if (reason.piece) out["piece"] = piece(reason.piece);
    if (reason.station) out["station"] = floor[*reason.station].id;
    if (reason.zone) out["zone"] = floor[*reason.zone].id;
    if (reason.since) out["since"] = time_text(*reason.since);
    if (reason.until) out["until"] = time_text(rounded(*reason.until));
    if (reason.fault != control::Fault::none) out["fault"] = control::name_of(reason.fault);
    if (reason.kind == Reason::Kind::station_full) out["count"] = reason.count;
    if (reason.what) out["what"] = *reason.what == control::Handling::unload ? "unload" : "load";
  }
  return all.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace tagline::net
