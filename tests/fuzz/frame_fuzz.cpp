// Fuzzes frames of the cart link in both directions: whatever comes is a message or is refused with
// a reason that fits a close frame, and what is taken is written and read again as the same.
#include <cstddef>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <string>

#include "protocol/codec.hpp"
#include "tests/fuzz/must.hpp"

namespace {

using tagline::fuzz::must;
namespace protocol = tagline::protocol;

/// RFC 6455, 5.5 and 5.5.1: a close reason is UTF-8 and at most 123 bytes.
void check_refusal(const protocol::DecodeError& error) {
  must(!error.wrong.empty() && !error.right.empty(), "a refusal says what is wrong and right");
  const std::string reason = protocol::close_reason(error);
  must(!reason.empty() && reason.size() <= 123, "a close reason has 1 to 123 bytes", reason);
  must(nlohmann::json::accept(
           nlohmann::json(reason).dump(-1, ' ', false, nlohmann::json::error_handler_t::strict)),
       "a close reason is UTF-8", reason);
}

template <class Message, class Decode>
void round_trip(std::string_view text, const Decode& decode) {
  const auto decoded = decode(text);
  if (const auto* error = std::get_if<protocol::DecodeError>(&decoded))
    return check_refusal(*error);
  const auto& message = std::get<Message>(decoded);
  const std::string again = protocol::encode(message);
  if (again.size() > protocol::max_frame_bytes) return;  // the caller's to keep, says the contract
  const auto second = decode(again);
  const auto* same = std::get_if<Message>(&second);
  must(same != nullptr && *same == message, "what is taken is written and read as the same", again);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  round_trip<protocol::CartMessage>(text, protocol::decode_cart_message);
  round_trip<protocol::ServiceMessage>(text, protocol::decode_service_message);
  return 0;
}
