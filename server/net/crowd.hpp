// Who is connected, counted by address, so that nobody can take all the room. A connection is a
// stranger until it has said something whole: a request, or the first message of its link. When all
// room for strangers is taken, whoever comes from where few are takes the place of the one who has
// been one for longest where most are: thousands who say nothing keep no cart out.
#pragma once

#include <cstddef>
#include <functional>
#include <list>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>

namespace tagline::net {

class Crowd {
 public:
  struct Limits {
    std::size_t all{4'000};
    /// Of one address at most half, so that others still get in; behind a proxy all have one.
    std::size_t of_one_address{2'000};
    std::size_t strangers{2'000};
    std::size_t strangers_of_one_address{1'000};
  };

  /// One connection, counted for as long as it lives. The crowd must outlive it.
  class Place {
   public:
    Place(Crowd& crowd, std::string address);
    ~Place();
    Place(const Place&) = delete;
    Place& operator=(const Place&) = delete;
    [[nodiscard]] const std::string& address() const { return address_; }
    /// It is no stranger any more.
    void settle();
    /// How it is ended if its place is needed while it is a stranger; replaces what was said
    /// before. Called at most once, out of somebody else's enter().
    void end_by(std::function<void()> end) { end_ = std::move(end); }

   private:
    friend class Crowd;
    Crowd& crowd_;
    std::string address_;
    std::function<void()> end_;
    /// Among the strangers of its address, if it is one.
    std::optional<std::list<Place*>::iterator> stranger_;
  };

  explicit Crowd(Limits limits) : limits_(limits) {}

  /// Null if there is no room for one more from there. May end another connection.
  std::unique_ptr<Place> enter(const std::string& address);
  [[nodiscard]] std::size_t size() const { return all_; }

 private:
  struct Count {
    std::size_t all{0};
    std::list<Place*> strangers;  // by age
  };
  bool make_room_for(std::size_t strangers_from_there);
  Limits limits_;
  std::size_t all_{0};
  std::size_t strangers_{0};
  std::map<std::string, Count> by_address_;  // only of those who are here
};

}  // namespace tagline::net
