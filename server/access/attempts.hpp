// How often a password may be tried, so that nobody guesses one and nobody keeps others out by
// guessing. Three limits hold together:
// - an address may be wrong so many times, for whatever names;
// - an account may be tried so many times from browsers that have never been signed in to it;
// - a browser that has been (device_pass) is none of them: it has a limit of its own, which nobody
//   else can use up. Sessions that are open are not touched by any of this.
// Nothing is ever locked until a person unlocks it; the worst is a wait.
#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "server/access/budget.hpp"

namespace tagline::access {

class Attempts {
 public:
  /// A person mistypes a few times; 10 a minute is no typing.
  static constexpr Allowance of_address{10.0 / 60, 10};
  /// For all strangers together. 10 and then two a minute: 1.05 million a year, when a password of
  /// the shortest kind has far more than 2^40 (common practice, no source).
  static constexpr Allowance of_strangers{2.0 / 60, 10};
  static constexpr Allowance of_device{10.0 / 60, 10};
  /// Of each kind; with more the one that was used longest ago is forgotten.
  static constexpr std::size_t most_kept = 1'000;

  using Time = Budget::Time;

  /// Whose try it is. `account` is key_of() the name, whether there is one or not; `device` is what
  /// device_of() gave.
  struct Try {
    std::string address;
    std::string account;
    std::optional<std::string> device{};
  };

  /// Counts a try, before the password is looked at: many at once are many. Nothing if it may be
  /// looked at; else how long to wait, and it isn't counted.
  std::optional<std::chrono::seconds> begin(const Try& one, Time now);
  /// It was the right password: this try is given back.
  void succeeded(const Try& one, Time now);

 private:
  struct Entry {
    Budget budget;
    Time last;
  };
  using Entries = std::map<std::string, Entry, std::less<>>;
  static Entry& entry(Entries& entries, const std::string& key, Allowance allowance, Time now);

  Entries addresses_, strangers_, devices_;
};

}  // namespace tagline::access
