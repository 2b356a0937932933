// Counting connections by address.
#include "server/net/crowd.hpp"

#include <algorithm>

namespace tagline::net {

Crowd::Place::Place(Crowd& crowd, std::string address)
    : crowd_(crowd), address_(std::move(address)) {
  Count& count = crowd_.by_address_[address_];
  ++crowd_.all_;
  ++crowd_.strangers_;
  ++count.all;
  stranger_ = count.strangers.insert(count.strangers.end(), this);
}

Crowd::Place::~Place() {
  settle();
  const auto count = crowd_.by_address_.find(address_);
  --crowd_.all_;
  if (--count->second.all == 0) crowd_.by_address_.erase(count);
}

void Crowd::Place::settle() {
  if (!stranger_) return;
  --crowd_.strangers_;
  crowd_.by_address_[address_].strangers.erase(*stranger_);
  stranger_.reset();
  end_ = nullptr;
}

bool Crowd::make_room_for(std::size_t strangers_from_there) {
  const auto most = std::ranges::max_element(
      by_address_, {}, [](const auto& one) { return one.second.strangers.size(); });
  // Of two who are as many neither has to go: they would only take turns.
  if (most == by_address_.end() || most->second.strangers.size() <= strangers_from_there + 1)
    return false;
  Place& oldest = *most->second.strangers.front();
  const auto end = std::exchange(oldest.end_, nullptr);
  oldest.settle();  // counted no more, though it may take a moment to go
  if (end) end();
  return true;
}

std::unique_ptr<Crowd::Place> Crowd::enter(const std::string& address) {
  const auto found = by_address_.find(address);
  const std::size_t from_there = found == by_address_.end() ? 0 : found->second.all;
  const std::size_t strangers = found == by_address_.end() ? 0 : found->second.strangers.size();
  if (all_ >= limits_.all || from_there >= limits_.of_one_address ||
      strangers >= limits_.strangers_of_one_address)
    return nullptr;
  if (strangers_ >= limits_.strangers && !make_room_for(strangers)) return nullptr;
  return std::make_unique<Place>(*this, address);
}

}  // namespace tagline::net
