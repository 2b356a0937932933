// Jobs asked for and cancelled. See state.hpp.
#include <algorithm>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

constexpr std::size_t most_open_jobs = 2'000;
constexpr std::size_t longest_note = 200;
constexpr Duration ended_jobs_kept = std::chrono::hours{24};

}  // namespace

void Core::State::on(const AskJob& event) {
  if (!event.key.empty()) {
    if (const auto known = job_by_key.find(event.key); known != job_by_key.end()) {
      const Job& job = jobs.at(known->second);
      if (floor[job.from].id == event.from && floor[job.to].id == event.to &&
          job.priority == event.priority && job.note == event.note) {
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
    refuse(event.request, Refused::invalid, "The load is to go from a station to another one.");
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
  job.priority = event.priority;
  job.note = event.note;
  job.key = event.key;
  job.created = now;
  jobs.emplace(job.id, job);
  open_jobs.insert(job.id);
  if (!event.key.empty()) job_by_key[event.key] = job.id;
  set_job(job.id, JobState::queued);
  answer(event.request, JobTaken{job.id, false});
}

void Core::State::on(const AskCancelJob& event) {
  const auto found = jobs.find(event.job);
  if (found == jobs.end()) {
    refuse(event.request, Refused::unknown,
           "There is no job " + std::to_string(event.job.value) + ".");
    return;
  }
  const Job& job = found->second;
  if (is_final(job.state)) {
    refuse(event.request, Refused::conflict,
           "Job " + std::to_string(job.id.value) + " is " + std::string(name_of(job.state)) +
               " already.");
    return;
  }
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
    // It keeps its way, which leads to a place of rest, and just doesn't stop on it. The next
    // errand, if there is one, takes over from there.
    for (PathStep& step : c.path) {
      if (step.act != Act::rest) step.act = Act::go;
    }
    c.job.reset();
    record_path(cart);
    touch(cart);
  }
  set_job(event.job, JobState::cancelled, "cancelled by a person");
  answer(event.request, Accepted{});
}

void Core::State::on(const Tick&) {
  claims_due = true;
  for (auto it = jobs.begin(); it != jobs.end();) {
    const Job& job = it->second;
    if (is_final(job.state) && job.ended_at && now - *job.ended_at > ended_jobs_kept) {
      if (!job.key.empty()) job_by_key.erase(job.key);
      it = jobs.erase(it);
    } else {
      ++it;
    }
  }
}

}  // namespace tagline::control
