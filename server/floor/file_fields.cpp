// Members of one JSON object, checked as they are taken.
#include "server/floor/file_fields.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "server/floor/file_limits.hpp"

namespace tagline::floor {
namespace {

std::string in_range(Range range, std::string_view what) {
  std::string text = "give " + std::string(what) + " from " + number_text(range.least) + " to " +
                     number_text(range.most);
  if (!range.unit.empty()) text += " " + std::string(range.unit);
  return text;
}

std::string listed(std::initializer_list<std::string_view> words) {
  std::string text;
  for (const std::string_view word : words) {
    if (!text.empty()) text += ", ";
    text += word;
  }
  return text;
}

bool is_id_char(char c) {
  return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' ||
         c == '_';
}

bool is_control(char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; }

}  // namespace

Fields::Fields(const JsonValue& value, std::string pointer, std::string_view kind,
               std::initializer_list<std::string_view> known, Findings& findings)
    : members_(std::get_if<JsonValue::Object>(&value.data)),
      pointer_(std::move(pointer)),
      findings_(findings) {
  if (!members_) {
    findings_.add(pointer_, found(value) + " instead of " + std::string(kind),
                  "give an object with the keys " + listed(known));
    return;
  }
  for (const JsonMember& member : *members_) {
    if (std::find(known.begin(), known.end(), member.key) != known.end()) continue;
    findings_.add(pointer_to(member.key), "unknown key " + in_quotes(member.key),
                  "take it away, or use one of " + listed(known));
  }
}

const JsonValue* Fields::find(std::string_view key) const {
  if (!members_) return nullptr;
  const auto member = std::find_if(members_->begin(), members_->end(),
                                   [key](const JsonMember& one) { return one.key == key; });
  return member == members_->end() ? nullptr : &member->value;
}

const JsonValue* Fields::require(std::string_view key, std::string_view right) {
  const JsonValue* value = find(key);
  // An object that is none has its finding already.
  if (!value && members_) {
    findings_.add(pointer_, "key " + in_quotes(key) + " is missing", std::string(right));
  }
  return value;
}

std::optional<double> read_number(const JsonValue& value, const std::string& pointer, Range range,
                                  Findings& findings) {
  const auto* number = std::get_if<double>(&value.data);
  if (!number) {
    findings.add(pointer, found(value) + " instead of a number", in_range(range, "a number"));
    return std::nullopt;
  }
  // Written so that a NaN, should one ever get here, is refused too.
  if (!(*number >= range.least && *number <= range.most)) {
    findings.add(pointer, number_text(*number) + " is out of range", in_range(range, "a number"));
    return std::nullopt;
  }
  return *number;
}

std::optional<double> Fields::number(std::string_view key, Range range, bool required) {
  const JsonValue* value = required ? require(key, in_range(range, "a number")) : find(key);
  if (!value) return std::nullopt;
  return read_number(*value, pointer_to(key), range, findings_);
}

std::optional<double> Fields::whole_number(std::string_view key, Range range, bool required) {
  const auto value = number(key, range, required);
  if (value && *value != std::floor(*value)) {
    findings_.add(pointer_to(key), number_text(*value) + " is not a whole number",
                  in_range(range, "a whole number"));
    return std::nullopt;
  }
  return value;
}

bool Fields::flag(std::string_view key, bool absent) {
  const JsonValue* value = find(key);
  if (!value) return absent;
  if (const auto* given = std::get_if<bool>(&value->data)) return *given;
  findings_.add(pointer_to(key), found(*value) + " instead of true or false",
                "give true or false, without quotes");
  return absent;
}

std::optional<std::string> Fields::id(std::string_view key) {
  const std::string right =
      "give an id: 1 to " + std::to_string(limits::id_chars) + " of A-Z, a-z, 0-9, - and _";
  const JsonValue* value = require(key, right);
  if (!value) return std::nullopt;
  const auto* text = std::get_if<std::string>(&value->data);
  if (!text) {
    findings_.add(pointer_to(key), found(*value) + " instead of an id", right);
    return std::nullopt;
  }
  if (text->empty() || text->size() > limits::id_chars ||
      !std::all_of(text->begin(), text->end(), is_id_char)) {
    findings_.add(pointer_to(key), in_quotes(*text) + " is not an id", right);
    return std::nullopt;
  }
  return *text;
}

std::optional<std::string> Fields::reference(std::string_view key, std::string_view to_what) {
  const std::string right = "give the id of " + std::string(to_what);
  const JsonValue* value = require(key, right);
  if (!value) return std::nullopt;
  if (const auto* text = std::get_if<std::string>(&value->data)) return *text;
  findings_.add(pointer_to(key), found(*value) + " instead of an id", right);
  return std::nullopt;
}

std::optional<std::string> Fields::name(std::string_view key) {
  const std::string right = "give a name of 1 to " + std::to_string(limits::name_bytes) +
                            " bytes without line breaks or other control characters";
  const JsonValue* value = require(key, right);
  if (!value) return std::nullopt;
  const auto* text = std::get_if<std::string>(&value->data);
  if (!text) {
    findings_.add(pointer_to(key), found(*value) + " instead of a text", right);
    return std::nullopt;
  }
  const bool blank = text->find_first_not_of(' ') == std::string::npos;
  if (blank || text->size() > limits::name_bytes ||
      std::any_of(text->begin(), text->end(), is_control)) {
    findings_.add(pointer_to(key), in_quotes(*text) + " is not a name", right);
    return std::nullopt;
  }
  return *text;
}

const JsonValue::List* Fields::list(std::string_view key, std::string_view of_what,
                                    std::size_t least, std::size_t most, bool required) {
  const std::string right = "give a list of " + std::to_string(least) + " to " +
                            std::to_string(most) + " " + std::string(of_what);
  const JsonValue* value = required ? require(key, right) : find(key);
  if (!value) return nullptr;
  const auto* items = std::get_if<JsonValue::List>(&value->data);
  if (!items) {
    findings_.add(pointer_to(key), found(*value) + " instead of a list", right);
    return nullptr;
  }
  if (items->size() < least || items->size() > most) {
    findings_.add(pointer_to(key), found(*value), right);
    // Too long a list is not read on: the rest of its findings would bury this one.
    if (items->size() > most) return nullptr;
  }
  return items;
}

}  // namespace tagline::floor
