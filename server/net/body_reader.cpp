// Strict JSON bodies.
#include "server/net/body_reader.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>

namespace tagline::net {
namespace {

using nlohmann::json;

std::string listed(const std::vector<std::string>& keys) {
  std::string out;
  for (const std::string& key : keys) out += (out.empty() ? "" : ", ") + key;
  return out;
}

/// RFC 6901: "~" and "/" inside a key are escaped.
std::string pointer_to(std::string_view key) {
  std::string out = "/";
  for (const char c : key) {
    if (c == '~') {
      out += "~0";
    } else if (c == '/') {
      out += "~1";
    } else {
      out += c;
    }
  }
  return out;
}

bool is_json_type(const std::optional<std::string>& field) {
  if (!field) return false;
  std::string type = field->substr(0, field->find(';'));
  while (!type.empty() && type.back() == ' ') type.pop_back();
  std::transform(type.begin(), type.end(), type.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return type == "application/json";
}

}  // namespace

struct BodyReader::Parsed {
  json object;
};

BodyReader::BodyReader(const Request& request, std::initializer_list<std::string_view> keys)
    : parsed_(std::make_unique<Parsed>()) {
  parsed_->object = json::object();
  if (!is_json_type(request.content_type)) {
    unreadable_ = problem(415, "wrong_type", "The body must be JSON",
                          "Send it with Content-Type: application/json.");
    return;
  }
  std::set<std::string> seen;
  std::vector<std::string> twice;
  const json::parser_callback_t watch = [&](int depth, json::parse_event_t event, json& value) {
    if (depth == 1 && event == json::parse_event_t::key) {
      const auto& key = value.get_ref<const std::string&>();
      if (!seen.insert(key).second) twice.push_back(key);
    }
    return true;
  };
  json whole;
  try {
    whole = json::parse(request.body, watch);
  } catch (const json::parse_error& error) {
    unreadable_ = problem(400, "malformed_json", "The body is no JSON",
                          "It can't be read from byte " + std::to_string(error.byte) +
                              " on; send one JSON object in UTF-8 (RFC 8259).");
    return;
  }
  const std::vector<std::string> known(keys.begin(), keys.end());
  if (!whole.is_object()) {
    findings_.push_back({"", "The body must be one object with the keys " + listed(known) + "."});
    return;
  }
  for (const std::string& key : twice)
    findings_.push_back({pointer_to(key), "This key is there twice; give it once."});
  for (const auto& [key, value] : whole.items())
    if (std::find(known.begin(), known.end(), key) == known.end())
      findings_.push_back({pointer_to(key), "No such key; the keys are " + listed(known) + "."});
  parsed_->object = std::move(whole);
}

BodyReader::~BodyReader() = default;

std::string BodyReader::text(std::string_view key, bool required, std::size_t shortest,
                             std::size_t longest) {
  const auto found = parsed_->object.find(key);
  const std::string range = std::to_string(shortest) + " to " + std::to_string(longest) + " bytes";
  if (found == parsed_->object.end()) {
    if (required) add_finding(key, "Missing; a text of " + range + ".");
    return {};
  }
  if (!found->is_string()) {
    add_finding(key, "Must be a text of " + range + ".");
    return {};
  }
  auto value = found->get<std::string>();
  const bool control = std::any_of(value.begin(), value.end(), [](char c) {
    return static_cast<unsigned char>(c) < 0x20 || c == 0x7F;
  });
  if (value.size() < shortest || value.size() > longest) {
    add_finding(key, "Has " + std::to_string(value.size()) + " bytes; may have " + range + ".");
  } else if (control) {
    add_finding(key, "Has control characters; leave them out.");
  }
  return value;
}

int BodyReader::integer(std::string_view key, int lowest, int highest, int otherwise) {
  const auto found = parsed_->object.find(key);
  if (found == parsed_->object.end()) return otherwise;
  const std::string range = std::to_string(lowest) + " to " + std::to_string(highest);
  // Compared as the type it was read as: a huge number must not wrap into the range.
  const bool fits =
      found->is_number_integer() &&
      (found->is_number_unsigned()
           ? found->get<std::uint64_t>() <= static_cast<std::uint64_t>(highest)
           : found->get<std::int64_t>() <= highest) &&
      (found->is_number_unsigned()
           ? lowest <= 0 || found->get<std::uint64_t>() >= static_cast<std::uint64_t>(lowest)
           : found->get<std::int64_t>() >= lowest);
  if (!fits) {
    add_finding(key, "Must be a whole number from " + range + ".");
    return otherwise;
  }
  return found->get<int>();
}

void BodyReader::add_finding(std::string_view key, std::string detail) {
  findings_.push_back({pointer_to(key), std::move(detail)});
}

std::optional<Response> BodyReader::refusal() const {
  if (unreadable_) return unreadable_;
  if (findings_.empty()) return std::nullopt;
  return problem(422, "invalid_body", "The body has values that can't be taken",
                 "Nothing was done; see errors.", findings_);
}

std::optional<Response> refuse_any_body(const Request& request) {
  if (request.body.empty()) return std::nullopt;
  return BodyReader(request, {}).refusal();
}

}  // namespace tagline::net
