// Random messages within the limits of the contract; equal seeds give equal messages.
#pragma once

#include <random>
#include <set>
#include <string>

#include "protocol/messages.hpp"

namespace tagline::protocol::test {

class RandomMessages {
 public:
  explicit RandomMessages(std::uint64_t seed) : source_(seed) {}

  CartMessage cart() {
    switch (below(6)) {
      case 0: {
        Hello hello{id(), secret(), id(), truth() ? tag() : "", 0, 0, truth(), percent(), truth()};
        hello.step = number(0);
        hello.until = hello.step + below(max_number - hello.step + 1);
        return hello;
      }
      case 1:
        return Read{number(1), tag(), number(0)};
      case 2:
        return State{number(1), percent(), truth(), truth(), static_cast<Fault>(below(8))};
      case 3:
        return Done{number(1), number(1), static_cast<Handling>(below(2))};
      case 4:
        return Stop{number(1), static_cast<StopCause>(below(4))};
      default:
        return Release{number(1)};
    }
  }

  ServiceMessage service() {
    switch (below(8)) {
      case 0:
        return Welcome{number(0), static_cast<std::int64_t>(number(0))};
      case 1:
        return Ack{number(1)};
      case 2:
        return authority();
      case 3:
        return Hold{reason()};
      case 4:
        return ServiceStop{reason()};
      case 5:
        return ServiceRelease{};
      case 6:
        return Handled{number(1), static_cast<Handling>(below(2))};
      default:
        return Reset{};
    }
  }

  std::uint64_t below(std::uint64_t count) {
    return std::uniform_int_distribution<std::uint64_t>(0, count - 1)(source_);
  }

 private:
  bool truth() { return below(2) == 1; }
  int percent() { return static_cast<int>(below(101)); }

  /// Small, or anywhere, or the very largest.
  std::uint64_t number(std::uint64_t least) {
    switch (below(3)) {
      case 0:
        return least + below(1000);
      case 1:
        return least + below(max_number - least + 1);
      default:
        return max_number;
    }
  }

  std::string of(std::string_view characters, std::size_t size) {
    std::string text;
    while (text.size() < size) text += characters[below(characters.size())];
    return text;
  }
  std::string id() { return of("ABCXYZabcxyz0189-_", 1 + below(max_id_bytes)); }
  std::string secret() {
    std::string text;
    const std::size_t size = 1 + below(max_key_bytes);
    while (text.size() < size) text += static_cast<char>('!' + below('~' - '!' + 1));
    return text;
  }
  std::string tag() {
    constexpr std::size_t digits[] = {8, 10, 14, 16, 20};
    return of("0123456789ABCDEF", digits[below(5)]);
  }
  std::string reason() {
    constexpr const char* pieces[] = {"Ofen", "ü",  "→",  "🛒", " ",
                                      "\"",   "\\", "\n", "P1",   "\x7f"};
    std::string text;
    const std::size_t size = below(max_reason_bytes - 4);
    while (text.size() < size) text += pieces[below(10)];
    return text;
  }

  Authority authority() {
    Authority authority;
    authority.trip = number(0);
    const std::size_t count = below(20) == 0 ? 256 : 1 + below(10);
    const Step first = 1 + below(max_number - count);
    for (std::size_t i = 0; i < count; ++i) {
      AuthorityPoint point;
      point.step = first + i;
      point.point = id();
      std::set<std::string> tags;
      for (std::uint64_t k = below(3); k > 0; --k) tags.insert(tag());
      point.tags.assign(tags.begin(), tags.end());
      point.act = static_cast<Act>(i + 1 < count ? below(2) : 2 + below(4));
      if (i > 0) {
        point.branch = static_cast<Branch>(below(3));
        point.gear = static_cast<Gear>(below(2));
        point.length = static_cast<std::int64_t>(1 + below(max_length_mm));
        point.speed = static_cast<std::int64_t>(1 + below(max_speed_mm_s));
      }
      authority.points.push_back(std::move(point));
    }
    return authority;
  }

  std::mt19937_64 source_;
};

}  // namespace tagline::protocol::test
