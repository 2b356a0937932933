// Targets, problem bodies and the common answers.
#include "server/net/http_message.hpp"

#include <charconv>

#include "server/net/json_view.hpp"

namespace tagline::net {
namespace {

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

std::optional<std::string> percent_decoded(std::string_view text, bool plus_is_space) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t k = 0; k < text.size(); ++k) {
    char c = text[k];
    if (c == '%') {
      if (k + 2 >= text.size()) return std::nullopt;
      const int high = hex_digit(text[k + 1]), low = hex_digit(text[k + 2]);
      if (high < 0 || low < 0) return std::nullopt;
      c = static_cast<char>(high * 16 + low);
      k += 2;
    } else if (c == '+' && plus_is_space) {
      c = ' ';
    }
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) return std::nullopt;
    out.push_back(c);
  }
  if (!is_utf8(out)) return std::nullopt;
  return out;
}

/// The text up to the next `mark`, which is removed from `rest` with it.
std::string_view cut(std::string_view& rest, char mark) {
  const std::size_t end = rest.find(mark);
  const std::string_view piece = rest.substr(0, end);
  rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
  return piece;
}

}  // namespace

std::optional<std::uint64_t> whole_number(std::string_view text) {
  std::uint64_t value{};
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  if (text.size() > 1 && text.front() == '0') return std::nullopt;
  return value;
}

bool is_utf8(std::string_view text) {
  const auto byte = [&](std::size_t k) { return static_cast<unsigned char>(text[k]); };
  for (std::size_t k = 0; k < text.size();) {
    const unsigned char lead = byte(k);
    const std::size_t length = lead < 0x80                   ? 1
                               : lead >= 0xC2 && lead < 0xE0 ? 2
                               : lead >= 0xE0 && lead < 0xF0 ? 3
                               : lead >= 0xF0 && lead < 0xF5 ? 4
                                                             : 0;
    if (length == 0 || k + length > text.size()) return false;
    for (std::size_t j = 1; j < length; ++j)
      if ((byte(k + j) & 0xC0) != 0x80) return false;
    if (length > 2) {
      const unsigned char second = byte(k + 1);
      if ((lead == 0xE0 && second < 0xA0) || (lead == 0xED && second > 0x9F) ||
          (lead == 0xF0 && second < 0x90) || (lead == 0xF4 && second > 0x8F))
        return false;
    }
    k += length;
  }
  return true;
}

std::optional<std::string> Target::parameter(std::string_view name) const {
  for (const auto& [key, value] : query)
    if (key == name) return value;
  return std::nullopt;
}

std::optional<Target> parse_target(std::string_view target) {
  if (target.empty() || target.front() != '/') return std::nullopt;
  Target out;
  std::string_view query = target;
  std::string_view path = cut(query, '?');
  path.remove_prefix(1);
  while (!path.empty()) {
    auto piece = percent_decoded(cut(path, '/'), false);
    if (!piece) return std::nullopt;
    out.pieces.push_back(std::move(*piece));
  }
  while (!query.empty()) {
    std::string_view value = cut(query, '&');
    const std::string_view name = cut(value, '=');
    if (name.empty()) continue;
    auto key = percent_decoded(name, true);
    auto text = percent_decoded(value, true);
    if (!key || !text) return std::nullopt;
    out.query.emplace_back(std::move(*key), std::move(*text));
  }
  return out;
}

Response json_response(int status, std::string body) {
  Response response;
  response.status = status;
  response.headers.emplace_back("Cache-Control", "no-store");
  response.body = std::make_shared<const std::string>(std::move(body));
  return response;
}

Response nothing_more() { return json_response(204, {}); }

Response problem(int status, std::string_view name, std::string_view title, std::string_view detail,
                 const std::vector<BodyFinding>& errors) {
  std::string body = "{\"type\":" + json_quote("/problems/" + std::string(name)) +
                     ",\"title\":" + json_quote(title) + ",\"status\":" + std::to_string(status) +
                     ",\"detail\":" + json_quote(detail);
  if (!errors.empty()) {
    body += ",\"errors\":[";
    for (std::size_t k = 0; k < errors.size(); ++k) {
      if (k > 0) body += ',';
      body += "{\"pointer\":" + json_quote(errors[k].pointer) +
              ",\"detail\":" + json_quote(errors[k].detail) + "}";
    }
    body += ']';
  }
  Response response = json_response(status, body + "}");
  response.content_type = "application/problem+json";
  response.problem = name;
  return response;
}

Response not_found(std::string_view detail) {
  return problem(404, "not_found", "There is no such thing", detail);
}

Response method_not_allowed(std::string_view method, std::string_view allow) {
  Response response =
      problem(405, "method_not_allowed", "This can't be done here",
              std::string(method) + " isn't possible here; use one of " + std::string(allow) + ".");
  response.headers.emplace_back("Allow", allow);
  return response;
}

Response stopping() {
  return problem(503, "stopping", "The service is stopping",
                 "It takes no more requests; ask again when it has been started again.");
}

Response store_failed() {
  return problem(503, "store_failed", "The service can't store anything",
                 "Writing to its data folder failed, so it takes no jobs or commands and gives "
                 "carts no more track. See its log, make room or repair the disk, and start it "
                 "again.");
}

}  // namespace tagline::net
