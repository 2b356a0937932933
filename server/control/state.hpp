// The inside of the core: its state, and the steps by which it changes. Private to server/control.
//
// Every event goes the same way: one `on(...)` takes in what happened; then settle() gives free
// carts errands, gives carts more track, and works out what to tell whom.
#pragma once

#include <deque>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "server/control/core.hpp"
#include "server/dispatch/assignment.hpp"
#include "server/dispatch/errand.hpp"
#include "server/floor/travel_times.hpp"
#include "server/traffic/guard.hpp"
#include "server/traffic/planner.hpp"

namespace tagline::control {

struct CartState {
  std::string name;
  bool connected{false};
  bool loaded{false};
  bool moving{false};
  int battery{100};
  Fault fault{Fault::none};

  /// A stop in force at the cart itself; only a person at the cart can end it.
  std::optional<StopCause> stopped_at_cart;
  /// Why a person must release it through the service; "" if nobody must.
  std::string release_reason;
  /// Zones it was stopped with; released with them.
  std::set<ZoneIx> stopped_with;
  /// Why its position is in doubt; "" if it isn't.
  std::string doubt;
  std::vector<PointIx> maybe_at;
  /// In doubt only because a tag went unread: index into `path` of the end of the authority it had.
  /// Reading a tag up to there resolves the doubt.
  std::optional<std::size_t> overran;
  /// Known from the store, not yet confirmed by a greeting: holds its whole path.
  bool unconfirmed{false};
  /// What it said when it greeted, while that can't be confirmed yet because others are not known
  /// either: indices into `path` of the last point passed and of the end of its authority.
  struct Claim {
    std::size_t last{};
    std::size_t until{};
  };
  std::optional<Claim> claim;

  /// path[0] is the last point passed, path.back() the place of rest; empty off the floor. While
  /// the position is known, it has the same poses as the guard's itinerary.
  std::vector<PathStep> path;
  std::uint64_t trip{0};
  std::optional<JobId> job;
  Instant passed_at;
  Step last_step{0};

  /// Below the low level and not yet charged to the ready level.
  bool needs_charge{false};
  std::optional<WaitsFor> waits;
  /// Step at the end of its authority when it reported that it stopped there without the tag.
  std::optional<Step> overrun_at{};
  /// The step at which a person last set it down. Until it has passed another one, the last tag it
  /// read may be one from before that.
  std::optional<Step> placed_at{};
  /// The step at which its greeting says that the load has come or gone, which it has not told yet.
  /// It tells what it still keeps before it reports again, so by then it has, or the word is lost.
  std::optional<Step> untold_handling{};
  /// When its turns, or its way, were last tried to be improved while it waits.
  Instant turns_tried;
  Instant way_tried;
  /// What it was last told, so that nothing is told twice.
  std::string told_hold;
  Step told_until{0};
  Act told_act{Act::go};
  std::uint64_t told_trip{0};

  [[nodiscard]] bool on_floor() const { return !path.empty(); }
  [[nodiscard]] bool known() const { return !path.empty() && doubt.empty() && !unconfirmed; }
  [[nodiscard]] bool stopped_by_service() const {
    return !release_reason.empty() || !stopped_with.empty();
  }
  [[nodiscard]] bool must_be_released() const {
    return stopped_at_cart.has_value() || stopped_by_service();
  }
};

struct Core::State {
  State(const floor::Track& track_in, std::vector<std::string> names, Policy policy_in,
        const Restored& restored, Instant now_in);

  const floor::Track& track;
  const floor::Ways& ways;
  const floor::Floor& floor;
  Policy policy;
  traffic::Guard guard;
  traffic::LiveLimit limit;
  /// More carts came on the floor than there are sidings for (see LiveLimit), and some are there.
  bool moving_on{false};
  floor::TravelTimes travel;
  /// Per station: see dispatch/assignment.hpp.
  std::vector<Duration> prices;
  std::vector<CartState> carts;
  std::map<JobId, Job> jobs;
  std::set<JobId> open_jobs;
  std::map<std::string, JobId> job_by_key;
  std::map<JobId, Reason> why_queued;
  /// Could not be put in place lately; others are tried first (matching.cpp).
  std::map<JobId, Reason> put_off;
  std::map<JobId, int> changes_of_cart;  // of open jobs: how often one was taken from its cart
  std::deque<JobId> ended_jobs;          // as they ended
  std::vector<int> station_loads;
  std::uint64_t last_job{0};
  bool all_stopped{false};
  std::map<Facility, Downtime> downtimes;
  std::set<ZoneIx> stopped_zones;
  Instant ticked_at;                 // planned downtimes up to then have begun
  std::vector<bool> closed_pieces;   // per piece: see refresh_closed(); empty while none is
  std::vector<CartRecord> recorded;  // what the store knows of each cart

