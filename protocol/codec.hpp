// JSON text <-> messages of the cart link. Strict: unknown keys, wrong types, numbers out of range
// and over-long strings are refused, each with the place and what would be right.
#pragma once

#include <string>
#include <string_view>
#include <variant>

#include "protocol/messages.hpp"

namespace tagline::protocol {

/// Why a frame is no message. `pointer` is a JSON pointer (RFC 6901), "" for the whole frame.
struct DecodeError {
  std::string pointer;
  std::string wrong;
  std::string right;
};

/// One line of text for a close reason: at most 123 bytes (RFC 6455, 5.5), cut at a character.
std::string close_reason(const DecodeError& error);

/// Never throw for bad input. Refused beyond what the message structs say: frames over
/// max_frame_bytes, a key twice in one object, numbers over max_number, texts over their limits,
/// authorities whose steps do not grow by one or whose acts end anywhere but at the last point.
std::variant<CartMessage, DecodeError> decode_cart_message(std::string_view text);
std::variant<ServiceMessage, DecodeError> decode_service_message(std::string_view text);

/// One line of JSON. Every message within the limits of messages.hpp decodes to itself again; a
/// longer reason is cut. The caller must keep frames below max_frame_bytes (256 points with two
/// tags each are some 50 KiB).
std::string encode(const CartMessage& message);
std::string encode(const ServiceMessage& message);

}  // namespace tagline::protocol
