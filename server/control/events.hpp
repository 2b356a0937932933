// Everything that can happen to the core. One event and the time in, one Outcome out.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "server/control/downtime.hpp"
#include "server/control/job.hpp"
#include "server/floor/ids.hpp"
#include "server/floor/units.hpp"

namespace tagline::control {

using Step = std::uint64_t;
/// Names the asker of a request so that the answer finds the way back. 0 = nobody waits.
using RequestId = std::uint64_t;

enum class StopCause { button, bumper, scanner, service };
enum class Fault { none, blocked, tape_lost, overrun, wrong_tag, battery, drive, reader };

// ---- from carts ------------------------------------------------------------------------------

/// A cart connected and said who it is (id and key already checked).
struct CartGreets {
  CartIx cart;
  std::string last_tag{};
  Step step{};
  Step until{};
  /// The cart lost power since it was last connected: it no longer knows its authority.
  bool rebooted{};
  bool loaded{};
  int battery{};
  bool stopped{};
};
struct CartReads {
  CartIx cart;
  std::string tag{};
  Step step{};
};
struct CartReports {
  CartIx cart;
  int battery{};
  bool loaded{};
  bool moving{};
  Fault fault{Fault::none};
};
struct CartHandled {
  CartIx cart;
  Step step{};
  Handling what{};
};
struct CartStopped {
  CartIx cart;
  StopCause cause{};
};
/// A person released the cart at the cart.
struct CartReleased {
  CartIx cart;
};
struct CartLinkLost {
  CartIx cart;
};

// ---- from people -----------------------------------------------------------------------------

/// More stops than this in between are refused: the cart's table of points is small.
inline constexpr std::size_t most_via = 8;

struct AskedStop {
  std::string station{};  // station id
  Handling what{};
};
struct AskJob {
  RequestId request{};
  std::string from{};  // station id
  std::string to{};    // station id
  /// Stops in between, at most `most_via`.
  std::vector<AskedStop> via{};
  std::optional<Instant> due{};
  int priority{5};
  std::string note{};
  std::string key{};
};
struct AskCancelJob {
  RequestId request{};
  JobId job;
};
/// "The load is on its cart", or off it: what that cart stands at a station for. It is passed on to
/// the cart, whose own word is what counts.
struct AskSayHandled {
  RequestId request{};
  JobId job;
  Handling what{};
};
/// "It stands at this point, having come from that one, and may move."
struct AskPlaceCart {
  RequestId request{};
  CartIx cart;
  std::string point{};      // point id
  std::string came_from{};  // point id; "" where the point leaves no choice
};
/// "It is off the floor": its track is free again.
struct AskRemoveCart {
  RequestId request{};
  CartIx cart;
};
struct AskStopCart {
  RequestId request{};
  CartIx cart;
};
struct AskReleaseCart {
  RequestId request{};
  CartIx cart;
};
struct AskStopAll {
  RequestId request{};
};
struct AskReleaseAll {
  RequestId request{};
};

/// "So many loads stand at this station now": for stations with a capacity.
struct AskCountLoads {
  RequestId request{};
  std::string station{};  // station id
  int loads{};
};

/// "This is out of service from then on": see downtime.hpp. One that is already has its reason and
/// times replaced.
struct AskTakeDown {
  RequestId request{};
  Facility what;
  /// At most `longest_downtime_reason` bytes.
  std::string reason{};
  std::optional<Instant> from{};   // at once if left out, or if it is past
  std::optional<Instant> until{};  // after `from`
};
/// "It is in service again."
struct AskBringUp {
  RequestId request{};
  Facility what;
};
/// Every cart on, or on its way into, the track of a zone is stopped, and no other gets in.
struct AskStopZone {
  RequestId request{};
  ZoneIx zone;
};
struct AskReleaseZone {
  RequestId request{};
  ZoneIx zone;
};

/// Time passed; sent about once a second.
struct Tick {};

using Event =
    std::variant<CartGreets, CartReads, CartReports, CartHandled, CartStopped, CartReleased,
                 CartLinkLost, AskJob, AskCancelJob, AskSayHandled, AskPlaceCart, AskRemoveCart,
                 AskStopCart, AskReleaseCart, AskStopAll, AskReleaseAll, AskCountLoads, AskTakeDown,
                 AskBringUp, AskStopZone, AskReleaseZone, Tick>;

}  // namespace tagline::control
