// Events of the core and what comes of them, in words for a terminal.
#pragma once

#include <string>
#include <vector>

#include "server/control/core.hpp"
#include "server/floor/floor.hpp"
#include "server/floor/ways.hpp"

namespace tagline::app {

/// Keeps references; all must outlive it.
class EventText {
 public:
  EventText(const floor::Ways& ways, const std::vector<std::string>& cart_names)
      : ways_(&ways), carts_(&cart_names) {}

  /// "reads cart=cart-1 step=12 tag=04A1B2C3": the members of a trace's event.
  [[nodiscard]] std::string event(const control::Event& event) const;
  /// As a JSON object, with the carts' names.
  [[nodiscard]] std::string event_json(const control::Event& event) const;

  /// What is recorded, told to carts, answered and noted, each in a few words. What is only told to
  /// watchers is left out: it says that something changed, and the rest says what.
  [[nodiscard]] std::vector<std::string> effects(const control::Outcome& outcome) const;

 private:
  [[nodiscard]] const floor::Floor& floor() const { return ways_->floor(); }
  [[nodiscard]] std::string name(const control::Facility& what) const;
  [[nodiscard]] const std::string& name(CartIx cart) const { return carts_->at(cart.value); }
  [[nodiscard]] std::string words(const control::JobRecord& record) const;
  [[nodiscard]] std::string words(const control::PathRecord& record) const;
  [[nodiscard]] std::string words(const control::CartRecord& record) const;
  [[nodiscard]] std::string words(const control::FleetRecord& record) const;
  [[nodiscard]] std::string words(const control::StationRecord& record) const;
  [[nodiscard]] std::string words(const control::DowntimeRecord& record) const;
  [[nodiscard]] std::string words(const control::ZoneRecord& record) const;
  [[nodiscard]] std::string words(const control::TellAuthority& message) const;
  [[nodiscard]] std::string words(const control::TellHold& message) const;
  [[nodiscard]] std::string words(const control::TellStop& message) const;
  [[nodiscard]] std::string words(const control::TellRelease& message) const;
  [[nodiscard]] std::string words(const control::TellReset& message) const;
  [[nodiscard]] std::string words(const control::TellHandled& message) const;
  [[nodiscard]] std::string words(const control::JobTaken& answer) const;
  [[nodiscard]] std::string words(const control::Accepted& answer) const;
  [[nodiscard]] std::string words(const control::Refusal& answer) const;
  [[nodiscard]] std::string words(const control::ReadTrace& trace) const;
  [[nodiscard]] std::string words(const control::UnknownTagTrace& trace) const;

  const floor::Ways* ways_;
  const std::vector<std::string>* carts_;
};

}  // namespace tagline::app
