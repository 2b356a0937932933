// See state_text.hpp.
#include "server/app/state_text.hpp"

#include <vector>

#include "server/net/json_view.hpp"
#include "server/net/reason_view.hpp"
#include "server/net/time_text.hpp"

namespace tagline::app {
namespace {

std::vector<std::string> names_of(const control::Core& core) {
  std::vector<std::string> names;
  for (std::uint32_t i = 0; i < core.cart_count(); ++i) names.push_back(core.cart_name({i}));
  return names;
}

std::string cart_text(const control::Core& core, const floor::Track& track, CartIx ix) {
  const control::CartView cart = core.cart(ix);
  std::string text = "  " + core.cart_name(ix) + ": " + std::string(control::name_of(cart.mode));
  if (!cart.connected) text += ", no link";
  text += ", battery " + std::to_string(cart.battery);
  if (cart.loaded) text += ", loaded";
  if (cart.fault != control::Fault::none)
    text += ", fault " + std::string(control::name_of(cart.fault));
  if (cart.job) text += ", job " + std::to_string(cart.job->value);
  if (!cart.path.empty()) text += ", way";
  for (std::size_t s = 0; s < cart.path.size(); ++s) {
    text += " " + track.floor()[track.ways()[cart.path[s].pose].at].id +
            (s == cart.authority ? " |" : "");
  }
  if (!cart.holds.empty()) text += "; holds";
  for (const PieceIx piece : cart.holds) text += " " + track.name(piece);
  if (cart.waits_for) {
    text += "; waits for " + track.name(cart.waits_for->piece);
    if (cart.waits_for->cart) text += " (" + core.cart_name(*cart.waits_for->cart) + ")";
  }
  if (!cart.trouble.empty()) text += "; " + cart.trouble;
  return text + "\n";
}

std::string why_text(const net::ReasonView& view, const std::vector<control::Reason>& reasons) {
  std::string text;
  for (const control::Reason& reason : reasons)
    text += (text.empty() ? "" : " ") + view.text(reason);
  return text.empty() ? text : "    why: " + text + "\n";
}

std::string job_text(const control::Core& core, const floor::Floor& floor,
                     const control::Job& job) {
  std::string text = "  job " + std::to_string(job.id.value) + ": " +
                     std::string(control::name_of(job.state)) + ", " + floor[job.from].id;
  for (const control::JobStop& stop : job.via) text += " " + floor[stop.station].id;
  text += " to " + floor[job.to].id + ", priority " + std::to_string(job.priority);
  if (job.cart) text += ", by " + core.cart_name(*job.cart);
  text += ", asked for at " + net::time_text(job.created);
  if (job.due) text += ", due at " + net::time_text(*job.due);
  if (!job.note.empty()) text += ", \"" + job.note + "\"";
  return text + "\n";
}

}  // namespace

std::string books_text(const control::Core& core, const floor::Track& track) {
  std::string text;
  for (std::uint32_t i = 0; i < core.cart_count(); ++i) text += cart_text(core, track, {i});
  return text;
}

std::string state_text(const control::Core& core, const floor::Track& track) {
  const std::vector<std::string> names = names_of(core);
  const net::ReasonView reasons(track, names);
  std::string text = core.all_stopped() ? "A person has stopped all carts.\n" : "";
  text += "Carts:\n";
  for (std::uint32_t i = 0; i < core.cart_count(); ++i) {
    text += cart_text(core, track, {i}) + why_text(reasons, core.why(CartIx{i}));
  }
  std::string open;
  for (const control::Job* job : core.jobs()) {
    if (control::is_final(job->state)) break;  // open ones come first
    open += job_text(core, track.floor(), *job) + why_text(reasons, core.why(job->id));
  }
  text += open.empty() ? "No open jobs.\n" : "Open jobs:\n" + open;
  std::string alarms;
  for (const control::Alarm& alarm : core.alarms()) {
    alarms += "  " + std::string(control::name_of(alarm.kind)) + " since " +
              net::time_text(alarm.since) + ": " + alarm.text + "\n";
  }
  return text + (alarms.empty() ? "No alarms.\n" : "Alarms:\n" + alarms);
}

std::string state_json(const control::Core& core, const floor::Track& track, Instant at) {
  const std::vector<std::string> names = names_of(core);
  const net::JsonView view(track, names);
  const auto all_expected = core.expected();
  std::string carts, jobs;
  for (std::uint32_t i = 0; i < core.cart_count(); ++i) {
    carts += (carts.empty() ? "" : ",") + view.cart(core.cart({i}), view.why(core.why(CartIx{i})));
  }
  for (const control::Job* job : core.jobs()) {
    if (control::is_final(job->state)) break;
    std::optional<control::Expected> expected;
    if (const auto found = all_expected.find(job->id); found != all_expected.end()) {
      expected = found->second;
    }
    jobs += (jobs.empty() ? "" : ",") + view.job(*job, view.why(core.why(job->id)), expected);
  }
  return "{\"at\":" + net::json_quote(net::time_text(at)) +
         ",\"all_stopped\":" + (core.all_stopped() ? "true" : "false") + ",\"carts\":[" + carts +
         "],\"jobs\":[" + jobs + "],\"alarms\":" + view.alarms(core.alarms()) + "}";
}

}  // namespace tagline::app
