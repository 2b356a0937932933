// The routes below /api/floor/ (API.md): a builder checks a floor file, keeps a draft, sees what it
// would change, tries it out, publishes it.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "server/net/board_model.hpp"
#include "server/net/floor_office.hpp"
#include "server/net/http_message.hpp"
#include "server/net/side_thread.hpp"
#include "server/net/tryout_desk.hpp"
#include "server/net/visitor.hpp"

namespace tagline::net {

/// On the network thread, but for its threads that wait for the office.
class FloorDesk {
 public:
  /// Of a floor file that is sent here, bytes; some 3,000 points.
  static constexpr std::size_t most_bytes = 1024 * 1024;

  struct Setup {
    /// Null: this service's floor can't be changed here.
    FloorOffice* office;
    const BoardModel& model;
    /// RFC 3339.
    std::function<std::string()> now;
    /// Runs a task on the network thread; called from others.
    std::function<void(std::function<void()>)> post;
    /// A new floor is in place: ends this run of the service, for the next to take it up.
    std::function<void()> begin_anew;
  };
  /// What `setup` refers to must outlive it.
  explicit FloorDesk(Setup setup);
  ~FloorDesk();
  FloorDesk(const FloorDesk&) = delete;
  FloorDesk& operator=(const FloorDesk&) = delete;

  /// `target.pieces` begins with api, floor, and has more.
  void handle(const Request& request, const Target& target, const Visitor& visitor,
              Respond respond);
  /// The service ends: nobody waits for a check or a try-out any more.
  void give_up();

 private:
  /// On `thread`: makes the answer, which then goes out on the network thread.
  void later(SideThread& thread, const std::string& who, const Respond& respond,
             std::function<Response()> make);
  void draft(const Request& request, const Visitor& visitor, const Respond& respond);
  void publish(const Request& request, const Visitor& visitor, Respond respond);
  void history(const Target& target, const Visitor& visitor, const Respond& respond);

  Setup setup_;
  SideThread files_;
  SideThread checks_;
  std::optional<TryoutDesk> tryouts_;  // with an office
};

}  // namespace tagline::net
