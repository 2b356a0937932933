// What carts report, taken in. See state.hpp.
#include <algorithm>
#include <utility>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

/// More unknown tags than this at a time are a sick reader, not a floor to be commissioned.
constexpr std::size_t most_unknown_tags = 50;

/// Index in `path` of the step with this number.
std::optional<std::size_t> find_step(const std::vector<PathStep>& path, Step step) {
  const auto found = std::ranges::find(path, step, &PathStep::step);
  if (found == path.end()) return {};
  return static_cast<std::size_t>(found - path.begin());
}

}  // namespace

void Core::State::on(const CartGreets& event) {
  alarms_due = true;
  match_due = true;
  CartState& c = at(event.cart);
  c.connected = true;
  claims_due = true;
  c.battery = event.battery;
  c.moving = false;
  c.told_trip = 0;  // whatever it was told before, tell it again
  c.told_hold.clear();
  c.untold_handling.reset();
  if (event.stopped && !c.stopped_at_cart) c.stopped_at_cart = StopCause::button;
  if (!event.stopped) c.stopped_at_cart.reset();
  touch(event.cart);

  if (!c.on_floor()) {
    c.loaded = event.loaded;
    out.messages.emplace_back(TellReset{event.cart});
    return;
  }
  if (!c.doubt.empty()) {
    out.messages.emplace_back(TellStop{event.cart, "Position in doubt: " + c.doubt});
    return;
  }

  // Does what the cart says fit what the service knows? `last` is the last point it says it
  // passed, `until` where it will stop by itself.
  std::optional<std::size_t> last;
  std::optional<std::size_t> until;
  std::string contradiction;
  if (event.rebooted) {
    // It has lost its authority, so it stands; somewhere between its last tag and the end of what
    // it was granted. That is known only if the service itself hasn't forgotten the grant.
    until =
        c.unconfirmed && c.path.size() > 1 ? std::nullopt : std::optional{authority(event.cart)};
    for (std::size_t i = 0; until && i <= *until && !last; ++i) {
      if (has_tag(ways[c.path[i].pose].at, event.last_tag)) last = i;
    }
    if (!until) {
      contradiction = "the cart lost power while the service was away";
    } else if (!last) {
      contradiction =
          "after losing power it names tag " + event.last_tag + ", which isn't on its granted way";
    } else if (*last < *until &&
               ways.find_move(c.path[*last].pose, c.path[*last + 1].pose)->turn_round) {
      contradiction = "it lost power at a place to turn and may have turned or not";
    }
  } else {
    // Since a person set it down it has read nothing, so the tag it names is one from before; and
    // if the link was lost before its first authority, it knows no step yet.
    const bool read_nothing = c.placed_at == c.path.front().step;
    if (read_nothing && event.step == 0 && event.until == 0) {
      last = 0;
      until = 0;
    } else {
      last = find_step(c.path, event.step);
      until = find_step(c.path, event.until);
    }
    const std::size_t farthest = c.unconfirmed ? c.path.size() - 1 : authority(event.cart);
    if (!last || !until || *last > *until || *until > farthest) {
      contradiction = "the way it says it is on isn't the one it was given";
    } else if (const bool may_differ = *last == 0 && (read_nothing || event.last_tag.empty());
               !may_differ && !has_tag(ways[c.path[*last].pose].at, event.last_tag)) {
      contradiction = "its last tag, " + event.last_tag + ", doesn't mark " +
                      floor[ways[c.path[*last].pose].at].id;
    }
  }
  if (!contradiction.empty()) {
    lose(event.cart, contradiction, [&] {
      const auto point = track.find_tag(event.last_tag);
      return point ? std::vector{*point} : std::vector<PointIx>{};
    }());
    return;
  }

  if (c.unconfirmed) {
    if (!confirm(event.cart, *last, *until)) {
      // Others whose greeting is still to come may be what is in the way.
      c.claim = CartState::Claim{*last, *until};
      if (c.stopped_by_service() || all_stopped) {
        out.messages.emplace_back(TellStop{event.cart, "A person must release it"});
      }
      return;
    }
  } else if (*last > 0) {
    passed(event.cart, *last);
  }
  if (event.rebooted) {
    c.release_reason = "It lost power near " + where(event.cart) +
                       ". See that it stands on the tape just past that tag, then release it.";
    if (c.job && event.loaded != c.loaded) {
      // Either the end of the handling was lost with the power, or the load went while it was dark.
      if (seems_handled(event.cart, event.loaded)) {
        finish_handling(event.cart, 0);
      } else {
        c.loaded = event.loaded;
        lose(event.cart,
             event.loaded ? "it lost power and now has a load it was not given"
                          : "it lost power and its load is gone",
             {});
        return;
      }
    }
  }
  if (!event.rebooted && seems_handled(event.cart, event.loaded)) {
    c.untold_handling = c.path.front().step;
  }
  // A stop at the cart is latched there already; one from here would need a second release. If no
  // stop stands, say so: a release given while the link was down would be lost otherwise.
  if (c.stopped_by_service() || all_stopped) {
    out.messages.emplace_back(
        TellStop{event.cart, all_stopped ? "All carts are stopped" : "A person must release it"});
  } else {
    out.messages.emplace_back(TellRelease{event.cart});
  }
}

