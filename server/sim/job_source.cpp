// See job_source.hpp.
#include "server/sim/job_source.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

#include "server/dispatch/throughput.hpp"

namespace tagline::sim {
namespace {

constexpr std::size_t deck_size = 24;

}  // namespace

std::vector<JobFlow> job_flows(const floor::Floor& floor) {
  std::vector<JobFlow> flows;
  for (const dispatch::Flow& flow : dispatch::flows_of(floor)) {
    flows.push_back({flow.from, flow.to, flow.share});
  }
  return flows;
}

JobSource::JobSource(std::vector<JobFlow> flows, Random random)
    : flows_{std::move(flows)}, random_{random}, owed_(flows_.size(), 0.0) {
  if (flows_.empty()) throw std::invalid_argument("there is no pair of stations to carry between");
  for (const JobFlow& flow : flows_) total_ += flow.weight;
}

const JobFlow& JobSource::draw() {
  double at = random_.between(0, total_);
  for (const JobFlow& flow : flows_) {
    at -= flow.weight;
    if (at < 0) return flow;
  }
  return flows_.back();
}

const JobFlow& JobSource::deal() {
  if (deck_.empty()) {
    const auto cards = static_cast<double>(std::max(deck_size, flows_.size()));
    for (std::size_t i = 0; i < flows_.size(); ++i) owed_[i] += flows_[i].weight / total_ * cards;
    // Whole cards first, then one each to those that are owed most.
    for (std::size_t i = 0; i < flows_.size(); ++i) {
      for (; owed_[i] >= 1; owed_[i] -= 1) deck_.push_back(i);
    }
    while (static_cast<double>(deck_.size()) < cards) {
      const auto most = std::max_element(owed_.begin(), owed_.end());
      *most -= 1;
      deck_.push_back(static_cast<std::size_t>(most - owed_.begin()));
    }
    for (std::size_t i = deck_.size() - 1; i > 0; --i) {  // Fisher and Yates 1938
      std::swap(deck_[i], deck_[random_.next() % (i + 1)]);
    }
  }
  const std::size_t next = deck_.back();
  deck_.pop_back();
  return flows_[next];
}

double JobSource::gap(double per_hour) {
  return -std::log(1 - random_.between(0, 1)) * 3600 / per_hour;
}

}  // namespace tagline::sim
