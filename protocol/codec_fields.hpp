// Reads the members of one JSON object and remembers the first thing wrong with them.
#pragma once

#include <array>
#include <cstdint>
#include <initializer_list>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "protocol/codec.hpp"
#include "protocol/codec_words.hpp"

namespace tagline::protocol {

/// The first thing found wrong in a frame. What is read after it is not used.
using FirstError = std::optional<DecodeError>;

/// One object of a frame. Every reader gives the value, or some harmless one after noting an error;
/// so a message is read straight down and the error looked at once, at the end.
class Fields {
 public:
  /// Refuses what is no object, and members other than `known`. `object` and `error` must outlive
  /// this.
  Fields(const nlohmann::json& object, std::string pointer, FirstError& error,
         std::initializer_list<std::string_view> known);

  /// A whole number from `least` to `most`. Missing: `otherwise`, or an error without one.
  std::uint64_t whole(std::string_view key, std::uint64_t least, std::uint64_t most,
                      std::optional<std::uint64_t> otherwise = std::nullopt);
  bool truth(std::string_view key);
  /// 1 to 32 of A-Z a-z 0-9 - _.
  std::string id(std::string_view key);
  /// 1 to max_key_bytes printable ASCII characters without spaces.
  std::string secret(std::string_view key);
  /// At most max_reason_bytes of text; missing: "".
  std::string reason(std::string_view key);
  std::string tag(std::string_view key);
  /// A tag, or "" (also when missing).
  std::string tag_or_none(std::string_view key);
  /// 0 to max_tags_per_point different tags.
  std::vector<std::string> tags(std::string_view key);
  /// The elements of an array of `least` to `most`; null when there is an error.
  const nlohmann::json* array(std::string_view key, std::size_t least, std::size_t most);

  template <class Enum, std::size_t count>
  Enum word(std::string_view key, const std::array<words::Word<Enum>, count>& table,
            std::optional<Enum> otherwise = std::nullopt) {
    const nlohmann::json* value = find(key, !otherwise);
    if (value == nullptr) return otherwise.value_or(table.front().value);
    if (value->is_string()) {
      if (const auto found = words::value_of(table, value->get_ref<const std::string&>())) {
        return *found;
      }
    }
    refuse(key, found_text(*value), "one of " + words::list(table));
    return table.front().value;
  }

  /// Notes an error of this object's member `key`.
  void refuse(std::string_view key, const std::string& wrong, const std::string& right);
  [[nodiscard]] std::string pointer(std::string_view key) const;
  [[nodiscard]] bool has(std::string_view key) const { return object_->contains(key); }

 private:
  void refuse_at(const std::string& pointer, const std::string& wrong, const std::string& right);
  static std::string found_text(const nlohmann::json& value);
  const nlohmann::json* find(std::string_view key, bool required);
  const std::string* text(std::string_view key, bool required, const std::string& right);

  const nlohmann::json* object_;
  std::string pointer_;
  FirstError* error_;
};

}  // namespace tagline::protocol