void Core::State::on(const CartReads& event) {
  CartState& c = at(event.cart);
  const auto point = track.find_tag(event.tag);
  if (!point) {
    alarms_due = true;
    if (unknown_tags.size() < most_unknown_tags || unknown_tags.contains(event.tag)) {
      unknown_tags[event.tag] = {now, event.cart};
    }
    out.trace.emplace_back(UnknownTagTrace{event.cart, event.tag});
    return;
  }
  if (!c.on_floor()) return;
  if (!c.doubt.empty()) {
    for (std::size_t i = 0; c.overran && i <= *c.overran; ++i) {
      if (ways[c.path[i].pose].at == *point && confirm(event.cart, i, *c.overran)) {
        // The tag was only late: nothing is in doubt any more. A person's stop stands all the same.
        if (!c.stopped_by_service() && !all_stopped) {
          out.messages.emplace_back(TellRelease{event.cart});
        }
        return;
      }
    }
    c.overran.reset();  // it has been elsewhere since
    // It moved, or was moved, while in doubt: it may be there as well (I8).
    if (std::ranges::find(c.maybe_at, *point) == c.maybe_at.end()) {
      lose(event.cart, c.doubt, {*point});
    }
    return;
  }
  if (c.unconfirmed) {
    // It drives on within the authority it claimed: what it passes makes the claim smaller.
    const auto index = find_step(c.path, event.step);
    if (c.claim && index && *index <= c.claim->until && ways[c.path[*index].pose].at == *point) {
      c.claim->last = std::max(c.claim->last, *index);
    }
    return;
  }

  const std::size_t until = authority(event.cart);
  std::optional<std::size_t> passed_index;
  for (std::size_t i = 1; i <= until && !passed_index; ++i) {
    const bool named = event.step != 0 && c.path[i].step == event.step;
    if (ways[c.path[i].pose].at == *point && (named || event.step == 0)) passed_index = i;
  }
  if (passed_index) {
    ReadTrace trace{event.cart, *point, c.path[*passed_index].step, {}};
    if (misses.erase(*point) > 0) alarms_due = true;
    for (std::size_t i = 1; i < *passed_index; ++i) {
      const PointIx unread = ways[c.path[i].pose].at;
      if (unread == *point || floor[unread].tags.empty()) continue;
      trace.missed.push_back(unread);
      ++misses[unread];
      alarms_due = true;
    }
    out.trace.emplace_back(std::move(trace));
    passed(event.cart, *passed_index);
    return;
  }
  // Read once more where it stands, or a late copy of an earlier read: nothing new.
  if (ways[c.path.front().pose].at == *point) return;
  if (event.step != 0 && event.step <= c.path.front().step) return;

  const std::string& id = floor[*point].id;
  for (std::size_t i = until + 1; i < c.path.size(); ++i) {
    if (ways[c.path[i].pose].at == *point) {
      lose(event.cart, "it read " + id + ", beyond the end of its authority", {*point});
      return;
    }
  }
  lose(event.cart, "it read " + id + ", which isn't on its way", {*point});
}

void Core::State::on(const CartReports& event) {
  CartState& c = at(event.cart);
  c.moving = event.moving;
  if (c.battery != event.battery || c.fault != event.fault) touch(event.cart);
  if (c.fault != event.fault) {
    alarms_due = true;
    match_due = true;
  }
  c.battery = event.battery;
  if (const auto step = std::exchange(c.untold_handling, {});
      step && c.known() && c.path.front().step == *step &&
      seems_handled(event.cart, event.loaded)) {
    match_due = true;
    finish_handling(event.cart, 0);
  }
  const bool needed_charge = c.needs_charge;
  if (c.battery < policy.battery_low) c.needs_charge = true;
  if (c.battery >= policy.battery_ready) c.needs_charge = false;
  if (needed_charge != c.needs_charge) match_due = true;
  if (c.needs_charge) alarms_due = true;  // it tells how much is left
  if (needed_charge) alarms_due = true;
  // While a job is on, loading and unloading are what changes this. A load that no job knows of
  // keeps the cart from new jobs until somebody takes it off.
  if (!c.job && c.loaded != event.loaded) {
    c.loaded = event.loaded;
    alarms_due = true;
    match_due = true;
    touch(event.cart);
  }
  const bool was = c.fault == event.fault;
  c.fault = event.fault;
  if (was || !c.known()) return;
  if (event.fault == Fault::overrun) {
    on_overrun(event.cart);
  } else if (event.fault == Fault::tape_lost || event.fault == Fault::wrong_tag) {
    lose(event.cart,
         event.fault == Fault::tape_lost ? "it has lost the tape" : "it read a tag off its way",
         {});
  }
}

