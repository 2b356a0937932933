// The table, and looking things up in it.
#include "server/net/route_table.hpp"

#include <array>

namespace tagline::net {
namespace {

using access::Action;

constexpr std::optional<Action> everybody = std::nullopt;

constexpr std::array routes{
    // Open: the page itself, what signing in takes, whether the service lives, and the carts' link,
    // which has keys of its own (protocol/README.md).
    Route{"GET", "/", everybody, {}},
    Route{"GET", "/api/health", everybody, {}},
    Route{"GET", "/api/me", everybody, {}},
    Route{"POST", "/api/setup", everybody, "set_up"},
    Route{"POST", "/api/sign-in", everybody, "sign_in"},
    Route{"GET", "/cart", everybody, {}},
    Route{"GET", "/live", everybody, {}},
    Route{"SOCKET", "/cart", everybody, {}},

    Route{"SOCKET", "/live", Action::look, {}},
    Route{"GET", "/api/floor", Action::look, {}},
    Route{"GET", "/api/carts", Action::look, {}},
    Route{"GET", "/api/carts/{}", Action::look, {}},
    Route{"GET", "/api/carts/{}/why", Action::look, {}},
    Route{"GET", "/api/jobs", Action::look, {}},
    Route{"GET", "/api/jobs/{}", Action::look, {}},
    Route{"GET", "/api/jobs/{}/why", Action::look, {}},
    Route{"GET", "/api/stations", Action::look, {}},
    Route{"GET", "/api/stations/{}", Action::look, {}},
    Route{"GET", "/api/downtimes", Action::look, {}},
    Route{"GET", "/api/zones", Action::look, {}},
    Route{"GET", "/api/alarms", Action::look, {}},
    Route{"GET", "/api/figures", Action::look, {}},
    Route{"GET", "/api/figures/{}", Action::look, {}},
    Route{"GET", "/api/past", Action::look, {}},
    Route{"GET", "/api/past/floor", Action::look, {}},

    Route{"POST", "/api/alarms/{}/seen", Action::see_alarm, "see_alarm"},
    Route{"POST", "/api/jobs", Action::ask_job, "ask_job"},
    Route{"POST", "/api/jobs/{}/cancel", Action::cancel_job, "cancel_job"},
    Route{"POST", "/api/jobs/{}/handled", Action::say_handled, "say_handled"},
    Route{"POST", "/api/call", Action::call, "call"},
    Route{"POST", "/api/stations/{}/loads", Action::count_loads, "count_loads"},
    Route{"POST", "/api/stop", Action::stop, "stop_all"},
    Route{"POST", "/api/release", Action::release, "release_all"},
    Route{"POST", "/api/zones/{}/stop", Action::stop, "stop_zone"},
    Route{"POST", "/api/zones/{}/release", Action::release, "release_zone"},
    Route{"POST", "/api/carts/{}/stop", Action::stop, "stop_cart"},
    Route{"POST", "/api/carts/{}/release", Action::release, "release_cart"},
    Route{"POST", "/api/carts/{}/place", Action::place_cart, "place_cart"},
    Route{"POST", "/api/carts/{}/remove", Action::remove_cart, "remove_cart"},
    Route{"POST", "/api/carts/{}/down", Action::change_service, "take_down"},
    Route{"POST", "/api/carts/{}/up", Action::change_service, "bring_up"},
    Route{"POST", "/api/stations/{}/down", Action::change_service, "take_down"},
    Route{"POST", "/api/stations/{}/up", Action::change_service, "bring_up"},
    Route{"POST", "/api/segments/{}/down", Action::change_service, "take_down"},
    Route{"POST", "/api/segments/{}/up", Action::change_service, "bring_up"},

    Route{"POST", "/api/sign-out", Action::use_own_account, "sign_out"},
    // One's own; anybody else's is looked at again there (access_admin.cpp).
    Route{"POST", "/api/accounts/{}/password", Action::use_own_account, "set_password"},
    Route{"GET", "/api/accounts", Action::manage_accounts, {}},
    Route{"POST", "/api/accounts", Action::manage_accounts, "add_account"},
    Route{"POST", "/api/accounts/{}/role", Action::manage_accounts, "set_role"},
    Route{"POST", "/api/accounts/{}/remove", Action::manage_accounts, "remove_account"},
    Route{"GET", "/api/tokens", Action::manage_tokens, {}},
    Route{"POST", "/api/tokens", Action::manage_tokens, "add_token"},
    Route{"POST", "/api/tokens/{}/revoke", Action::manage_tokens, "revoke_token"},
    Route{"GET", "/api/audit", Action::read_audit, {}},

    Route{"GET", "/api/fleet", Action::manage_fleet, {}},
    Route{"POST", "/api/fleet", Action::manage_fleet, "add_cart"},
    Route{"POST", "/api/fleet/{}/key", Action::manage_fleet, "change_cart_key"},
    Route{"POST", "/api/fleet/{}/revoke", Action::manage_fleet, "revoke_cart"},

    // Checking tells what is wrong and changes nothing, so it isn't noted.
    Route{"POST", "/api/floor/check", Action::draw_floor, {}},
    Route{"GET", "/api/floor/file", Action::draw_floor, {}},
    Route{"GET", "/api/floor/draft", Action::draw_floor, {}},
    Route{"PUT", "/api/floor/draft", Action::draw_floor, "save_draft"},
    Route{"GET", "/api/floor/draft/changes", Action::draw_floor, {}},
    Route{"POST", "/api/floor/draft/publish", Action::publish_floor, "publish_floor"},
    Route{"POST", "/api/floor/tryout", Action::draw_floor, {}},
    Route{"POST", "/api/floor/tryout/end", Action::draw_floor, {}},
    Route{"GET", "/api/floor/survey", Action::draw_floor, {}},
    Route{"POST", "/api/floor/survey", Action::draw_floor, "begin_survey"},
    Route{"POST", "/api/floor/survey/end", Action::draw_floor, "end_survey"},
    Route{"GET", "/api/floor/history", Action::draw_floor, {}},
    Route{"GET", "/api/floor/history/{}", Action::draw_floor, {}},
};

bool leads_to(std::string_view path, const std::vector<std::string>& pieces) {
  path.remove_prefix(1);
  for (const std::string& piece : pieces) {
    if (path.empty()) return false;
    const std::size_t end = path.find('/');
    const std::string_view wanted = path.substr(0, end);
    if (wanted != "{}" && wanted != piece) return false;
    path = end == std::string_view::npos ? std::string_view{} : path.substr(end + 1);
  }
  return path.empty();
}

}  // namespace

std::span<const Route> all_routes() { return routes; }

const Route* find_route(std::string_view method, const std::vector<std::string>& pieces) {
  if (method == "HEAD") method = "GET";
  for (const Route& route : routes)
    if (route.method == method && leads_to(route.path, pieces)) return &route;
  return nullptr;
}

std::string methods_at(const std::vector<std::string>& pieces) {
  std::string methods;
  for (const Route& route : routes)
    if (route.method != "SOCKET" && leads_to(route.path, pieces))
      methods += (methods.empty() ? "" : ", ") + std::string(route.method) +
                 (route.method == "GET" ? ", HEAD" : "");
  return methods;
}

std::string about_of(const std::vector<std::string>& pieces) {
  if (pieces.size() < 3) return {};
  return pieces[1] + "/" + pieces[2];
}

}  // namespace tagline::net
