// Jobs asked for and cancelled. See state.hpp.
#include <algorithm>
#include <utility>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

constexpr std::size_t most_open_jobs = 2'000;
constexpr std::size_t longest_note = 200;
constexpr Duration ended_jobs_kept = std::chrono::hours{24};
/// A job's place in the plan is looked at again this often even if nothing happens.
constexpr Duration match_every = std::chrono::seconds{5};

bool same_wish(const floor::Floor& floor, const Job& job, const AskJob& event) {
  const auto same_stop = [&](const JobStop& known, const AskedStop& asked) {
    return floor[known.station].id == asked.station && known.what == asked.what;
  };
  return floor[job.from].id == event.from && floor[job.to].id == event.to &&
         job.priority == event.priority && job.note == event.note && job.due == event.due &&
         std::ranges::equal(job.via, event.via, same_stop);
}

}  // namespace

void Core::State::on(const AskJob& event) {
  if (!event.key.empty()) {
    if (const auto known = job_by_key.find(event.key); known != job_by_key.end()) {
      const Job& job = jobs.at(known->second);
      if (same_wish(floor, job, event)) {
        answer(event.request, JobTaken{job.id, true});
      } else {
        refuse(event.request, Refused::key_reused,
               "This idempotency key was used for job " + std::to_string(job.id.value) +
                   " with other content. Use a new key for a new job.");
      }
      return;
    }
  }
  const auto from = floor.find_station(event.from);
  const auto to = floor.find_station(event.to);
  if (!from || !to) {
    refuse(event.request, Refused::invalid,
           "No station \"" + (from ? event.to : event.from) +
               "\" on this floor. The stations are listed by GET /api/floor.");
    return;
  }
  if (*from == *to) {
    refuse(event.request, Refused::invalid,
           "The load is to go from a station to another one: choose two.");
    return;
  }
  if (event.via.size() > most_via) {
    refuse(event.request, Refused::invalid,
           "A job has at most " + std::to_string(most_via) + " stops in between.");
    return;
  }
  std::vector<JobStop> via;
  PointIx before = floor[*from].point;
  for (const AskedStop& stop : event.via) {
    const auto station = floor.find_station(stop.station);
    if (!station) {
      refuse(event.request, Refused::invalid,
             "No station \"" + stop.station +
                 "\" on this floor. The stations are listed by GET /api/floor.");
      return;
    }
    if (std::exchange(before, floor[*station].point) == floor[*station].point) {
      refuse(event.request, Refused::invalid,
             "Two stops in a row are at the same place, " + stop.station + ". Leave one out.");
      return;
    }
    via.push_back({*station, stop.what});
  }
  if (before == floor[*to].point) {
    refuse(event.request, Refused::invalid,
           "The last two stops are at the same place, " + event.to + ". Leave one out.");
    return;
  }
  if (event.priority < 0 || event.priority > 9) {
    refuse(event.request, Refused::invalid, "Priority is a whole number from 0 to 9.");
    return;
  }
  if (event.note.size() > longest_note) {
    refuse(event.request, Refused::invalid, "The note is longer than 200 bytes.");
    return;
  }
  if (open_jobs.size() >= most_open_jobs) {
    refuse(event.request, Refused::conflict,
           "There are " + std::to_string(most_open_jobs) +
               " open jobs already. Cancel some, or wait until some are delivered.");
    return;
  }
  Job job;
  job.id = {++last_job};
  job.from = *from;
  job.to = *to;
  job.via = std::move(via);
  job.due = event.due;
  job.priority = event.priority;
  job.note = event.note;
  job.key = event.key;
  job.created = now;
  jobs.emplace(job.id, job);
  open_jobs.insert(job.id);
  if (!event.key.empty()) job_by_key[event.key] = job.id;
  const bool all_matched = !match_due;
  set_job(job.id, JobState::queued);
  if (all_matched && queue_behind(job)) match_due = false;
  answer(event.request, JobTaken{job.id, false});
}

const Job* Core::State::open_job(RequestId request, JobId id) {
  const auto found = jobs.find(id);
  if (found == jobs.end()) {
    refuse(request, Refused::unknown, "There is no job " + std::to_string(id.value) + ".");
    return nullptr;
  }
  const Job& job = found->second;
  if (!is_final(job.state)) return &job;
  refuse(
      request, Refused::conflict,
      "Job " + std::to_string(id.value) + " is " + std::string(name_of(job.state)) + " already.");
  return nullptr;
}

