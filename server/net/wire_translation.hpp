// Between the core's language (indices, events) and the cart link's (texts, messages). Pure: no
// socket, clock or state inside, so the in-process tests use it as the live service does.
#pragma once

#include <optional>
#include <string>

#include "protocol/messages.hpp"
#include "server/control/events.hpp"
#include "server/control/outcome.hpp"
#include "server/floor/floor.hpp"

namespace tagline::net {

/// The cart a message of the core is for.
CartIx addressee(const control::Message& message);

/// The message as it goes over the wire; fills in point ids and tags from the floor. Indices in
/// `message` must be of that floor.
protocol::ServiceMessage to_wire(const floor::Floor& floor, const control::Message& message);

/// Whether a greeting cart lost power since the service last saw it, so that it no longer knows
/// its authority. `known_boot` is the boot id of its last greeting in this run of the service. If
/// the service itself has restarted there is none; then a cart that still holds an authority has
/// evidently kept its memory.
bool has_rebooted(const std::optional<std::string>& known_boot, const protocol::Hello& hello);

/// The greeting as an event. The key must have been checked, and `cart` found, by the caller.
control::CartGreets to_event(CartIx cart, const protocol::Hello& hello, bool rebooted);

/// Any other message as an event. Throws std::invalid_argument for a Hello, which needs the
/// function above.
control::Event to_event(CartIx cart, const protocol::CartMessage& message);

/// The running number of a message; 0 for a Hello, which has none.
protocol::Seq seq_of(const protocol::CartMessage& message);

}  // namespace tagline::net
