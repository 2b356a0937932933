// After every event: errands for free carts, track for all, and what is to be written down.
#include <algorithm>

#include "server/control/state.hpp"
#include "server/dispatch/assignment.hpp"
#include "server/traffic/planner.hpp"

namespace tagline::control {
namespace {

/// A cart that has waited this long isn't overtaken on the track it needs next.
constexpr Duration patience = std::chrono::seconds{60};
/// The cart's own table is small; more than this is never told at once.
constexpr std::size_t most_points_ahead = 12;
/// Carts that are well greet again within this after a restart of the service.
constexpr Duration greeting_grace = std::chrono::seconds{30};

}  // namespace

void Core::State::settle() {
  confirm_claims();
  if (!awaits_greetings()) {
    match_jobs();
    send_to_charge();
  }
  grant_track();
  tell_holds();
  refresh_alarms();
  record_carts();
}

bool Core::State::awaits_greetings() const {
  return now - started < greeting_grace && std::ranges::any_of(carts, [](const CartState& c) {
           return c.unconfirmed && c.path.size() > 1;
         });
}

void Core::State::confirm_claims() {
  if (!claims_due) return;
  claims_due = false;
  for (bool confirmed = true; confirmed;) {
    confirmed = false;
    for (std::uint32_t i = 0; i < carts.size(); ++i) {
      if (!carts[i].claim || !confirm({i}, carts[i].claim->last, carts[i].claim->until)) continue;
      confirmed = true;
      if (carts[i].release_reason.empty() && !all_stopped) {
        out.messages.emplace_back(TellRelease{{i}});
      }
    }
  }
  if (now - started < greeting_grace) return;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (carts[i].claim) lose({i}, "its way and another cart's leave no way out for both", {});
  }
}

bool Core::State::clear_of_unconfirmed(CartIx cart) const {
  std::vector<PieceIx> theirs;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (!carts[i].unconfirmed || carts[i].path.size() == 1) continue;
    const auto held = guard.holdings({i});
    theirs.insert(theirs.end(), held.begin(), held.end());
  }
  if (theirs.empty()) return true;
  std::ranges::sort(theirs);
  const auto taken = [&](PieceIx piece) { return std::ranges::binary_search(theirs, piece); };
  const auto& path = at(cart).path;
  return std::ranges::none_of(path.begin() + static_cast<std::ptrdiff_t>(authority(cart)) + 1,
                              path.end(), [&](const PathStep& step) {
                                return std::ranges::any_of(track.cover(step.pose), [&](PieceIx p) {
                                  return taken(p) || std::ranges::any_of(track.conflicts(p), taken);
                                });
                              });
}

void Core::State::match_jobs() {
  std::map<JobId, std::string> why;
  for (const JobId id : open_jobs) {
    if (jobs.at(id).state == JobState::queued) why[id] = "";
  }
  // A job that can't be laid out, or not without locking a cart in, must not keep the cart that
  // would be best for it from the other jobs: it is left out and the rest is matched again.
  while (match_once(why)) {
  }
  for (const auto& [id, reason] : why) {
    const auto known = why_queued.find(id);
    if (known == why_queued.end() || known->second != reason) {
      out.changes.emplace_back(JobChanged{id});
    }
  }
  why_queued = std::move(why);
}

bool Core::State::match_once(std::map<JobId, std::string>& why) {
  std::vector<JobId> queued;
  std::vector<dispatch::OpenJob> wishes;
  for (const auto& [id, reason] : why) {
    if (!reason.empty()) continue;
    const Job& job = jobs.at(id);
    queued.push_back(id);
    wishes.push_back({floor[job.from].point, job.priority, now - job.created});
  }
  if (queued.empty()) return false;

  std::vector<dispatch::FreeCart> free;
  std::map<CartIx, std::vector<bool>> open;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (!free_for_errand({i}) || carts[i].needs_charge) continue;
    const auto& path = carts[i].path;
    dispatch::FreeCart offer{{i}, path[authority({i})].pose, Duration{0}};
    for (std::size_t s = 1; s <= authority({i}); ++s) {
      offer.ready += ways.find_move(path[s - 1].pose, path[s].pose)->time;
    }
    free.push_back(offer);
    open[{i}] = open_poses({i});
  }
  const auto is_open = [&](CartIx cart, PoseIx pose) {
    return static_cast<bool>(open.at(cart)[pose.value]);
  };
  const auto matches = dispatch::assign(ways, wishes, free, is_open);
  bool left_out = false;
  for (const dispatch::Match& match : matches) {
    const CartIx cart = free[match.cart].cart;
    const JobId id = queued[match.job];
    Job& job = jobs.at(id);
    // Carts sent a moment ago have taken places of rest: look again.
    open[cart] = open_poses(cart);
    const auto may = [&](PoseIx pose) { return is_open(cart, pose); };
    const auto errand = dispatch::lay_out(ways,
                                          {.start = free[match.cart].start,
                                           .pickup = floor[job.from].point,
                                           .drop = floor[job.to].point,
                                           .rests = rests(open[cart])},
                                          may);
    if (errand && send(cart, *errand, id)) {
      job.cart = cart;
      why.erase(id);
      set_job(id, JobState::assigned);
      continue;
    }
    left_out = true;
    why[id] = errand ? at(cart).name + " can't turn to it without locking a cart in; soon again"
                     : "no open way for " + at(cart).name + " from " + floor[job.from].id + " to " +
                           floor[job.to].id;
  }
  if (left_out) return true;
  std::string nobody = free.empty() ? "no cart is free" : "the free carts are sent to other jobs";
  if (std::ranges::none_of(carts, [](const CartState& c) { return c.known() && c.connected; })) {
    nobody = "no cart is on the floor and connected";
  }
  if (matches.size() < std::min(free.size(), queued.size())) {
    nobody = "no open way to it from any free cart";
  }
  if (all_stopped) nobody = "all carts are stopped";
  for (auto& [id, reason] : why) {
    if (reason.empty()) reason = nobody;
  }
  return false;
}

