// /api/floor/tryout (API.md): a builder has a drawn floor simulated before it is published. One
// person's try-out runs at a time; a newer one of the same person's takes its place.
#pragma once

#include <atomic>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "server/net/floor_office.hpp"
#include "server/net/http_message.hpp"
#include "server/net/side_thread.hpp"
#include "server/net/visitor.hpp"

namespace tagline::net {

/// On the network thread, but for its thread that waits for the office.
class TryoutDesk {
 public:
  static constexpr int most_carts = 100, most_hours = 24, most_jobs_per_hour = 1'000;

  /// `office` must outlive it; `post` runs a task on the network thread and is called from others.
  TryoutDesk(FloorOffice& office, std::function<void(std::function<void()>)> post);

  /// POST /api/floor/tryout: its body is the floor file.
  void start(const Request& request, const Target& target, const Visitor& visitor,
             const Respond& respond);
  /// POST /api/floor/tryout/end
  void end(const Request& request, const Visitor& visitor, const Respond& respond);
  /// The service ends: nobody waits for one any more.
  void give_up();

 private:
  struct Running {
    std::string who;
    std::atomic<bool> ended{false};
  };
  /// True if any ran.
  bool end_those_of(const std::string& who);
  void answer(const std::shared_ptr<Running>& running, const Respond& respond, Response response);

  FloorOffice& office_;
  std::function<void(std::function<void()>)> post_;
  /// Not answered yet; all of one person.
  std::vector<std::shared_ptr<Running>> running_;
  SideThread thread_;
};

}  // namespace tagline::net
