// Strict reading of one JSON text, see codec_json.hpp.
#include "protocol/codec_json.hpp"

#include <optional>
#include <set>
#include <utility>
#include <vector>

#include "protocol/codec_text.hpp"

namespace tagline::protocol {
namespace {

using nlohmann::json;

/// frame > points > point > tags
constexpr std::size_t deepest = 4;

/// Builds the value while it looks at what a finished tree no longer shows: repeated keys, depth.
class StrictReader : public nlohmann::json_sax<json> {
 public:
  bool null() override { return put(nullptr); }
  bool boolean(bool value) override { return put(value); }
  bool number_integer(number_integer_t value) override { return put(value); }
  bool number_unsigned(number_unsigned_t value) override { return put(value); }
  bool number_float(number_float_t value, const string_t& /*text*/) override { return put(value); }
  bool string(string_t& value) override { return put(std::move(value)); }
  bool binary(binary_t& /*value*/) override { return false; }  // JSON text has none
  bool start_object(std::size_t /*size*/) override { return open(json::object()); }
  bool end_object() override { return close(); }
  bool start_array(std::size_t /*size*/) override { return open(json::array()); }
  bool end_array() override { return close(); }

  bool key(string_t& name) override {
    Level& level = levels_.back();
    if (level.value.contains(name)) {
      return refuse(pointer_to(here(), name), "the key is there twice", "give every key once");
    }
    level.key = std::move(name);
    level.value[level.key] = nullptr;
    return true;
  }

  bool parse_error(std::size_t position, const std::string& /*token*/,
                   const json::exception& /*why*/) override {
    return refuse("", "no JSON from byte " + std::to_string(position) + " on",
                  "one JSON object in UTF-8 (RFC 8259)");
  }

  std::variant<json, DecodeError> result() && {
    if (error_) return std::move(*error_);
    return std::move(root_);
  }

 private:
  struct Level {
    json value;
    std::string key;  // of the member being read, in an object
  };

  bool refuse(std::string pointer, std::string wrong, std::string right) {
    if (!error_) error_ = DecodeError{std::move(pointer), std::move(wrong), std::move(right)};
    return false;
  }

  /// Pointer to the innermost open object or array.
  [[nodiscard]] std::string here() const {
    std::string pointer;
    for (std::size_t i = 0; i + 1 < levels_.size(); ++i) {
      const Level& level = levels_[i];
      pointer = pointer_to(pointer,
                           level.value.is_array() ? std::to_string(level.value.size()) : level.key);
    }
    return pointer;
  }

  bool put(json value) {
    if (levels_.empty()) {
      root_ = std::move(value);
      return true;
    }
    Level& level = levels_.back();
    if (level.value.is_array()) {
      level.value.push_back(std::move(value));
    } else {
      level.value[level.key] = std::move(value);
    }
    return true;
  }

  bool open(json empty) {
    levels_.push_back({std::move(empty), {}});
    if (levels_.size() > deepest) {
      return refuse(here(), "nested deeper than " + std::to_string(deepest),
                    "objects and arrays as the message asks for");
    }
    return true;
  }

  bool close() {
    json finished = std::move(levels_.back().value);
    levels_.pop_back();
    return put(std::move(finished));
  }

  std::vector<Level> levels_;
  json root_;
  std::optional<DecodeError> error_;
};

}  // namespace

std::string pointer_to(const std::string& parent, std::string_view key) {
  std::string pointer = parent + '/';
  for (const char c : key) {
    if (c == '~') {
      pointer += "~0";
    } else if (c == '/') {
      pointer += "~1";
    } else {
      pointer += c;
    }
  }
  return pointer;
}

std::variant<json, DecodeError> parse_strict(std::string_view text) {
  if (text.size() > max_frame_bytes) {
    return DecodeError{"", "the frame has " + std::to_string(text.size()) + " bytes",
                       "at most " + std::to_string(max_frame_bytes)};
  }
  StrictReader reader;
  // The reader keeps the error; a second copy as a return value would say less.
  static_cast<void>(json::sax_parse(text, &reader));
  return std::move(reader).result();
}

}  // namespace tagline::protocol
