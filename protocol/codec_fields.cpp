// Reading the members of one JSON object, see codec_fields.hpp.
#include "protocol/codec_fields.hpp"

#include <algorithm>
#include <utility>

#include "protocol/codec_json.hpp"
#include "protocol/codec_text.hpp"

namespace tagline::protocol {
namespace {

using nlohmann::json;

bool is_id_character(char c) {
  return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' ||
         c == '_';
}

/// UIDs of 4, 7 or 10 bytes (ISO/IEC 14443-3), 8 (ISO/IEC 15693-3) or 5 (common 125 kHz cards).
bool is_tag(const std::string& text) {
  constexpr std::array<std::size_t, 5> digits{8, 10, 14, 16, 20};
  return std::find(digits.begin(), digits.end(), text.size()) != digits.end() &&
         std::all_of(text.begin(), text.end(),
                     [](char c) { return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'F'); });
}

const std::string right_tag = "8, 10, 14, 16 or 20 digits of 0-9 A-F";

}  // namespace

Fields::Fields(const json& object, std::string pointer, FirstError& error,
               std::initializer_list<std::string_view> known)
    : object_(&object), pointer_(std::move(pointer)), error_(&error) {
  if (!object.is_object()) {
    refuse_at(pointer_, found_text(object), "an object");
    return;
  }
  for (const auto& member : object.items()) {
    if (std::find(known.begin(), known.end(), member.key()) != known.end()) continue;
    std::string right = "leave it out; the keys here are";
    for (const std::string_view key : known) {
      right += key == *known.begin() ? " " : ", ";
      right += key;
    }
    refuse(member.key(), "no such key", right);
    return;
  }
}

std::uint64_t Fields::whole(std::string_view key, std::uint64_t least, std::uint64_t most,
                            std::optional<std::uint64_t> otherwise) {
  const json* value = find(key, !otherwise);
  if (value == nullptr) return otherwise.value_or(least);
  if (value->is_number_unsigned()) {
    const auto number = value->get<std::uint64_t>();
    if (number >= least && number <= most) return number;
  } else if (value->is_number_integer() && least == 0 && value->get<std::int64_t>() == 0) {
    return 0;  // "-0"
  }
  refuse(key, found_text(*value),
         "a whole number from " + std::to_string(least) + " to " + std::to_string(most));
  return least;
}

bool Fields::truth(std::string_view key) {
  const json* value = find(key, true);
  if (value == nullptr) return false;
  if (!value->is_boolean()) {
    refuse(key, found_text(*value), "true or false");
    return false;
  }
  return value->get<bool>();
}

std::string Fields::id(std::string_view key) {
  const std::string right = "1 to " + std::to_string(max_id_bytes) + " of A-Z a-z 0-9 - _";
  const std::string* value = text(key, true, right);
  if (value == nullptr) return {};
  if (value->empty() || value->size() > max_id_bytes ||
      !std::all_of(value->begin(), value->end(), is_id_character)) {
    refuse(key, in_quotes(*value), right);
  }
  return *value;
}

std::string Fields::secret(std::string_view key) {
  const std::string right =
      "1 to " + std::to_string(max_key_bytes) + " printable ASCII characters without spaces";
  const std::string* value = text(key, true, right);
  if (value == nullptr) return {};
  if (value->empty() || value->size() > max_key_bytes ||
      !std::all_of(value->begin(), value->end(), [](char c) { return c > 0x20 && c < 0x7F; })) {
    refuse(key, "not such a text", right);  // never repeat a secret
  }
  return *value;
}

std::string Fields::reason(std::string_view key) {
  const std::string right = "text of at most " + std::to_string(max_reason_bytes) + " bytes";
  const std::string* value = text(key, false, right);
  if (value == nullptr) return {};
  if (value->size() > max_reason_bytes) {
    refuse(key, std::to_string(value->size()) + " bytes", right);
    return {};
  }
  return *value;
}

std::string Fields::tag(std::string_view key) {
  const std::string* value = text(key, true, right_tag);
  if (value == nullptr) return {};
  if (!is_tag(*value)) refuse(key, in_quotes(*value), right_tag);
  return *value;
}

std::string Fields::tag_or_none(std::string_view key) {
  const std::string right = right_tag + ", or \"\" for none";
  const std::string* value = text(key, false, right);
  if (value == nullptr) return {};
  if (!value->empty() && !is_tag(*value)) refuse(key, in_quotes(*value), right);
  return *value;
}

std::vector<std::string> Fields::tags(std::string_view key) {
  std::vector<std::string> all;
  const json* list = array(key, 0, max_tags_per_point);
  if (list == nullptr) return all;
  for (std::size_t i = 0; i < list->size(); ++i) {
    const std::string element = pointer(key) + '/' + std::to_string(i);
    const json& value = (*list)[i];
    if (!value.is_string() || !is_tag(value.get_ref<const std::string&>())) {
      refuse_at(element, found_text(value), right_tag);
      return all;
    }
    const auto& tag_text = value.get_ref<const std::string&>();
    if (std::find(all.begin(), all.end(), tag_text) != all.end()) {
      refuse_at(element, in_quotes(tag_text) + " is there twice", "give every tag once");
      return all;
    }
    all.push_back(tag_text);
  }
  return all;
}

const json* Fields::array(std::string_view key, std::size_t least, std::size_t most) {
  const json* value = find(key, true);
  if (value == nullptr) return nullptr;
  if (value->is_array() && value->size() >= least && value->size() <= most) return value;
  refuse(key, found_text(*value),
         "an array of " + std::to_string(least) + " to " + std::to_string(most));
  return nullptr;
}

void Fields::refuse(std::string_view key, const std::string& wrong, const std::string& right) {
  refuse_at(pointer(key), wrong, right);
}

void Fields::refuse_at(const std::string& pointer, const std::string& wrong,
                       const std::string& right) {
  if (!*error_) *error_ = DecodeError{pointer, wrong, right};
}

std::string Fields::pointer(std::string_view key) const { return pointer_to(pointer_, key); }

std::string Fields::found_text(const json& value) {
  switch (value.type()) {
    case json::value_t::null:
      return "null";
    case json::value_t::boolean:
      return value.get<bool>() ? "true" : "false";
    case json::value_t::string:
      return in_quotes(value.get_ref<const std::string&>());
    case json::value_t::object:
      return "an object";
    case json::value_t::array:
      return "an array of " + std::to_string(value.size());
    default:
      return value.dump();
  }
}

const json* Fields::find(std::string_view key, bool required) {
  if (!object_->is_object()) return nullptr;
  const auto found = object_->find(key);
  if (found != object_->end()) return &*found;
  if (required) refuse(key, "missing", "this key must be there");
  return nullptr;
}

const std::string* Fields::text(std::string_view key, bool required, const std::string& right) {
  const json* value = find(key, required);
  if (value == nullptr) return nullptr;
  if (!value->is_string()) {
    refuse(key, found_text(*value), right);
    return nullptr;
  }
  return &value->get_ref<const std::string&>();
}

}  // namespace tagline::protocol
