// Strict JSON bodies.
#include "server/net/body_reader.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>

#include "server/net/time_text.hpp"

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
  json object = json::object();
  std::string pointer;  // to the object itself; "" for the body
};

BodyReader::BodyReader() : parsed_(std::make_unique<Parsed>()) {}
BodyReader::~BodyReader() = default;
BodyReader::BodyReader(BodyReader&&) noexcept = default;
BodyReader& BodyReader::operator=(BodyReader&&) noexcept = default;

BodyReader::BodyReader(const Request& request, std::initializer_list<std::string_view> keys)
    : BodyReader() {
  findings_ = std::make_shared<std::vector<BodyFinding>>();
  if (!is_json_type(request.content_type)) {
    unreadable_ = problem(415, "wrong_type", "The body must be JSON",
                          "Send it with Content-Type: application/json.");
    return;
  }
  // The parser keeps one of two equal keys; so they are noticed while it reads.
  std::vector<std::set<std::string>> open_objects;
  std::string key_of_body;
  std::set<std::string> twice;
  const json::parser_callback_t watch = [&](int, json::parse_event_t event, json& value) {
    if (event == json::parse_event_t::object_start) open_objects.emplace_back();
    if (event == json::parse_event_t::object_end) open_objects.pop_back();
    if (event == json::parse_event_t::key) {
      const auto& key = value.get_ref<const std::string&>();
      if (open_objects.size() == 1) key_of_body = key;
      if (!open_objects.back().insert(key).second) twice.insert(key_of_body);
    }
    return true;
  };
  Parsed whole;
  try {
    whole.object = json::parse(request.body, watch);
  } catch (const json::parse_error& error) {
    unreadable_ = problem(400, "malformed_json", "The body is no JSON",
                          "It can't be read from byte " + std::to_string(error.byte) +
                              " on; send one JSON object in UTF-8 (RFC 8259).");
    return;
  } catch (const json::out_of_range&) {
    unreadable_ = problem(400, "malformed_json", "The body can't be taken",
                          "A number in it is beyond what any number here may be; leave out its "
                          "exponent.");
    return;
  }
  for (const std::string& key : twice)
    add_finding(key, "This key, or one inside it, is there twice; give it once.");
  take(whole, keys);
}

void BodyReader::take(const Parsed& whole, std::initializer_list<std::string_view> keys) {
  const std::vector<std::string> known(keys.begin(), keys.end());
  parsed_->pointer = whole.pointer;
  if (!whole.object.is_object()) {
    findings_->push_back(
        {whole.pointer, std::string(whole.pointer.empty() ? "The body must be" : "Must be") +
                            " one object with the keys " + listed(known) + "."});
    return;
  }
  for (const auto& [key, value] : whole.object.items())
    if (std::find(known.begin(), known.end(), key) == known.end())
      add_finding(key, "No such key; the keys are " + listed(known) + ".");
  parsed_->object = whole.object;
}

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

int BodyReader::integer(std::string_view key, int lowest, int highest,
                        std::optional<int> otherwise) {
  const auto found = parsed_->object.find(key);
  if (found == parsed_->object.end() && otherwise) return *otherwise;
  const std::string range = std::to_string(lowest) + " to " + std::to_string(highest);
  if (found == parsed_->object.end()) {
    add_finding(key, "Missing; a whole number from " + range + ".");
    return lowest;
  }
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
    return otherwise.value_or(lowest);
  }
  return found->get<int>();
}

std::optional<Instant> BodyReader::time(std::string_view key) {
  const auto found = parsed_->object.find(key);
  if (found == parsed_->object.end()) return std::nullopt;
  if (found->is_string())
    if (const auto at = time_from(found->get_ref<const std::string&>())) return at;
  add_finding(key,
              "Must be a time with its offset from UTC, as in \"2026-11-25T14:30:00+01:00\" "
              "(RFC 3339).");
  return std::nullopt;
}

std::vector<BodyReader> BodyReader::objects(std::string_view key, std::size_t most,
                                            std::initializer_list<std::string_view> keys) {
  std::vector<BodyReader> readers;
  const auto found = parsed_->object.find(key);
  if (found == parsed_->object.end()) return readers;
  if (!found->is_array()) {
    add_finding(key, "Must be a list of objects.");
    return readers;
  }
  if (found->size() > most) {
    add_finding(key, "Has " + std::to_string(found->size()) + " entries; may have at most " +
                         std::to_string(most) + ".");
    return readers;
  }
  for (std::size_t k = 0; k < found->size(); ++k) {
    BodyReader one;
    one.findings_ = findings_;
    one.take({(*found)[k], parsed_->pointer + pointer_to(key) + "/" + std::to_string(k)}, keys);
    readers.push_back(std::move(one));
  }
  return readers;
}

void BodyReader::add_finding(std::string_view key, std::string detail) {
  findings_->push_back({parsed_->pointer + pointer_to(key), std::move(detail)});
}

std::optional<Response> BodyReader::refusal() const {
  if (unreadable_) return unreadable_;
  if (findings_->empty()) return std::nullopt;
  return problem(422, "invalid_body", "The body has values that can't be taken",
                 "Nothing was done; see errors.", *findings_);
}

std::optional<Response> refuse_any_body(const Request& request) {
  if (request.body.empty()) return std::nullopt;
  return BodyReader(request, {}).refusal();
}

}  // namespace tagline::net
