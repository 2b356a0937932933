// The three limits.
#include "server/access/attempts.hpp"

#include <algorithm>

namespace tagline::access {

Attempts::Entry& Attempts::entry(Entries& entries, const std::string& key, Allowance allowance,
                                 Time now) {
  const auto found = entries.find(key);
  if (found != entries.end()) {
    found->second.last = now;
    return found->second;
  }
  if (entries.size() >= most_kept) {
    std::erase_if(entries, [&](const auto& one) { return one.second.budget.is_full(now); });
    if (entries.size() >= most_kept)
      entries.erase(std::min_element(entries.begin(), entries.end(), [](auto& a, auto& b) {
        return a.second.last < b.second.last;
      }));
  }
  return entries.emplace(key, Entry{Budget(allowance), now}).first->second;
}

std::optional<std::chrono::seconds> Attempts::begin(const Try& one, Time now) {
  const auto wait_for = [now](const Budget& limit) {
    return std::max(std::chrono::seconds(1),
                    std::chrono::ceil<std::chrono::seconds>(limit.time_to_room(now)));
  };
  if (one.device) {
    Budget& own = entry(devices_, one.account + "\n" + *one.device, of_device, now).budget;
    if (!own.has_room(now)) return wait_for(own);
    own.spend(now);
    return std::nullopt;
  }
  Budget& address = entry(addresses_, one.address, of_address, now).budget;
  if (!address.has_room(now)) return wait_for(address);
  Budget& strangers = entry(strangers_, one.account, of_strangers, now).budget;
  if (!strangers.has_room(now)) return wait_for(strangers);
  address.spend(now);
  strangers.spend(now);
  return std::nullopt;
}

void Attempts::succeeded(const Try& one, Time now) {
  if (one.device) {
    entry(devices_, one.account + "\n" + *one.device, of_device, now).budget.give_back();
  } else {
    entry(addresses_, one.address, of_address, now).budget.give_back();
    entry(strangers_, one.account, of_strangers, now).budget.give_back();
  }
}

}  // namespace tagline::access
