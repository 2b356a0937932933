// The model behind REST reads and live updates.
#include "server/net/board_model.hpp"

#include <algorithm>
#include <utility>

namespace tagline::net {
namespace {

void append(std::string& list, const std::string& text) {
  if (!list.empty()) list += ',';
  list += text;
}

/// An expected moment is told anew when it has moved by more: people read minutes, and every change
/// goes to every board.
constexpr Duration told_anew_after = std::chrono::seconds{10};

bool about(const std::optional<Instant>& a, const std::optional<Instant>& b) {
  return a.has_value() == b.has_value() && (!a || std::chrono::abs(*a - *b) < told_anew_after);
}

/// `now` unless `shown` says about the same.
std::optional<control::Expected> steadied(const std::optional<control::Expected>& shown,
                                          const std::optional<control::Expected>& now) {
  const bool same =
      shown && now && about(shown->pickup, now->pickup) && about(shown->delivery, now->delivery);
  return same ? shown : now;
}

Instant ended_at(const control::Job& job) { return job.ended_at.value_or(job.changed); }

}  // namespace

BoardModel::BoardModel(const floor::Track& track, const std::vector<std::string>& cart_names,
                       control::LiveLimit live_limit, int pace, std::string run,
                       std::vector<access::SeenAlarm> seen_alarms)
    : view_(track, cart_names),
      run_(std::move(run)),
      pace_(pace),
      live_limit_(std::move(live_limit)),
      loads_(track.floor().stations.size()),
      alarms_(view_, std::move(seen_alarms)) {
  carts_.resize(cart_names.size());
  for (std::uint32_t k = 0; k < carts_.size(); ++k) {
    carts_[k].now.cart.cart = CartIx{k};
    carts_[k].told = carts_[k].now.cart;
  }
}

void BoardModel::put_cart(const CartShown& shown) {
  CartEntry& entry = carts_.at(shown.cart.cart.value);
  entry.now = shown;
  entry.known = true;
  entry.text.clear();
  entry.why.clear();
  changed_carts_.insert(shown.cart.cart);
}

const std::string& BoardModel::why_of(const CartEntry& entry) const {
  if (entry.why.empty()) entry.why = view_.why(entry.now.why);
  return entry.why;
}

const std::string& BoardModel::cart_json(CartIx cart) const {
  const CartEntry& entry = carts_.at(cart.value);
  if (entry.text.empty()) entry.text = view_.cart(entry.now.cart, why_of(entry));
  return entry.text;
}

std::string BoardModel::tell_carts() {
  std::string carts;
  for (const CartIx cart : std::exchange(changed_carts_, {})) {
    CartEntry& entry = carts_[cart.value];
    const std::string& why = why_of(entry);
    const std::string change = view_.cart_change(entry.told, entry.told_why, entry.now.cart, why);
    if (change.empty()) continue;
    append(carts, change);
    entry.told = entry.now.cart;
    entry.told_why = why;
  }
  return carts;
}

bool BoardModel::put_job(const JobShown& shown) {
  const control::Job& job = shown.job;
  JobEntry& entry = jobs_[job.id];
  const auto expected = steadied(entry.expected, shown.expected);
  // Every job comes by twice a second, as a rule as it was: making its text would take far longer.
  const bool is_new = entry.text.empty();
  if (!is_new && entry.job == job && entry.reasons == shown.why && entry.expected == expected)
    return false;
  std::string why = view_.why(shown.why);
  std::string text = view_.job(job, why, expected);
  entry.reasons = shown.why;
  if (entry.text == text) return false;
  if (!is_new && control::is_final(entry.job.state))
    ended_.erase({ended_at(entry.job), entry.job.id});
  entry.job = job;
  entry.expected = expected;
  entry.text = std::move(text);
  entry.why = std::move(why);
  changed_jobs_.insert(job.id);
  if (control::is_final(job.state)) {
    ended_.insert({ended_at(job), job.id});
    if (ended_.size() > kept_ended_jobs) {
      const control::JobId oldest = ended_.begin()->second;
      ended_.erase(ended_.begin());
      jobs_.erase(oldest);
      changed_jobs_.erase(oldest);
      return oldest != job.id;
    }
  }
  return true;
}

bool BoardModel::apply(const Views& views) {
  bool any = !views.carts.empty();
  for (const CartShown& cart : views.carts) put_cart(cart);
  for (const JobShown& job : views.jobs) any = put_job(job) || any;
  for (const auto& [station, loads] : views.stations) {
    if (loads_.at(station.value) == loads) continue;
    loads_[station.value] = loads;
    changed_stations_.insert(station);
    any = true;
  }
  if (views.alarms && alarms_.apply(*views.alarms)) alarms_changed_ = any = true;
  if (views.all_stopped && *views.all_stopped != all_stopped_) {
    all_stopped_ = *views.all_stopped;
    fleet_changed_ = any = true;
  }
  if (views.closed) {
    std::string text = view_.downtimes(views.closed->downtimes);
    if (text != downtimes_) {
      downtimes_ = std::move(text);
      downtimes_changed_ = any = true;
    }
    if (views.closed->zones != stopped_zones_) {
      stopped_zones_ = views.closed->zones;
      zones_changed_ = any = true;
    }
  }
  return any;
}

std::string BoardModel::carts_json() const {
  std::string list;
  for (std::uint32_t k = 0; k < carts_.size(); ++k) append(list, cart_json(CartIx{k}));
  return "{\"carts\":[" + list + "]}";
}

std::string BoardModel::cart_why_json(CartIx cart) const {
  return "{\"why\":" + why_of(carts_.at(cart.value)) + "}";
}

std::string BoardModel::job_why_json(control::JobId id) const {
  const auto found = jobs_.find(id);
  return "{\"why\":" + (found == jobs_.end() ? std::string("[]") : found->second.why) + "}";
}

std::string BoardModel::station_json(StationIx station) const {
  return view_.station(station, loads_.at(station.value));
}

std::string BoardModel::stations_json() const {
  std::string list;
  for (std::uint32_t k = 0; k < loads_.size(); ++k) append(list, station_json(StationIx{k}));
  return "{\"stations\":[" + list + "]}";
}

const control::Job* BoardModel::job(control::JobId id) const {
  const auto found = jobs_.find(id);
  return found == jobs_.end() ? nullptr : &found->second.job;
}

std::string BoardModel::job_json(control::JobId id) const {
  const auto found = jobs_.find(id);
  return found == jobs_.end() ? std::string() : found->second.text;
}

std::string BoardModel::list_jobs(std::optional<control::JobState> state, std::size_t limit,
                                  std::size_t ended_limit) const {
  std::string list;
  std::size_t count = 0;
  // Job ids grow with age, so the map has the open ones in order.
  for (const auto& [id, entry] : jobs_) {
    if (count >= limit) break;
    if (control::is_final(entry.job.state) || (state && entry.job.state != *state)) continue;
    append(list, entry.text);
    ++count;
  }
  std::size_t ended = 0;
  for (auto it = ended_.rbegin(); it != ended_.rend() && count < limit && ended < ended_limit;
       ++it) {
    const JobEntry& entry = jobs_.at(it->second);
    if (state && entry.job.state != *state) continue;
    append(list, entry.text);
    ++count;
    ++ended;
  }
  return list;
}

std::string BoardModel::jobs_json(std::optional<control::JobState> state, std::size_t limit) const {
  return "{\"jobs\":[" + list_jobs(state, limit, limit) + "]}";
}

std::string BoardModel::alarms_json() const { return "{\"alarms\":" + alarms_.text() + "}"; }

bool BoardModel::see_alarm(std::uint64_t alarm, const access::SeenAlarm& seen) {
  const bool there = alarms_.mark(alarm, seen);
  alarms_changed_ = alarms_changed_ || there;
  return there;
}

std::string BoardModel::downtimes_json() const { return "{\"downtimes\":" + downtimes_ + "}"; }

std::string BoardModel::zones_json() const {
  return "{\"zones\":" + view_.zones(stopped_zones_) + "}";
}

std::string BoardModel::zone_json(ZoneIx zone) const {
  return view_.zone(
      zone, std::find(stopped_zones_.begin(), stopped_zones_.end(), zone) != stopped_zones_.end());
}

std::size_t BoardModel::connected_carts() const {
  return static_cast<std::size_t>(
      std::count_if(carts_.begin(), carts_.end(),
                    [](const CartEntry& entry) { return entry.now.cart.connected; }));
}

SharedText BoardModel::next_change(Instant now) {
  const std::string carts = tell_carts();
  if (carts.empty() && changed_jobs_.empty() && changed_stations_.empty() && !alarms_changed_ &&
      !fleet_changed_ && !downtimes_changed_ && !zones_changed_)
    return nullptr;
  ++rev_;
  std::string jobs, stations;
  for (const control::JobId id : changed_jobs_) append(jobs, jobs_.at(id).text);
  for (const StationIx station : changed_stations_) append(stations, station_json(station));
  std::string text = "{\"type\":\"change\",\"rev\":" + std::to_string(rev_) + ",\"time\":\"" +
                     time_text(now) + "\"";
  if (!carts.empty()) text += ",\"carts\":[" + carts + "]";
  if (!jobs.empty()) text += ",\"jobs\":[" + jobs + "]";
  if (!stations.empty()) text += ",\"stations\":[" + stations + "]";
  if (alarms_changed_) text += ",\"alarms\":" + alarms_.text();
  if (fleet_changed_) text += std::string(",\"all_stopped\":") + (all_stopped_ ? "true" : "false");
  if (downtimes_changed_) text += ",\"downtimes\":" + downtimes_;
  if (zones_changed_) text += ",\"zones\":" + view_.zones(stopped_zones_);
  text += '}';
  changed_jobs_.clear();
  changed_stations_.clear();
  alarms_changed_ = fleet_changed_ = downtimes_changed_ = zones_changed_ = false;

  ring_bytes_ += text.size();
  ring_.push_back(std::make_shared<const std::string>(std::move(text)));
  while (ring_.size() > 1 && (ring_.size() > kept_changes || ring_bytes_ > kept_bytes)) {
    ring_bytes_ -= ring_.front()->size();
    ring_.pop_front();
  }
  return ring_.back();
}

std::string BoardModel::snapshot(Instant now) const {
  std::string carts, stations;
  for (std::uint32_t k = 0; k < carts_.size(); ++k) append(carts, cart_json(CartIx{k}));
  for (std::uint32_t k = 0; k < loads_.size(); ++k)
    if (loads_[k]) append(stations, station_json(StationIx{k}));
  return "{\"type\":\"snapshot\",\"run\":" + json_quote(run_) + ",\"rev\":" + std::to_string(rev_) +
         ",\"time\":\"" + time_text(now) + "\",\"pace\":" + std::to_string(pace_) +
         ",\"all_stopped\":" + (all_stopped_ ? "true" : "false") + ",\"carts\":[" + carts +
         "],\"jobs\":[" +
         list_jobs(std::nullopt, static_cast<std::size_t>(-1), snapshot_ended_jobs) +
         "],\"stations\":[" + stations + "],\"alarms\":" + alarms_.text() +
         ",\"downtimes\":" + downtimes_ + ",\"zones\":" + view_.zones(stopped_zones_) + "}";
}

std::optional<std::vector<SharedText>> BoardModel::resume(std::string_view run, std::uint64_t since,
                                                          Instant now) const {
  if (run != run_ || since > rev_ || rev_ - since > ring_.size()) return std::nullopt;
  std::vector<SharedText> out;
  out.push_back(std::make_shared<const std::string>(
      "{\"type\":\"resumed\",\"run\":" + json_quote(run_) + ",\"rev\":" + std::to_string(rev_) +
      ",\"time\":\"" + time_text(now) + "\"}"));
  out.insert(out.end(), ring_.end() - static_cast<std::ptrdiff_t>(rev_ - since), ring_.end());
  return out;
}

}  // namespace tagline::net
