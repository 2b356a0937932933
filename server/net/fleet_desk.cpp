// The fleet over HTTP. A key is in the answer that gives it out, and in nothing else.
#include "server/net/fleet_desk.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>

#include "server/net/body_reader.hpp"
#include "server/net/json_view.hpp"
#include "server/net/registry.hpp"

namespace tagline::net {
namespace {

/// Of one person: the list is asked for again when a change is done.
constexpr std::size_t places_of_one = 2;
constexpr std::size_t longest_cart_id = 32, longest_home = 64;
constexpr AsideTrouble fleet_trouble{"fleet_office", "The fleet file can't be seen to"};

Response not_now(std::string_view why) {
  return problem(409, "conflict", "This can't be done now", why);
}

Response response_of(const FleetRefusal& refusal) {
  switch (refusal.how) {
    case FleetRefusal::How::unknown:
      return not_found(refusal.why);
    case FleetRefusal::How::conflict:
      return not_now(refusal.why);
    case FleetRefusal::How::wrong:
      break;
  }
  return problem(422, "invalid_body", "The body has values that can't be taken",
                 "Nothing was done; see errors.", {{refusal.pointer, refusal.why}});
}

std::string home_json(const std::optional<std::string>& home) {
  return home ? json_quote(*home) : "null";
}

/// Not to be kept by anything on its way.
Response with_key(int status, const std::string& id, const std::string& more,
                  const std::string& key) {
  Response response = json_response(
      status, "{\"id\":" + json_quote(id) + more + ",\"key\":" + json_quote(key) + "}");
  response.headers.emplace_back("Cache-Control", "no-store");
  return response;
}

/// Nothing if it is off the floor, as a person has said.
std::optional<std::string> why_not_revoked(const std::string& id,
                                           const BoardModel::Standing& standing) {
  constexpr std::string_view first =
      " Take it off the tape and say on the board that it is off the floor; then revoke it here. "
      "To end its key at once, give it a new one.";
  if (standing.mode == control::CartMode::in_doubt)
    return id + " may be on the floor: nobody knows where it stands." + std::string(first);
  if (standing.mode != control::CartMode::off_floor)
    return id + " is on the floor." + std::string(first);
  if (standing.job)
    return id + " still has job " + std::to_string(standing.job->value) +
           ". See that job ended first.";
  return std::nullopt;
}

}  // namespace

FleetDesk::FleetDesk(Setup setup) : setup_(std::move(setup)), files_(places_of_one) {}

void FleetDesk::handle(const Request& request, const Target& target, const Visitor& visitor,
                       Respond respond) {
  if (!setup_.office)
    return respond(not_found("The carts of this service can't be changed over the network."));
  const auto& pieces = target.pieces;
  if (pieces.size() == 2)
    return request.method == "POST" ? add(request, visitor, std::move(respond))
                                    : list(visitor, respond);
  if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
  const auto& names = setup_.cart_names;
  const auto found = std::ranges::find(names, pieces[2]);
  if (found == names.end())
    return respond(not_found("There is no such cart in the fleet; see /api/fleet."));
  const CartIx cart{static_cast<std::uint32_t>(found - names.begin())};
  if (pieces[3] == "key") return change_key(cart, visitor, std::move(respond));
  revoke(cart, visitor, std::move(respond));
}

bool FleetDesk::begin(const Respond& respond) {
  if (!changing_) return changing_ = true;
  Response response = problem(429, "too_often", "One at a time",
                              "The fleet is being changed by somebody; ask again in a moment.");
  response.headers.emplace_back("Retry-After", "2");
  respond(std::move(response));
  return false;
}

void FleetDesk::list(const Visitor& visitor, const Respond& respond) {
  answer_aside(files_, setup_.post, visitor.name, fleet_trouble, respond,
               [&office = *setup_.office] {
                 std::string carts;
                 for (const FleetEntry& cart : office.fleet())
                   carts += (carts.empty() ? "" : ",") + ("{\"id\":" + json_quote(cart.id)) +
                            ",\"home\":" + home_json(cart.home) +
                            ",\"key_in_clear\":" + (cart.key_in_clear ? "true" : "false") + "}";
                 return json_response(200, "{\"carts\":[" + carts + "]}");
               });
}

void FleetDesk::add(const Request& request, const Visitor& visitor, Respond respond) {
  BodyReader body(request, {"id", "home"});
  const std::string id = body.text("id", true, 1, longest_cart_id);
  const std::string typed_home = body.text("home", false, 1, longest_home);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (!begin(respond)) return;
  const auto home = typed_home.empty() ? std::nullopt : std::optional(typed_home);
  const auto answer = [this, respond = std::move(respond)](Response response) {
    const bool done = response.status == 201;
    changing_ = done;  // until the next run
    respond(std::move(response));
    if (done) setup_.begin_anew();  // after the answer is on its way
  };
  answer_aside(files_, setup_.post, visitor.name, fleet_trouble, answer,
               [&office = *setup_.office, who = visitor.name, id, home,
                key = access::cart_key(Registry::random())] {
                 if (const auto refusal = office.add(id, home, access::sha256(key)))
                   return response_of(*refusal);
                 spdlog::info("{} has added {} to the fleet", who, id);
                 Response response = with_key(201, id, ",\"home\":" + home_json(home), key);
                 response.about = "fleet/" + id;
                 return response;
               });
}

void FleetDesk::change_key(CartIx cart, const Visitor& visitor, Respond respond) {
  if (!begin(respond)) return;
  const std::string key = access::cart_key(Registry::random());
  const access::Digest digest = access::sha256(key);
  const auto answer = [this, cart, digest, respond = std::move(respond)](Response response) {
    changing_ = false;
    if (response.status == 200) setup_.desk.change_key(cart, digest);
    respond(std::move(response));
  };
  answer_aside(
      files_, setup_.post, visitor.name, fleet_trouble, answer,
      [&office = *setup_.office, who = visitor.name, id = setup_.cart_names[cart.value], key] {
        if (const auto refusal = office.change_key(id, access::sha256(key)))
          return response_of(*refusal);
        spdlog::info("{} has given {} a new key", who, id);
        return with_key(200, id, "", key);
      });
}

void FleetDesk::revoke(CartIx cart, const Visitor& visitor, Respond respond) {
  const std::string& id = setup_.cart_names[cart.value];
  if (const auto why = why_not_revoked(id, setup_.model.standing(cart)))
    return respond(not_now(*why));
  if (!begin(respond)) return;
  // At once, and so that nobody can place it meanwhile: only a connected cart is placed. Had
  // somebody done so just before, the next run would find it on the floor and not in the fleet,
  // and would stop everything until a person has said that it is off (store/reconcile.hpp).
  setup_.desk.shut_out(cart, "this cart is revoked");
  const auto answer = [this, cart, respond = std::move(respond)](Response response) {
    const bool done = response.status == 204;
    changing_ = done;
    if (!done) setup_.desk.let_in_again(cart);
    respond(std::move(response));
    if (done) setup_.begin_anew();
  };
  answer_aside(files_, setup_.post, visitor.name, fleet_trouble, answer,
               [&office = *setup_.office, who = visitor.name, id] {
                 if (const auto refusal = office.revoke(id)) return response_of(*refusal);
                 spdlog::info("{} has revoked {}", who, id);
                 return nothing_more();
               });
}

}  // namespace tagline::net
