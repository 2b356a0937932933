// Fuzzes requests under /api without sockets: target, Idempotency-Key and body of a request become
// one answer at once, or one wish for the core whose values are within what API.md says; when the
// core has answered, the request is answered exactly once. All answers are JSON.
//
// An input is a text: "METHOD TARGET", line end, Idempotency-Key or nothing, line end, the body.
#include <cstddef>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <utility>

#include "server/floor/file.hpp"
#include "server/net/api.hpp"
#include "tests/fuzz/must.hpp"

namespace {

using nlohmann::json;
using tagline::fuzz::must;
namespace control = tagline::control;
namespace floor_of = tagline::floor;
namespace net = tagline::net;

/// Keeps what is posted; knows no old jobs.
class Core : public net::Inbox {
 public:
  void post(control::Event event, std::optional<net::Origin> /*origin*/) override {
    must(!posted, "a request is one wish at most");
    posted = std::move(event);
  }
  void find_job(control::JobId /*id*/,
                std::function<void(std::optional<control::Job>)> done) override {
    done(std::nullopt);
  }
  std::optional<control::Event> posted;
};

struct World {
  floor_of::Floor floor = std::get<floor_of::Floor>(
      floor_of::load_floor(TAGLINE_SOURCE_DIR "/protocol/samples/small.floor.json"));
  floor_of::Ways ways{floor};
  floor_of::Track track{ways};
  std::vector<std::string> names{"cart-1", "cart-2"};
  net::BoardModel model{track, names, {}, 1, "run1"};
  Core core;
  net::Api api{{floor, names, model, core, [] { return net::json_response(200, "{}"); },
                [](const std::function<void()>& task) { task(); }}};
};

std::string_view line_of(std::string_view& rest) {
  const std::size_t end = rest.find('\n');
  const std::string_view line = rest.substr(0, end);
  rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
  return line;
}

void check_answer(const net::Response& answer) {
  const json body = json::parse(*answer.body, nullptr, false);
  must(!body.is_discarded(), "an answer is JSON", *answer.body);
  must(answer.status >= 200 && answer.status <= 599, "an answer has a status");
  if (answer.status >= 400)
    must(body.at("status") == answer.status && body.at("title").is_string(),
         "a refusal is a problem body (RFC 9457)", *answer.body);
}

void check_job(const World& world, const control::AskJob& job) {
  must(world.floor.find_station(job.from) && world.floor.find_station(job.to),
       "stations are known");
  for (const auto& stop : job.via)
    must(world.floor.find_station(stop.station).has_value(), "stations are known", stop.station);
  must(job.via.size() <= control::most_via, "a job has no more stops than the core takes");
  must(job.priority >= 0 && job.priority <= 9, "a priority is 0 to 9");
  must(job.note.size() <= 200 && net::is_utf8(job.note), "a note is at most 200 bytes of UTF-8");
  must(job.key.size() <= 64, "an Idempotency-Key has at most 64 characters", job.key);
  // What the boards would be shown.
  control::Job shown;
  shown.id = control::JobId{1};
  shown.note = job.note;
  shown.priority = job.priority;
  shown.due = job.due;
  must(json::accept(world.model.job_json(shown)), "a job that was taken can be shown", job.note);
}

/// The number of the request in the core; 0 for events that are no wish.
control::RequestId check_wish(const World& world, const control::Event& event) {
  if (const auto* job = std::get_if<control::AskJob>(&event)) check_job(world, *job);
  if (const auto* place = std::get_if<control::AskPlaceCart>(&event))
    must(world.floor.find_point(place->point).has_value(), "a place is a point", place->point);
  if (const auto* count = std::get_if<control::AskCountLoads>(&event))
    must(count->loads >= 0 && count->loads <= floor_of::Station::most_loads, "a count is in range");
  return std::visit(
      [](const auto& one) -> control::RequestId {
        if constexpr (requires { one.request; }) return one.request;
        return 0;
      },
      event);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static World world;
  std::string_view rest(reinterpret_cast<const char*>(data), size);
  const std::string_view head = line_of(rest);
  const std::string_view key = line_of(rest);
  net::Request request;
  request.method = std::string(head.substr(0, head.find(' ')));
  if (head.find(' ') != std::string_view::npos)
    request.target = std::string(head.substr(head.find(' ') + 1));
  if (!key.empty()) request.idempotency_key = std::string(key);
  request.content_type = "application/json";
  request.body = std::string(rest);

  const auto target = net::parse_target(request.target);
  if (!target) return 0;
  for (const std::string& piece : target->pieces)
    must(net::is_utf8(piece), "a path is UTF-8", piece);
  if (target->pieces.empty() || target->pieces[0] != "api") return 0;

  world.core.posted.reset();
  int answers = 0;
  world.api.handle(request, *target, [&](const net::Response& answer) {
    ++answers;
    check_answer(answer);
  });
  must(answers == (world.core.posted ? 0 : 1), "a request is answered, or becomes a wish");
  if (!world.core.posted) return 0;
  net::Release release;
  release.answers.push_back({check_wish(world, *world.core.posted),
                             control::Refusal{control::Refused::conflict, "Not now."}});
  world.api.deliver(release);
  must(answers == 1 && !world.api.anybody_waits(), "a wish is answered exactly once");
  return 0;
}