void Core::State::send_to_charge() {
  const auto go_to = [&](CartIx cart, bool charger) {
    const auto open = open_poses(cart);
    auto places = rests(open);
    std::erase_if(places, [&](PoseIx pose) { return is_charger(pose) != charger; });
    const auto errand = dispatch::lay_out(
        ways,
        {.start = at(cart).path[authority(cart)].pose, .pickup = {}, .drop = {}, .rests = places},
        [&](PoseIx pose) { return static_cast<bool>(open[pose.value]); });
    return errand && send(cart, *errand, std::nullopt);
  };
  bool charger_wanted = false;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (!free_for_errand({i}) || !carts[i].needs_charge) continue;
    if (is_charger(carts[i].path.back().pose)) continue;
    if (!go_to({i}, true)) charger_wanted = true;
  }
  if (!charger_wanted) return;
  // No charger is free: a cart that rests on one without need makes room.
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (free_for_errand({i}) && carts[i].path.size() == 1 && !carts[i].needs_charge &&
        is_charger(carts[i].path.back().pose) && go_to({i}, false)) {
      return;
    }
  }
}

void Core::State::grant_track() {
  // Who waits longest is served first when track becomes free.
  std::vector<CartIx> turn;
  std::vector<CartIx> overdue;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (!may_move({i})) {
      carts[i].waits.reset();
      continue;
    }
    turn.push_back({i});
    // One that waits for a cart that can't move doesn't keep others off the track meanwhile.
    const auto& waits = carts[i].waits;
    if (waits && now - waits->since > patience && (!waits->cart || may_move(*waits->cart))) {
      overdue.push_back({i});
    }
  }
  std::ranges::stable_sort(turn, [&](CartIx a, CartIx b) {
    const auto since = [&](CartIx cart) {
      return at(cart).waits ? at(cart).waits->since : Instant::max();
    };
    return since(a) < since(b);
  });

  const bool held_back = awaits_greetings();
  for (const CartIx cart : turn) {
    CartState& c = at(cart);
    const std::size_t until = authority(cart);
    // How far it should be able to go so as not to brake before it hears from us again: the next
    // point, where it will be heard of, and from there its stopping distance v^2 / 2a (kinematics)
    // and what it drives while the messages travel.
    const std::int64_t v = floor.cart.speed.value;
    const Mm needed{v * v / (2 * floor.cart.deceleration.value) +
                    v * policy.link_latency.count() / 1000};
    std::size_t target = 0;
    Mm beyond_next{0};
    while (target + 1 < c.path.size() && target < most_points_ahead) {
      const Act act = c.path[target].act;
      if (act == Act::load || act == Act::unload) break;  // handling comes first
      const bool can_end_here = !floor[ways[c.path[target].pose].at].tags.empty();
      if (target >= 1 && beyond_next >= needed && can_end_here) break;
      ++target;
      if (target >= 2) {
        beyond_next += ways.find_move(c.path[target - 1].pose, c.path[target].pose)->length;
      }
    }
    if (target <= until || held_back || !clear_of_unconfirmed(cart)) {
      if (c.waits) touch(cart);
      c.waits.reset();
      tell_authority(cart);
      continue;
    }
    // Overdue carts ask for what they need next, and are never kept from it.
    auto proposal = traffic::propose_grant(guard, cart, target - until, overdue);
    if (proposal.count > 0 && !guard.grant(cart, proposal.count, std::move(proposal.order))) {
      c.waits.reset();
      touch(cart);
    }
    tell_authority(cart);
    if (until + proposal.count < target && proposal.obstacle) {
      const auto by =
          proposal.obstacle->by == cart ? std::nullopt : std::optional{proposal.obstacle->by};
      const bool same =
          c.waits && c.waits->piece == proposal.obstacle->piece && c.waits->cart == by;
      if (!same) {
        c.waits = WaitsFor{proposal.obstacle->piece, by, c.waits ? c.waits->since : now};
        touch(cart);
      }
    }
  }
}

void Core::State::tell_holds() {
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    CartState& c = carts[i];
    std::string reason;
    if (c.connected && mode({i}) == CartMode::waiting && c.waits) {
      reason = "Waits for " + track.name(c.waits->piece);
      if (c.waits->cart) reason += ": " + at(*c.waits->cart).name + " goes first";
    }
    if (reason == c.told_hold) continue;
    c.told_hold = reason;
    if (!reason.empty()) out.messages.emplace_back(TellHold{{i}, reason});
  }
}

void Core::State::record_carts() {
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    const CartState& c = carts[i];
    CartRecord record{{i}, c.must_be_released(), c.loaded, c.doubt, c.maybe_at};
    if (record == recorded[i]) continue;
    recorded[i] = record;
    out.records.emplace_back(std::move(record));
  }
}

}  // namespace tagline::control
