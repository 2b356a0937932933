// The thread, its queue, and the questions.
#include "server/net/past_desk.hpp"

#include <spdlog/spdlog.h>

#include <optional>
#include <utility>

#include "server/net/low_priority.hpp"
#include "server/net/time_text.hpp"

namespace tagline::net {
namespace {

using namespace std::chrono_literals;

/// What is kept in memory is let go when nobody has asked for so long.
constexpr auto rests_after = 10min;
constexpr std::uint64_t longest_step_s = 3'600;

Response wrong_query() {
  return problem(
      400, "invalid_query", "The query can't be understood",
      "Ask without parameters, with at, or with from, to and step: at, from and to are "
      "moments of RFC 3339 with their offset from UTC (a + in it is written %2B), to not "
      "before from; step is a whole number of seconds from 1 to 3600, and there are at "
      "most " +
          std::to_string(PastDesk::most_boards) + " boards in one answer.");
}

Response come_back(std::string_view name, std::string_view title, std::string_view detail) {
  Response response = problem(503, name, title, detail);
  response.headers.emplace_back("Retry-After", "1");
  return response;
}

/// Nothing if it can't be understood.
std::optional<PastAsked> asked_of(const Target& target) {
  std::optional<Instant> at, from, to;
  std::optional<std::uint64_t> step;
  for (const auto& [name, value] : target.query) {
    auto* moment = name == "at" ? &at : name == "from" ? &from : name == "to" ? &to : nullptr;
    if (moment != nullptr ? moment->has_value() : step.has_value()) return std::nullopt;
    if (moment != nullptr) {
      *moment = time_from(value);
      if (!*moment) return std::nullopt;
      continue;
    }
    if (name != "step") return std::nullopt;
    step = whole_number(value);
    if (!step) return std::nullopt;
  }
  if (at) {
    if (from || to || step) return std::nullopt;
    return PastAsked{*at, *at, Duration{1}};
  }
  if (!from || !to || !step || *to < *from || *step < 1 || *step > longest_step_s)
    return std::nullopt;
  const Duration by = std::chrono::seconds(*step);
  if ((*to - *from) / by >= PastDesk::most_boards) return std::nullopt;
  return PastAsked{*from, *to, by};
}

}  // namespace

PastDesk::PastDesk(Past* past, std::function<void(std::function<void()>)> post)
    : past_(past), post_(std::move(post)) {
  if (past_ != nullptr) thread_ = std::thread([this] { run(); });
}

PastDesk::~PastDesk() {
  stop();
  if (thread_.joinable()) thread_.join();
}

void PastDesk::stop() {
  const std::lock_guard lock(mutex_);
  stopping_ = true;
  wake_.notify_one();
}

void PastDesk::handle(const Request& request, const Target& target, Respond respond) {
  if (request.method != "GET" && request.method != "HEAD")
    return respond(method_not_allowed(request.method, "GET, HEAD"));
  if (past_ == nullptr) return respond(not_found("This service keeps no journal of its past."));
  const auto& pieces = target.pieces;
  if (pieces.size() == 2 && target.query.empty())
    return add([this](const Past::GiveUp&) { return past_->spans(); }, std::move(respond));
  if (pieces.size() == 2) {
    const auto asked = asked_of(target);
    if (!asked) return respond(wrong_query());
    return add([this, asked = *asked](
                   const Past::GiveUp& give_up) { return past_->boards(asked, give_up); },
               std::move(respond));
  }
  if (pieces.size() == 3 && pieces[2] == "floor") {
    const auto run = target.query.size() == 1 ? target.parameter("run") : std::nullopt;
    const auto number = run ? whole_number(*run) : std::nullopt;
    if (!number || *number > 1'000'000'000'000)
      return respond(problem(400, "invalid_query", "The query can't be understood",
                             "The parameter is run, the number of a run in /api/past."));
    return add([this, number = static_cast<std::int64_t>(*number)](
                   const Past::GiveUp&) { return past_->floor(number); },
               std::move(respond));
  }
  respond(not_found("The past is at /api/past, its floors at /api/past/floor."));
}

void PastDesk::add(Work work, Respond respond) {
  {
    const std::lock_guard lock(mutex_);
    if (!stopping_ && queue_.size() < most_waiting) {
      queue_.push_back({std::move(work), std::move(respond)});
      wake_.notify_one();
      return;
    }
  }
  if (stopping_) return respond(net::stopping());
  respond(come_back("busy", "Others look at the past", "Ask again in a second."));
}

Response PastDesk::answer(const Work& work) const {
  if (stopping_) return net::stopping();
  const auto until = std::chrono::steady_clock::now() + longest_work;
  try {
    return json_response(
        200, work([this, until] { return stopping_ || std::chrono::steady_clock::now() > until; }));
  } catch (const PastNotYet& error) {
    if (stopping_) return net::stopping();
    return come_back("not_yet", "It is being worked out", error.what());
  } catch (const PastUnknown& error) {
    return not_found(error.what());
  } catch (const PastBroken& error) {
    return problem(409, "not_replayable", "This can't be worked out again", error.what());
  } catch (const std::exception& error) {
    spdlog::error("the past can't be shown: {}", error.what());
    return problem(500, "past_failed", "The past can't be shown", error.what());
  }
}

void PastDesk::run() {
  if (!give_way_to_others()) spdlog::warn("the thread of the past runs at the usual priority");
  std::unique_lock lock(mutex_);
  for (;;) {
    if (!wake_.wait_for(lock, rests_after, [this] { return stopping_ || !queue_.empty(); })) {
      lock.unlock();
      past_->rest();
      lock.lock();
      continue;
    }
    if (queue_.empty()) return;
    Waiting next = std::move(queue_.front());
    queue_.pop_front();
    lock.unlock();
    post_([respond = std::move(next.respond), response = answer(next.work)] { respond(response); });
    lock.lock();
  }
}

}  // namespace tagline::net