  std::vector<Alarm> alarms;
  std::uint64_t last_alarm{0};
  std::map<std::string, std::pair<Instant, CartIx>> unknown_tags;  // seen when, by whom
  std::map<PointIx, int> misses;                                   // in a row, per point

  Instant started;
  Instant now;
  Outcome out;

  // ---- events (cart_events.cpp, job_events.cpp, remedies.cpp, closing.cpp)
  void on(const CartGreets& event);
  void on(const CartReads& event);
  void on(const CartReports& event);
  void on(const CartHandled& event);
  void on(const CartStopped& event);
  void on(const CartReleased& event);
  void on(const CartLinkLost& event);
  void on(const AskJob& event);
  void on(const AskCancelJob& event);
  void on(const AskSayHandled& event);
  void on(const AskPlaceCart& event);
  void on(const AskRemoveCart& event);
  void on(const AskStopCart& event);
  void on(const AskReleaseCart& event);
  void on(const AskStopAll& event);
  void on(const AskReleaseAll& event);
  void on(const AskCountLoads& event);
  void on(const AskTakeDown& event);
  void on(const AskBringUp& event);
  void on(const AskStopZone& event);
  void on(const AskReleaseZone& event);
  void on(const Tick& event);

  // ---- after every event (settle.cpp, matching.cpp, granting.cpp, alarms.cpp). Each part looks
  // only at what has changed since, so that an event costs the same in a large fleet.
  void settle();
  void confirm_claims();
  bool claims_due{false};
  [[nodiscard]] bool clear_of_unconfirmed(CartIx cart) const;
  /// Carts on a trip that have not greeted since the service started may yet need a way that only
  /// exists as things stand. Nobody is sent on until they have, or a while has passed.
  [[nodiscard]] bool awaits_greetings() const;
  bool awaited_greetings{false};

  struct Matching;
  void match_jobs();
  bool match_due{true};
  Instant matched_at;
  /// Known while more jobs are queued than are matched at once: the last of those that were, and
  /// why one behind it waits. Ages grow alike, so what was behind stays behind until matched again.
  struct BackOfQueue {
    Duration least_urgent;
    Reason reason;
  };
  std::optional<BackOfQueue> back_of_queue;
  /// Puts a new job behind those that are matched, if it belongs there: however long the queue, one
  /// job more then costs little. False if all must be matched again.
  bool queue_behind(const Job& job);
  /// A station of the job is out of service or has no room for its load.
  [[nodiscard]] std::optional<Reason> barred(const Job& job) const;
  void send_to_charge();
  /// What a cart can be given next, and when: see match_jobs().
  struct Offer {
    CartIx cart;
    PoseIx from;
    Duration ready{};
    bool now{};  // it can be sent at once
  };
  [[nodiscard]] std::vector<Duration> find_prices() const;
  [[nodiscard]] std::vector<Offer> offers() const;
  [[nodiscard]] dispatch::Urgency urgency(const Job& job) const;
  /// Of the jobs that could be given to a cart now, those that are to be matched; by id.
  [[nodiscard]] std::vector<JobId> most_urgent(const std::vector<JobId>& pool) const;
  /// Per offer: index of the wanted job that it would do first if all were dealt out at once.
  [[nodiscard]] std::vector<std::optional<std::size_t>> first_of_tours(
      const std::vector<Offer>& all_offers, const std::vector<JobId>& wanted) const;
  [[nodiscard]] bool may_be_reassigned(CartIx cart) const;
  /// A station at which the job is to unload and which has no room for one load more.
  [[nodiscard]] std::optional<StationIx> full_station(const Job& job) const;
  [[nodiscard]] Reason full_reason(JobId id, StationIx station) const;
  /// How much later than over an empty floor the cart would have the job done.
  [[nodiscard]] Duration delay_by_traffic(CartIx cart, const Job& job,
                                          const traffic::Forecast& as_planned,
                                          const std::vector<traffic::Outlook>& looks) const;
  /// Gives the job to the cart; otherwise says why that can't be.
  std::optional<Reason> take_up(CartIx cart, JobId id);
  void take_from_cart(CartIx cart);

