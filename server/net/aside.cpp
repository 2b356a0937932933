// To the side thread and back.
#include "server/net/aside.hpp"

#include <spdlog/spdlog.h>

namespace tagline::net {

void answer_aside(SideThread& thread, const PostTask& post, const std::string& who,
                  AsideTrouble trouble, const Respond& respond, std::function<Response()> make) {
  const auto taken = thread.add(who, [post, trouble, respond, make = std::move(make)] {
    Response response;
    try {
      response = make();
    } catch (const std::exception& error) {
      spdlog::error("{}: {}", trouble.title, error.what());
      response = problem(500, trouble.problem, trouble.title, error.what());
    }
    return [post, respond, response = std::move(response)] {
      post([respond, response] { respond(response); });
    };
  });
  if (taken == SideThread::Taken::yes) return;
  Response response = problem(
      429, "too_often", "One at a time",
      taken == SideThread::Taken::has_one
          ? "Your last question of this kind isn't answered yet; wait for it, then ask again."
          : "Too many people ask for this now; ask again in a while.");
  response.headers.emplace_back("Retry-After", "1");
  respond(std::move(response));
}

}  // namespace tagline::net
