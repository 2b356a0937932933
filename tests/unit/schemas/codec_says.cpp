// Asks the codec about many frames: reads lines "cart FRAME" or "service FRAME", where FRAME is the
// frame's text as a JSON string, and answers each with a line of JSON:
// {"taken":FRAME_WRITTEN_AGAIN} or {"pointer":P,"wrong":W,"right":R}.
#include <iostream>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "protocol/codec.hpp"

namespace {

using nlohmann::json;
using tagline::protocol::DecodeError;

template <class Result>
std::string answer(const Result& result) {
  if (const auto* error = std::get_if<DecodeError>(&result))
    return json{{"pointer", error->pointer}, {"wrong", error->wrong}, {"right", error->right}}
        .dump();
  return json{{"taken", tagline::protocol::encode(std::get<0>(result))}}.dump();
}

}  // namespace

int main() try {
  for (std::string line; std::getline(std::cin, line);) {
    const std::size_t space = line.find(' ');
    const std::string_view from = std::string_view(line).substr(0, space);
    const auto frame = json::parse(line.substr(space + 1)).get<std::string>();
    if (from == "cart") {
      std::cout << answer(tagline::protocol::decode_cart_message(frame)) << '\n';
    } else if (from == "service") {
      std::cout << answer(tagline::protocol::decode_service_message(frame)) << '\n';
    } else {
      std::cerr << "a line must begin with cart or service: " << line << '\n';
      return 2;
    }
  }
  return 0;
} catch (const std::exception& error) {
  std::cerr << error.what() << '\n';
  return 2;
}
