// For looking ahead: a copy of the core to try events on, and what of its state decides what it
// does next, times and numbering apart. See core.hpp.
#include <algorithm>
#include <array>
#include <string>
#include <vector>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

/// Times count by which of these they have reached: those after which the core tries something.
constexpr std::array<Duration, 4> marks{Duration{1}, std::chrono::seconds{3},
                                        std::chrono::seconds{15}, std::chrono::seconds{30}};

class Writer {
 public:
  void add(std::uint64_t value) {
    // Seven bits to a byte, the last one marked.
    while (value >= 0x80) {
      text_.push_back(static_cast<char>(value & 0x7F));
      value >>= 7;
    }
    text_.push_back(static_cast<char>(value | 0x80));
  }
  void add_since(Instant now, Instant then) {
    std::uint64_t reached = 0;
    for (const Duration mark : marks) reached += now - then >= mark ? 1 : 0;
    add(reached);
  }
  template <class Value>
  void add_if(const std::optional<Value>& value, std::uint64_t number) {
    add(value ? number + 1 : 0);
  }
  std::string take() { return std::move(text_); }

 private:
  std::string text_;
};

template <class Enum>
std::uint64_t number(Enum value) {
  return static_cast<std::uint64_t>(value);
}

void add_cart(Writer& w, const CartState& c, std::size_t authority, Instant now) {
  const bool flags[] = {c.connected,          c.loaded,        c.unconfirmed,
                        c.needs_charge,       c.doubt.empty(), c.release_reason.empty(),
                        c.told_trip == c.trip};
  std::uint64_t bits = 0;
  for (const bool flag : flags) bits = bits << 1 | (flag ? 1U : 0U);
  w.add(bits);
  w.add(number(c.fault));
  w.add_if(c.stopped_at_cart, c.stopped_at_cart ? number(*c.stopped_at_cart) : 0);
  w.add(c.maybe_at.size());
  for (const PointIx point : c.maybe_at) w.add(point.value);
  w.add_if(c.overran, c.overran.value_or(0));
  for (const ZoneIx zone : c.stopped_with) w.add(zone.value + 1);
  w.add(c.waits && c.waits->closed ? 1 : 0);
  w.add_if(c.claim, c.claim ? c.claim->last : 0);
  w.add(c.claim ? c.claim->until : 0);
  const Step first = c.path.empty() ? 0 : c.path.front().step;
  const bool overrun = c.fault == Fault::overrun && c.overrun_at && *c.overrun_at >= first;
  w.add(overrun ? *c.overrun_at - first + 1 : 0);
  w.add(c.untold_handling == first ? 1 : 0);
  w.add(c.path.size());
  for (const PathStep& step : c.path) {
    w.add(step.step - first);
    w.add(step.pose.value);
    w.add(number(step.act));
  }
  w.add(c.told_trip == c.trip && c.told_until >= first ? c.told_until - first + 1 : 0);
  w.add(number(c.told_act));
  w.add_if(c.job, c.job ? c.job->value : 0);
  w.add(authority);
  // Since when matters to what is expected of a cart that drives or is handled.
  const bool busy = !c.path.empty() && (authority > 0 || c.path.front().act == Act::load ||
                                        c.path.front().act == Act::unload);
  if (busy) w.add_since(now, c.passed_at);
  w.add_if(c.waits, c.waits ? c.waits->piece.value : 0);
  if (!c.waits) return;
  w.add_if(c.waits->cart, c.waits->cart ? c.waits->cart->value : 0);
  w.add(c.waits->for_turn ? 1 : 0);
  w.add_since(now, c.waits->since);
  w.add_since(now, c.turns_tried);
  w.add_since(now, c.way_tried);
}

/// Who goes first, for every two steps that clash; other turns make no difference.
void add_turns(Writer& w, const traffic::Guard& guard) {
  struct Pair {
    std::size_t step;
    CartIx other;
    std::size_t other_step;
    bool first;
    auto operator<=>(const Pair&) const = default;
  };
  std::vector<Pair> pairs;
  for (std::uint32_t i = 0; i < guard.cart_count(); ++i) {
    const traffic::Itinerary* mine = guard.itinerary({i});
    if (mine == nullptr) continue;
    pairs.clear();
    for (std::size_t s = mine->authority + 1; s < mine->steps.size(); ++s) {
      guard.for_each_rival({i}, mine->steps[s], [&](traffic::Use use) {
        if (use.cart.value > i || use.step <= guard.itinerary(use.cart)->authority) return;
        const bool first = guard.ranks({i})[s] < guard.ranks(use.cart)[use.step];
        pairs.push_back({s, use.cart, use.step, first});
      });
    }
    std::ranges::sort(pairs);
    for (const Pair& pair : pairs) w.add(pair.first ? 1 : 0);
  }
}

}  // namespace

Core::Core(std::unique_ptr<State> state) : state_(std::move(state)) {}

// All that the state refers to outside itself is the track and what belongs to it.
std::unique_ptr<Core> Core::copy() const {
  return std::unique_ptr<Core>(new Core(std::make_unique<State>(*state_)));
}

std::string Core::fingerprint() const {
  const State& s = *state_;
  Writer w;
  for (std::uint32_t i = 0; i < s.carts.size(); ++i) {
    add_cart(w, s.carts[i], s.authority({i}), s.now);
    if (s.guard.itinerary({i}) != nullptr) continue;
    const auto held = s.guard.holdings({i});
    w.add(held.size());
    for (const PieceIx piece : held) w.add(piece.value);
  }
  add_turns(w, s.guard);
  for (const auto& [id, job] : s.jobs) {
    w.add(id.value);
    w.add(number(job.state));
    w.add_if(job.cart, job.cart ? job.cart->value : 0);
    w.add(job.stops_done);
    const auto changes = s.changes_of_cart.find(id);
    w.add(changes == s.changes_of_cart.end() ? 0 : static_cast<std::uint64_t>(changes->second));
    w.add(s.put_off.contains(id) ? 1 : 0);
    if (!is_final(job.state)) w.add_since(s.now, job.created);
  }
  for (const auto& [what, downtime] : s.downtimes) {
    w.add(what.index());
    w.add(std::visit([](auto ix) { return ix.value; }, what));
    w.add(downtime.from <= s.now ? 1 : 0);
  }
  w.add(s.downtimes.size());
  for (const ZoneIx zone : s.stopped_zones) w.add(zone.value + 1);
  for (const int loads : s.station_loads) w.add(static_cast<std::uint64_t>(loads));
  for (const auto& [point, count] : s.misses) {
    w.add(point.value);
    w.add(static_cast<std::uint64_t>(count));
  }
  w.add((s.all_stopped ? 1U : 0U) | (s.awaited_greetings ? 2U : 0U) | (s.match_due ? 4U : 0U) |
        (s.claims_due ? 8U : 0U) | (s.back_of_queue ? 16U : 0U));
  // Since the start matters only while greetings are awaited.
  const auto awaited = [](const CartState& c) { return c.unconfirmed; };
  if (std::ranges::any_of(s.carts, awaited)) w.add_since(s.now, s.started);
  return w.take();
}

}  // namespace tagline::control
