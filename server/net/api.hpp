// The routes under /api (API.md): reads are answered from the board's model, wishes go to the core
// and are answered when its outcome is durable.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/access/role.hpp"
#include "server/floor/floor.hpp"
#include "server/net/board_model.hpp"
#include "server/net/http_message.hpp"
#include "server/net/release.hpp"

namespace tagline::net {

class BodyReader;

/// All on the network thread.
class Api {
 public:
  struct Setup {
    const floor::Floor& floor;
    const std::vector<std::string>& cart_names;  // in CartIx order
    BoardModel& model;
    Inbox& inbox;
    /// The answer to GET /api/health.
    std::function<Response()> health;
    /// Runs a task on the network thread; called from others.
    std::function<void(std::function<void()>)> post;
  };
  /// What `setup` refers to must outlive it.
  explicit Api(Setup setup);

  /// `target.pieces[0]` is "api".
  void handle(const Request& request, const Target& target, Respond respond);
  /// The one job of a call button's token, which is called `button`. 409 if a station is gone.
  void call(const Request& request, const access::Call& call, const std::string& button,
            Respond respond);
  /// Answers those who wait for this outcome. The model must have its views already.
  void deliver(const Release& release);
  /// Answers everybody who waits; no outcome will.
  void fail_waiting(const Response& response);
  [[nodiscard]] bool anybody_waits() const { return !waiting_.empty(); }

 private:
  /// Makes the good answer once the core has taken the request.
  using Finish = std::function<Response(const control::Answer&)>;
  struct Waiting {
    Finish finish;
    Respond respond;
  };

  void jobs(const Request& request, const Target& target, Respond respond);
  void one_job(const Request& request, const Target& target, Respond respond);
  void carts(const Request& request, const Target& target, Respond respond);
  void fleet_command(const Request& request, const Target& target, Respond respond);
  void stations(const Request& request, const Target& target, Respond respond);
  void segments(const Request& request, const Target& target, Respond respond);
  void zones(const Request& request, const Target& target, Respond respond);
  /// `pieces[3]` is down or up: takes it out of service, or brings it back.
  void change_service(const Request& request, const Target& target, control::Facility what,
                      Respond respond);
  void create_job(const Request& request, Respond respond);
  void ask_job(const Request& request, control::AskJob job, Respond respond);
  void list_jobs(const Target& target, const Respond& respond);
  void say_handled(const Request& request, control::JobId id, Respond respond);
  void show_job(control::JobId id, bool only_why, Respond respond);
  void place_cart(const Request& request, CartIx cart, Respond respond);

  template <class Ask>
  void ask(Ask event, Respond respond, Finish finish);
  [[nodiscard]] Response job_response(int status, control::JobId id) const;
  [[nodiscard]] control::AskJob read_wish(BodyReader& body) const;
  [[nodiscard]] std::optional<CartIx> find_cart(std::string_view id) const;

  Setup setup_;
  control::RequestId last_request_{0};
  std::map<control::RequestId, Waiting> waiting_;
};

}  // namespace tagline::net