void Core::State::on_overrun(CartIx cart) {
  // It stopped by its odometer at the end of its authority, because the tag there didn't come.
  CartState& c = at(cart);
  const std::size_t until = authority(cart);
  const PointIx end = ways[c.path[until].pose].at;
  c.overrun_at = c.path[until].step;
  if (!floor[end].tags.empty()) ++misses[end];
  alarms_due = true;
  bool forked = false;
  bool handles = c.path[until].act == Act::load || c.path[until].act == Act::unload;
  for (std::size_t i = 0; i < until; ++i) {
    forked = forked || ways.moves_from(c.path[i].pose).size() > 1;
    // Where it turns or changes gear it must be at the very place, too.
    const floor::Move& move = *ways.find_move(c.path[i].pose, c.path[i + 1].pose);
    handles = handles || move.turn_round || move.gear == floor::Gear::back;
  }
  // Where the tape doesn't part since the last tag it read, it can only stand there, a little off
  // the tag, on track it holds. It goes on, and the next tag confirms it. But it may have taken
  // another branch, or be needed at the very place.
  if (!forked && !handles) return;
  const std::string& id = floor[end].id;
  std::vector<PointIx> maybe_at;
  for (std::size_t i = 0; i < until; ++i) {
    for (const floor::Move& move : ways.moves_from(c.path[i].pose)) {
      maybe_at.push_back(ways[move.to].at);
    }
  }
  lose(cart, "it didn't find the tag at " + id + ", where it was to stop", maybe_at);
  c.overran = until;
}

bool Core::State::seems_handled(CartIx cart, bool loaded) const {
  const CartState& c = at(cart);
  return c.job && loaded != c.loaded && c.path.front().act == (loaded ? Act::load : Act::unload);
}

void Core::State::on(const CartHandled& event) {
  CartState& c = at(event.cart);
  const auto index = find_step(c.path, event.step);
  if (!index || (c.known() && *index > authority(event.cart))) return;  // a late copy
  const Act expected = event.what == Handling::load ? Act::load : Act::unload;
  if (c.path[*index].act != expected) {
    alarms_due = true;
    match_due = true;
    // Known already, or its job was cancelled while the load was being put on. In that case there
    // is now a load that no job knows of.
    c.loaded = event.what == Handling::load;
    if (c.loaded && c.job && jobs.at(*c.job).state == JobState::assigned) {
      // It was on its way to another load already, with this one on.
      give_up_job(event.cart, c.name + " has the load of a cancelled job on");
      for (PathStep& step : c.path) {
        if (step.act != Act::rest) step.act = Act::go;
      }
      record_path(event.cart);
    }
    touch(event.cart);
    return;
  }
  // Handling at a point is as good as its tag: the cart handles only where it read the tag.
  // While its place is in doubt that changes nothing about where it is, but the load has moved.
  if (!c.known()) {
    finish_handling(event.cart, *index);
    return;
  }
  if (*index > 0) passed(event.cart, *index);
  finish_handling(event.cart, 0);
}

void Core::State::on(const CartStopped& event) {
  alarms_due = true;
  match_due = true;
  if (event.cause == StopCause::service) return;  // it confirms a stop that came from here
  at(event.cart).stopped_at_cart = event.cause;
  touch(event.cart);
}

void Core::State::on(const CartReleased& event) {
  alarms_due = true;
  match_due = true;
  CartState& c = at(event.cart);
  c.stopped_at_cart.reset();
  c.told_trip = 0;
  touch(event.cart);
  // The stop at the cart is over, but not one that was asked for here.
  if (c.stopped_by_service() || all_stopped || !c.doubt.empty()) {
    out.messages.emplace_back(TellStop{event.cart, "It must also be released in the service"});
  } else {
    // A stop of all that was lifted meanwhile is still latched at a cart that had one of its own.
    out.messages.emplace_back(TellRelease{event.cart});
  }
}

void Core::State::on(const CartLinkLost& event) {
  alarms_due = true;
  match_due = true;
  CartState& c = at(event.cart);
  c.connected = false;
  c.moving = false;
  touch(event.cart);
}

}  // namespace tagline::control