void Core::State::on(const AskCancelJob& event) {
  const Job* asked = open_job(event.request, event.job);
  if (asked == nullptr) return;
  const Job& job = *asked;
  if (job.state == JobState::loaded) {
    refuse(event.request, Refused::conflict,
           "The load is on " + at(*job.cart).name +
               ": it will be delivered. Queue a job back from there if it is not wanted.");
    return;
  }
  if (job.cart) {
    const CartIx cart = *job.cart;
    CartState& c = at(cart);
    if (mode(cart) == CartMode::handling) {
      refuse(event.request, Refused::conflict,
             c.name + " is being loaded for this job now. Let it finish, then queue a job back.");
      return;
    }
    take_from_cart(cart);
  }
  set_job(event.job, JobState::cancelled, "cancelled by a person");
  answer(event.request, Accepted{});
}

void Core::State::on(const AskSayHandled& event) {
  const Job* asked = open_job(event.request, event.job);
  if (asked == nullptr) return;
  const Job& job = *asked;
  const auto refuse_for = [&](const std::string& why) {
    refuse(event.request, Refused::conflict, why);
  };
  const std::string name = "Job " + std::to_string(job.id.value);
  if (!job.cart) return refuse_for(name + " has no cart yet.");
  const CartState& c = at(*job.cart);
  const std::string station = floor[job.stop(job.stops_done).station].name;
  if (c.must_be_released() || all_stopped)
    return refuse_for(c.name + " is stopped. Release it first, then say so again.");
  if (mode(*job.cart) != CartMode::handling || c.job != job.id)
    return refuse_for(c.name + " does not stand at " + station + " for " + name + " now.");
  const bool load = c.path.front().act == Act::load;
  if (load != (event.what == Handling::load))
    return refuse_for(c.name + " is to be " + (load ? "loaded" : "unloaded") + " at " + station +
                      " now, not " + (load ? "unloaded." : "loaded."));
  if (!c.connected)
    return refuse_for(c.name + " is not connected and can't be told. Say so again when it is.");
  // Nobody can have handled it yet, and it would ignore the word.
  if (c.moving)
    return refuse_for(c.name + " is still coming to a halt at " + station +
                      ". Say so again when it stands and the load is " + (load ? "on." : "off."));
  out.messages.emplace_back(TellHandled{*job.cart, c.path.front().step, event.what});
  answer(event.request, Accepted{});
}

void Core::State::on(const AskCountLoads& event) {
  const auto station = floor.find_station(event.station);
  if (!station) {
    refuse(event.request, Refused::unknown, "There is no station \"" + event.station + "\".");
    return;
  }
  if (!floor[*station].capacity) {
    refuse(
        event.request, Refused::conflict,
        floor[*station].name + " has no capacity in the floor file, so its loads aren't counted.");
    return;
  }
  constexpr int most = floor::Station::most_loads;
  if (event.loads < 0 || event.loads > most) {
    refuse(event.request, Refused::invalid,
           "The number of loads is from 0 to " + std::to_string(most) + ".");
    return;
  }
  count_loads(*station, event.loads - station_loads[station->value]);
  answer(event.request, Accepted{});
}

void Core::State::on(const Tick&) {
  claims_due = true;
  if (!unknown_tags.empty()) alarms_due = true;  // they fade
  for (std::uint32_t i = 0; i < carts.size() && !alarms_due; ++i) {
    alarms_due = handling_overdue(CartIx{i}).has_value();
  }
  while (!ended_jobs.empty()) {
    const auto job = jobs.find(ended_jobs.front());
    if (job != jobs.end() && now - *job->second.ended_at <= ended_jobs_kept) break;
    if (job != jobs.end()) {
      if (job->second.state == JobState::stranded) alarms_due = true;
      if (!job->second.key.empty()) job_by_key.erase(job->second.key);
      jobs.erase(job);
    }
    ended_jobs.pop_front();
  }
  if (!open_jobs.empty() && now - matched_at >= match_every) match_due = true;
  begin_planned_downtimes();
  help_waiting();
}

}  // namespace tagline::control
