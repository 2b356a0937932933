// After every event: the parts in turn, claims of carts after a restart, and what is to be written
// down.
#include <algorithm>
#include <stdexcept>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

/// Carts that are well greet again within this after a restart of the service.
constexpr Duration greeting_grace = std::chrono::seconds{30};

}  // namespace

void Core::State::settle() {
  confirm_claims();
  const bool awaits = awaits_greetings();
  if (awaited_greetings && !awaits) {
    all_due();
    match_due = true;
  }
  awaited_greetings = awaits;
  if (!awaits) {
    const bool look = match_due;
    match_jobs();
    if (look) send_to_charge();
  }
  lead_round_closed();
  grant_track();
  tell_holds();
  if (alarms_due) refresh_alarms();
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
      if (!carts[i].stopped_by_service() && !all_stopped) {
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

void Core::State::tell_holds() {
  const auto refresh = [&](CartIx cart) {
    CartState& c = at(cart);
    std::string reason;
    if (c.connected && mode(cart) == CartMode::waiting && c.waits) {
      reason = "Waits for " + track.name(c.waits->piece);
      if (c.waits->closed) reason += ", which is closed";
      if (c.waits->cart) reason += ": " + at(*c.waits->cart).name + " goes first";
    }
    if (reason == c.told_hold) return;
    c.told_hold = reason;
    if (!reason.empty()) out.messages.emplace_back(TellHold{cart, reason});
  };
  for (const Change& change : out.changes) {
    if (const auto* cart = std::get_if<CartChanged>(&change)) refresh(cart->cart);
  }
}

void Core::State::assert_paths() const {
  for (const Change& change : out.changes) {
    const auto* changed = std::get_if<CartChanged>(&change);
    if (changed == nullptr) continue;
    const traffic::Itinerary* itinerary = guard.itinerary(changed->cart);
    const CartState& c = at(changed->cart);
    if (c.known() != (itinerary != nullptr) ||
        (itinerary != nullptr &&
         !std::ranges::equal(c.path, itinerary->steps, {}, &PathStep::pose))) {
      throw std::logic_error("core: the path of " + c.name +
                             " is not the way the guard keeps for it (I2)");
    }
  }
}

void Core::State::record_carts() {
  for (const Change& change : out.changes) {
    const auto* changed = std::get_if<CartChanged>(&change);
    if (changed == nullptr) continue;
    const CartState& c = at(changed->cart);
    CartRecord record{changed->cart, c.must_be_released(), c.loaded, c.doubt, c.maybe_at};
    CartRecord& known = recorded[changed->cart.value];
    if (record == known) continue;
    known = record;
    out.records.emplace_back(std::move(record));
  }
}

}  // namespace tagline::control
