// What a cart and the service say to each other, as plain structs. The written contract, with
// every field, unit and error, is protocol/README.md; the JSON form is codec.hpp. Depends on
// nothing else in the project.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace tagline::protocol {

/// WebSocket subprotocol (RFC 6455, Sec-WebSocket-Protocol) of the cart link, version 1.
inline constexpr std::string_view cart_subprotocol = "tagline.cart.1";
/// Messages a cart may send: so many a second on average (a tag every 150 mm at 3 m/s), and so many
/// at once after a lost link.
inline constexpr int max_messages_per_s = 20;
inline constexpr int max_messages_at_once = 100;
/// Largest frame either side may send, bytes.
inline constexpr std::size_t max_frame_bytes = 64 * 1024;
/// Largest step, seq, trip or time on the wire: 2^53 - 1, the largest whole number that every JSON
/// reader keeps exactly (RFC 8259, 6).
inline constexpr std::uint64_t max_number = (std::uint64_t{1} << 53) - 1;
inline constexpr std::size_t max_id_bytes = 32;
inline constexpr std::size_t max_key_bytes = 64;
/// A longer reason is cut at a character when it is encoded.
inline constexpr std::size_t max_reason_bytes = 500;
inline constexpr std::size_t max_authority_points = 256;
inline constexpr std::size_t max_tags_per_point = 16;
inline constexpr std::int64_t max_length_mm = 1'000'000;
inline constexpr std::int64_t max_speed_mm_s = 10'000;

/// Running number of a point on a cart's path. Grows by one from point to point and never
/// restarts, so an old message can't be mistaken for a new one. 0 = none.
using Step = std::uint64_t;
/// Number of a cart's message within one power-up; grows by one. 0 = none.
using Seq = std::uint64_t;

enum class Handling { load, unload };
enum class StopCause { button, bumper, scanner, service };
/// What the cart reports as wrong with itself.
enum class Fault { none, blocked, tape_lost, overrun, wrong_tag, battery, drive, reader };

// ---- cart to service -------------------------------------------------------------------------

/// First message on every connection.
struct Hello {
  std::string cart;
  /// 1 to 64 printable ASCII characters without spaces.
  std::string key;
  /// Differs after every power-up of the cart: 1 to 32 of A-Z a-z 0-9 - _.
  std::string boot;
  /// Last tag read, upper-case hex; "" if none since the cart was set up.
  std::string last_tag;
  /// Step of the last point passed and of the end of the authority held; both 0 after power-up.
  Step step{};
  Step until{};
  bool loaded{};
  /// Percent, 0 to 100.
  int battery{};
  /// A person's stop is in force at the cart.
  bool stopped{};
  bool operator==(const Hello&) const = default;
};

/// A tag came under the reader.
struct Read {
  Seq seq{};
  std::string tag;
  /// Step at which the cart expected this tag; 0 if it did not expect it.
  Step step{};
  bool operator==(const Read&) const = default;
};

/// Sent every few seconds and when something changes.
struct State {
  Seq seq{};
  int battery{};
  bool loaded{};
  bool moving{};
  Fault fault{Fault::none};
  bool operator==(const State&) const = default;
};

/// Loading or unloading at `step` is finished.
struct Done {
  Seq seq{};
  Step step{};
  Handling what{};
  bool operator==(const Done&) const = default;
};

/// The cart stopped and will not move before a person releases it.
struct Stop {
  Seq seq{};
  StopCause cause{};
  bool operator==(const Stop&) const = default;
};

/// A person released the cart at the cart itself.
struct Release {
  Seq seq{};
  bool operator==(const Release&) const = default;
};

using CartMessage = std::variant<Hello, Read, State, Done, Stop, Release>;

// ---- service to cart -------------------------------------------------------------------------

/// Answer to a good Hello.
struct Welcome {
  /// Highest seq of this power-up that the service already has.
  Seq seq{};
  /// UTC, ms since 1970-01-01, by the service's clock.
  std::int64_t time_ms{};
  bool operator==(const Welcome&) const = default;
};

/// Everything from the cart up to and including `seq` has been taken.
struct Ack {
  Seq seq{};
  bool operator==(const Ack&) const = default;
};

enum class Branch { left, straight, right };
enum class Gear { forward, back };

/// What to do at a point: pass; turn on the spot, then go on; end of the trip; end of the
/// authority for now; take the load on; give it off.
enum class Act { go, turn, stop, wait, load, unload };

struct AuthorityPoint {
  Step step{};
  std::string point;
  /// Tags that mark the point; any one of them counts.
  std::vector<std::string> tags;
  Act act{Act::go};
  /// How the cart gets here from the point before: unused for the first point.
  /// Tape to take when leaving the point before.
  Branch branch{Branch::straight};
  Gear gear{Gear::forward};
  /// Driven length from the point before, mm, and speed limit on it, mm/s.
  std::int64_t length{};
  std::int64_t speed{};
  bool operator==(const AuthorityPoint&) const = default;
};

/// How far the cart may go. The first point is one the cart has passed or stands on; the last one
/// is where it stops by itself. Replaces the authority before it; a cart ignores one that ends
/// before the authority it holds.
struct Authority {
  std::uint64_t trip{};
  std::vector<AuthorityPoint> points;
  bool operator==(const Authority&) const = default;
};

/// Why a standing cart waits, for the cart's display. Changes nothing else.
struct Hold {
  std::string reason;
  bool operator==(const Hold&) const = default;
};

/// A person wants the cart to stop at once. It moves again only after ServiceRelease.
struct ServiceStop {
  std::string reason;
  bool operator==(const ServiceStop&) const = default;
};

/// A person released the cart: it may move again within its authority.
struct ServiceRelease {
  bool operator==(const ServiceRelease&) const = default;
};

/// Forget step, until and authority: a person told the service where the cart stands.
struct Reset {
  bool operator==(const Reset&) const = default;
};

/// A person told the service that the cart is loaded, or unloaded, at this step.
struct Handled {
  Step step{};
  Handling what{};
  bool operator==(const Handled&) const = default;
};

using ServiceMessage =
    std::variant<Welcome, Ack, Authority, Hold, ServiceStop, ServiceRelease, Reset, Handled>;

/// WebSocket close codes of the cart link (4000 to 4999 are for applications: RFC 6455, 7.4.2).
enum class CloseCode : std::uint16_t {
  malformed = 4400,     // not a message of this protocol
  wrong_key = 4401,     // unknown cart id or wrong key (the same answer for both)
  too_slow = 4408,      // no Hello in time, or no sign of life
  duplicate = 4409,     // this cart is connected already
  out_of_order = 4422,  // a well-formed message that has no place here, e.g. a second Hello
  flooding = 4429,      // too many messages, or too many pings, for too long
  shutting_down = 4503,
};

}  // namespace tagline::protocol
