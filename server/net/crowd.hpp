// Who is connected, counted by address, so that nobody can take all the room. A connection is a
// stranger until it has said something whole: a request, or the first message of its link.
#pragma once

#include <cstddef>
#include <map>
#include <memory>
#include <string>

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

   private:
    Crowd& crowd_;
    std::string address_;
    bool stranger_{true};
  };

  explicit Crowd(Limits limits) : limits_(limits) {}

  /// Null if there is no room for one more from there.
  std::unique_ptr<Place> enter(const std::string& address);
  [[nodiscard]] std::size_t size() const { return all_; }

 private:
  struct Count {
    std::size_t all{0};
    std::size_t strangers{0};
  };
  Limits limits_;
  std::size_t all_{0};
  std::size_t strangers_{0};
  std::map<std::string, Count> by_address_;  // only of those who are here
};

}  // namespace tagline::net
