// Counting connections by address.
#include "server/net/crowd.hpp"

#include <utility>

namespace tagline::net {

Crowd::Place::Place(Crowd& crowd, std::string address)
    : crowd_(crowd), address_(std::move(address)) {
  Count& count = crowd_.by_address_[address_];
  ++crowd_.all_;
  ++crowd_.strangers_;
  ++count.all;
  ++count.strangers;
}

Crowd::Place::~Place() {
  settle();
  const auto count = crowd_.by_address_.find(address_);
  --crowd_.all_;
  if (--count->second.all == 0) crowd_.by_address_.erase(count);
}

void Crowd::Place::settle() {
  if (!stranger_) return;
  stranger_ = false;
  --crowd_.strangers_;
  --crowd_.by_address_[address_].strangers;
}

std::unique_ptr<Crowd::Place> Crowd::enter(const std::string& address) {
  const auto found = by_address_.find(address);
  const Count from_there = found == by_address_.end() ? Count{} : found->second;
  if (all_ >= limits_.all || strangers_ >= limits_.strangers ||
      from_there.all >= limits_.of_one_address ||
      from_there.strangers >= limits_.strangers_of_one_address)
    return nullptr;
  return std::make_unique<Place>(*this, address);
}

}  // namespace tagline::net
