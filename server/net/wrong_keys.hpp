// Addresses from which too many wrong keys came lately: what comes from there is looked at late.
#pragma once

#include <algorithm>
#include <map>
#include <string>

#include "server/access/budget.hpp"

namespace tagline::net {

using access::Allowance;
using access::Budget;

class WrongKeys {
 public:
  /// A person who mistypes a key does so a few times; 10 a minute is no typing.
  static constexpr Allowance allowed{10.0 / 60, 10};
  /// Addresses remembered; with more the one whose wrong keys are longest ago is forgotten.
  static constexpr std::size_t most_addresses = 1'000;

  void note(const std::string& address, Budget::Time now) {
    std::erase_if(budgets_, [&](const auto& one) { return one.second.budget.is_full(now); });
    if (budgets_.size() >= most_addresses && !budgets_.contains(address))
      budgets_.erase(std::min_element(
          budgets_.begin(), budgets_.end(),
          [](const auto& a, const auto& b) { return a.second.last < b.second.last; }));
    Entry& entry = budgets_.try_emplace(address).first->second;
    entry.last = now;
    entry.budget.spend(now);
  }
  [[nodiscard]] bool suspect(const std::string& address, Budget::Time now) const {
    const auto found = budgets_.find(address);
    return found != budgets_.end() && !found->second.budget.has_room(now);
  }

 private:
  struct Entry {
    Budget budget{allowed};
    Budget::Time last{};
  };
  std::map<std::string, Entry> budgets_;
};

}  // namespace tagline::net
