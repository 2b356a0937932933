// See tryout_desk.hpp.
#include "server/net/tryout_desk.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <array>
#include <optional>
#include <variant>

#include "server/net/body_reader.hpp"

namespace tagline::net {
namespace {

/// One that runs and is being ended, and some that took its place in quick succession.
constexpr std::size_t places_at_tryouts = 4;
constexpr std::uint64_t most_seed = 1'000'000'000;

Response bad_query(const std::string& detail) {
  return problem(400, "invalid_query", "The query can't be understood", detail);
}

/// The query, read strictly: each parameter known, and in its range.
class Query {
 public:
  explicit Query(const Target& target) : target_(target) {
    constexpr std::array<std::string_view, 5> known{"carts", "hours", "seed", "jobs",
                                                    "jobs_per_hour"};
    for (const auto& [name, value] : target.query)
      if (std::ranges::find(known, name) == known.end())
        wrong_ = "There is no parameter \"" + name +
                 "\"; there are carts, hours, seed, jobs and jobs_per_hour.";
  }

  std::uint64_t number(const std::string& name, std::uint64_t lowest, std::uint64_t highest,
                       std::optional<std::uint64_t> otherwise) {
    const auto text = target_.parameter(name);
    if (!text && otherwise) return *otherwise;
    const auto read = text ? whole_number(*text) : std::nullopt;
    if (read && *read >= lowest && *read <= highest) return *read;
    wrong_ = name + " is a whole number from " + std::to_string(lowest) + " to " +
             std::to_string(highest) + ".";
    return lowest;
  }

  TryoutWish::Jobs jobs() {
    const std::string word = target_.parameter("jobs").value_or("demand");
    if (word != "per_hour" && target_.parameter("jobs_per_hour"))
      wrong_ = "jobs_per_hour goes with jobs=per_hour.";
    if (word == "demand") return TryoutWish::Jobs::demand;
    if (word == "per_hour") return TryoutWish::Jobs::per_hour;
    if (word != "endless") wrong_ = "jobs is demand, per_hour or endless.";
    return TryoutWish::Jobs::endless;
  }

  [[nodiscard]] const std::string& wrong() const { return wrong_; }

 private:
  const Target& target_;
  std::string wrong_;
};

std::variant<TryoutWish, Response> wish_in(const Request& request, const Target& target) {
  Query query(target);
  TryoutWish wish;
  wish.carts = static_cast<int>(query.number("carts", 1, TryoutDesk::most_carts, std::nullopt));
  wish.hours = static_cast<int>(query.number("hours", 1, TryoutDesk::most_hours, std::nullopt));
  wish.seed = query.number("seed", 0, most_seed, 1);
  wish.jobs = query.jobs();
  if (wish.jobs == TryoutWish::Jobs::per_hour)
    wish.jobs_per_hour = static_cast<int>(
        query.number("jobs_per_hour", 1, TryoutDesk::most_jobs_per_hour, std::nullopt));
  if (!query.wrong().empty()) return bad_query(query.wrong());
  wish.document = request.body;
  return wish;
}

Response response_of(Tryout tryout) {
  switch (tryout.how) {
    case Tryout::How::done: {
      Response response = json_response(200, std::move(tryout.json));
      response.headers.emplace_back("Cache-Control", "no-store");
      return response;
    }
    case Tryout::How::refused: {
      std::string all;
      for (const std::string& reason : tryout.reasons) all += (all.empty() ? "" : " ") + reason;
      return problem(422, "not_runnable", "No carts can be tried out on this floor", all);
    }
    case Tryout::How::too_much:
      return problem(
          422, "too_much", "This is more than can be tried out here",
          "It took more than a minute of the processor, three minutes in all or too much "
          "memory. Try fewer hours or fewer carts, or run tagline simulate elsewhere.");
    case Tryout::How::ended:
      break;
  }
  return problem(409, "ended", "The try-out was ended",
                 "You ended it, or began another one in its place.");
}

}  // namespace

TryoutDesk::TryoutDesk(FloorOffice& office, std::function<void(std::function<void()>)> post)
    : office_(office), post_(std::move(post)), thread_(places_at_tryouts) {}

void TryoutDesk::start(const Request& request, const Target& target, const Visitor& visitor,
                       const Respond& respond) {
  auto read = wish_in(request, target);
  if (auto* wrong = std::get_if<Response>(&read)) return respond(std::move(*wrong));
  if (!running_.empty() && running_.front()->who != visitor.name) {
    Response busy =
        problem(429, "too_often", "One at a time",
                running_.front()->who + " tries a floor out now; ask again in a while.");
    busy.headers.emplace_back("Retry-After", "5");
    return respond(std::move(busy));
  }
  end_those_of(visitor.name);
  auto running = std::make_shared<Running>();
  running->who = visitor.name;
  const auto taken = thread_.add(
      visitor.name, [this, running, respond, wish = std::get<TryoutWish>(std::move(read))]() {
        Response response;
        try {
          response = response_of(running->ended ? Tryout{.how = Tryout::How::ended}
                                                : office_.try_out(wish, running->ended));
        } catch (const std::exception& error) {
          spdlog::error("a try-out: {}", error.what());
          response = problem(500, "floor_office", "The floor can't be tried out", error.what());
        }
        return [this, running, respond, response = std::move(response)] {
          post_([this, running, respond, response] { answer(running, respond, response); });
        };
      });
  if (taken == SideThread::Taken::yes) {
    running_.push_back(std::move(running));
    return;
  }
  Response busy = problem(429, "too_often", "One at a time",
                          "Your last try-outs are still being ended; ask again in a while.");
  busy.headers.emplace_back("Retry-After", "1");
  respond(std::move(busy));
}

void TryoutDesk::answer(const std::shared_ptr<Running>& running, const Respond& respond,
                        Response response) {
  std::erase(running_, running);
  respond(std::move(response));
}

void TryoutDesk::end(const Request& request, const Visitor& visitor, const Respond& respond) {
  if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
  const bool ran = end_those_of(visitor.name);
  respond(json_response(200, ran ? "{\"ended\":true}" : "{\"ended\":false}"));
}

bool TryoutDesk::end_those_of(const std::string& who) {
  bool any = false;
  for (const auto& running : running_)
    if (running->who == who) any = !running->ended.exchange(true) || any;
  return any;
}

void TryoutDesk::give_up() {
  for (const auto& running : running_) running->ended = true;
}

}  // namespace tagline::net