  void grant_track();
  void grant_to(CartIx cart);
  /// How far the cart should have authority now: an index of its path.
  [[nodiscard]] std::size_t wanted_authority(CartIx cart) const;
  /// Throws std::logic_error if a cart could be granted more and has not been.
  void assert_nobody_forgotten() const;
  /// Carts to be looked at for more track.
  std::vector<CartIx> grants_due;
  std::vector<bool> grant_due;
  void due(CartIx cart);
  void all_due();
  /// Those that wait for `cart`, which has given up track or changed its way.
  void wake(CartIx cart);
  std::set<CartIx> waiting;
  void set_waits(CartIx cart, std::optional<WaitsFor> waits);
  /// Other turns or another way for carts that wait longer than planned.
  void help_waiting();

  void tell_holds();
  void refresh_alarms();
  /// Stands at this station, being loaded or unloaded, for far too long.
  [[nodiscard]] std::optional<StationIx> handling_overdue(CartIx cart) const;
  bool alarms_due{true};
  void record_carts();
  /// The paths that carts are told are the ways the guard keeps clear for them. Looks at the carts
  /// that changed; throws std::logic_error.
  void assert_paths() const;

  // ---- out of service, and stopped zones (closing.cpp)
  [[nodiscard]] bool is_down(const Facility& what) const;
  /// A station at which the job has still to stop and which is out of service.
  [[nodiscard]] std::optional<StationIx> station_down(const Job& job) const;
  /// Works out which track nobody may be let onto: segments out of service, and the
  /// segments of stopped zones with the points inside.
  void refresh_closed();
  /// A closed piece that a cart in `from` is not on and would be on in `to`.
  [[nodiscard]] std::optional<PieceIx> closed_between(PoseIx from, PoseIx to) const;
  /// The same for the first step beyond the authority.
  [[nodiscard]] std::optional<PieceIx> closed_ahead(CartIx cart) const;
  /// Finds other ways for carts whose way leads over closed track, where there are any.
  void lead_round_closed();
  bool round_due{false};
  /// What follows when a downtime begins.
  void begin_downtime(const Facility& what);
  void begin_planned_downtimes();
  [[nodiscard]] bool in_zone(CartIx cart, ZoneIx zone) const;
  [[nodiscard]] std::vector<PieceIx> pieces_of(ZoneIx zone) const;
  void stop_with_zones(CartIx cart);
  [[nodiscard]] std::string zone_names(const std::set<ZoneIx>& zones) const;
  void service_changed();

  // ---- parts they share (parts.cpp)
  CartState& at(CartIx cart) { return carts[cart.value]; }
  [[nodiscard]] const CartState& at(CartIx cart) const { return carts[cart.value]; }
  [[nodiscard]] std::size_t authority(CartIx cart) const;
  [[nodiscard]] bool may_move(CartIx cart) const;
  [[nodiscard]] bool free_for_errand(CartIx cart) const;
  [[nodiscard]] bool has_tag(PointIx point, const std::string& tag) const;
  [[nodiscard]] bool is_charger(PoseIx pose) const;
  [[nodiscard]] std::string where(CartIx cart) const;
  [[nodiscard]] CartMode mode(CartIx cart) const;

