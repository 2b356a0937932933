// A survey as JSON.
#include "server/net/survey_desk.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>

#include "server/net/body_reader.hpp"
#include "server/net/clock.hpp"
#include "server/net/json_view.hpp"

namespace tagline::net {
namespace {

/// What a cart keeps it sends at once when it is welcomed (protocol/README.md), so on a poor link
/// within this, in real time.
constexpr std::chrono::seconds late_after_welcome{3};
constexpr std::size_t longest_id = 32;

std::string text_of(const SurveyRead& read) {
  return "{\"number\":" + std::to_string(read.number) + ",\"tag\":" + json_quote(read.tag) +
         ",\"at_ms\":" + std::to_string(read.at.count()) +
         ",\"stood_ms\":" + std::to_string(read.stood.count()) +
         ",\"late\":" + (read.late ? "true" : "false") + "}";
}

}  // namespace

SurveyDesk::SurveyDesk(const std::vector<std::string>& names, const ServiceClock& clock)
    : names_(names),
      survey_(
          names, [&clock] { return clock.now(); }, late_after_welcome * clock.pace()) {}

void SurveyDesk::handle(const Request& request, const Target& target, const Visitor& visitor,
                        const Respond& respond) {
  if (target.pieces.size() == 4) {
    if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
    if (survey_.end(visitor.name)) spdlog::info("{} has ended the survey", visitor.name);
    return respond(shown(0));
  }
  if (request.method == "POST") return respond(begin(request, visitor));
  const auto asked = target.parameter("after");
  const auto after = asked ? whole_number(*asked) : std::optional<std::uint64_t>{0};
  if (!after)
    return respond(problem(400, "malformed_query", "after can't be read",
                           "It is the number of the last read that is known already."));
  respond(shown(*after));
}

Response SurveyDesk::begin(const Request& request, const Visitor& visitor) {
  BodyReader body(request, {"cart"});
  const std::string id = body.text("cart", true, 1, longest_id);
  if (auto wrong = body.refusal()) return std::move(*wrong);
  const auto found = std::ranges::find(names_, id);
  if (found == names_.end()) {
    body.add_finding("cart", "There is no cart of this id; see /api/carts.");
    return std::move(*body.refusal());
  }
  const CartIx cart{static_cast<std::uint32_t>(found - names_.begin())};
  if (const auto refusal = survey_.begin(cart, visitor.name))
    return problem(409, refusal->name, "No survey can begin", refusal->text);
  spdlog::info("{} surveys the tape with {}", visitor.name, id);
  return shown(0);
}

Response SurveyDesk::shown(std::uint64_t after) const {
  const auto& state = survey_.state();
  std::string text = "null";
  if (state) {
    std::string reads;
    for (std::size_t k = after; k < state->reads.size(); ++k)
      reads += (reads.empty() ? "" : ",") + text_of(state->reads[k]);
    text = "{\"cart\":" + json_quote(names_[state->cart.value]) +
           ",\"by\":" + json_quote(state->by) +
           ",\"since\":" + json_quote(time_text(state->since)) +
           ",\"ended\":" + (state->ended.empty() ? "null" : json_quote(state->ended)) +
           ",\"connected\":" + (survey_.connected(state->cart) ? "true" : "false") +
           ",\"tells_moving\":" + (state->tells_moving ? "true" : "false") +
           ",\"full\":" + (state->reads.size() >= Survey::most_reads ? "true" : "false") +
           ",\"last\":" + std::to_string(state->reads.size()) + ",\"reads\":[" + reads + "]}";
  }
  Response response = json_response(200, "{\"survey\":" + text + "}");
  response.headers.emplace_back("Cache-Control", "no-store");
  return response;
}

}  // namespace tagline::net