  /// Poses that `cart` may use: clear of where others will come to rest and of track that a cart
  /// in doubt may be on, and of track that is closed (unless `out_of_service_too`).
  [[nodiscard]] std::vector<bool> open_poses(CartIx cart, bool out_of_service_too = false) const;
  /// The places of rest among them.
  [[nodiscard]] std::vector<PoseIx> free_rests(CartIx cart) const;
  /// Steps as a path, numbered on from `first`.
  [[nodiscard]] std::vector<PathStep> to_path(const std::vector<PoseIx>& steps,
                                              const std::vector<std::size_t>& stop_steps,
                                              const Job* job, Step first) const;
  [[nodiscard]] traffic::Outlook outlook(CartIx cart) const;
  [[nodiscard]] std::vector<traffic::Outlook> outlooks() const;
  /// When the cart's job will come about; nothing if it has none or nobody can tell.
  [[nodiscard]] std::optional<Expected> expected(CartIx cart,
                                                 const std::vector<traffic::Outlook>& looks,
                                                 const traffic::Forecast& forecast) const;
  /// The stops of a job that are still to come, with their usual times.
  [[nodiscard]] std::vector<traffic::Stop> stops_left(const Job& job) const;
  /// Sends `cart` over `stops` to one of `rests` as soon as can be; false if no way was found by
  /// which everybody still gets home. `job` says what is done at the stops.
  bool send(CartIx cart, const std::vector<traffic::Stop>& stops, const std::vector<PoseIx>& rests,
            std::optional<JobId> job);
  /// The same on a floor where idle carts move on ahead of working ones.
  bool send_with_others(CartIx cart, const std::vector<traffic::Stop>& stops,
                        const std::vector<PoseIx>& rests, std::optional<JobId> job);
  /// Takes a cart as standing at steps[0], to go along `steps`; false if that locks somebody in.
  bool place_by_itself(CartIx cart, const std::vector<PoseIx>& steps);
  /// Takes a cart as standing at steps[0], to go along `steps`; these grow if it must move on.
  bool place_with_others(CartIx cart, std::vector<PoseIx>& steps);
  void extend_others(const std::vector<traffic::Change>& changes, CartIx cart);
  [[nodiscard]] std::vector<bool> movable() const;
  [[nodiscard]] std::vector<CartIx> who_goes_first(CartIx cart) const;
  /// How many steps beyond its authority a cart must go to its last stop.
  [[nodiscard]] std::size_t needed_of(CartIx cart) const;
  [[nodiscard]] std::vector<std::size_t> needed() const;
  /// Its job is under way, and whether there is a load on is as its last stop left it.
  [[nodiscard]] bool carries_on_with_job(CartIx cart) const;
  /// The load is as what is to be done where the cart stands would leave it, and wasn't before.
  [[nodiscard]] bool seems_handled(CartIx cart, bool loaded) const;
  /// Puts a way that the guard has accepted in place.
  void go(CartIx cart, const std::vector<PoseIx>& steps, const std::vector<std::size_t>& stop_steps,
          std::optional<JobId> job);
  /// Which poses ways may lead over: not over track that a cart in doubt may be on.
  void refresh_travel();

  void passed(CartIx cart, std::size_t count);
  /// Takes a cart in doubt as standing at path[last] with authority up to path[until]. False, and
  /// nothing changed, if that would overlap another cart's track or leave no way out.
  bool confirm(CartIx cart, std::size_t last, std::size_t until);
  void on_overrun(CartIx cart);
  void lose(CartIx cart, const std::string& why, const std::vector<PointIx>& maybe_at);
  [[nodiscard]] std::vector<PieceIx> around(CartIx cart, PointIx point) const;
  /// The job of a cart that can't do it any more: back to the queue, or stranded with the load.
  void give_up_job(CartIx cart, const std::string& why);
  void finish_handling(CartIx cart, std::size_t index);
  void set_job(JobId id, JobState state, const std::string& reason = "");
  void count_loads(StationIx station, int change);

  // ---- reasons.cpp
  [[nodiscard]] Reason standing_reason(CartIx cart) const;
  [[nodiscard]] std::vector<Reason> chain_from(CartIx cart) const;

  void tell_authority(CartIx cart);
  void record_path(CartIx cart);
  void touch(CartIx cart);
  void answer(RequestId request, std::variant<JobTaken, Accepted, Refusal> what);
  void refuse(RequestId request, Refused kind, std::string detail);
  /// The job, if it is there and not ended; otherwise null, and whoever asks is refused.
  const Job* open_job(RequestId request, JobId id);
};

}  // namespace tagline::control
