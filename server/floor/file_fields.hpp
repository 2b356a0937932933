// Reads the members of one JSON object by name, type and range, and makes a finding of everything
// that is not as it should be.
#pragma once

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>

#include "server/floor/file_document.hpp"

namespace tagline::floor {

/// What a number may be, both ends included. `unit` is said in findings; "" for a plain number.
struct Range {
  double least;
  double most;
  std::string_view unit;
};

/// One object of the file. Keys not in `known` are findings at once.
class Fields {
 public:
  /// `kind` is said when `value` is no object: "a point".
  Fields(const JsonValue& value, std::string pointer, std::string_view kind,
         std::initializer_list<std::string_view> known, Findings& findings);

  [[nodiscard]] const std::string& pointer() const { return pointer_; }
  [[nodiscard]] std::string pointer_to(std::string_view key) const { return below(pointer_, key); }
  [[nodiscard]] bool has(std::string_view key) const { return find(key) != nullptr; }
  /// The member, or null; a finding if it is missing though it must be there.
  const JsonValue* require(std::string_view key, std::string_view right);
  [[nodiscard]] const JsonValue* find(std::string_view key) const;

  // Each returns nothing when the key is missing or its value is not right (then a finding is
  // made). `required` makes a finding of the missing key too.
  std::optional<double> number(std::string_view key, Range range, bool required);
  std::optional<double> whole_number(std::string_view key, Range range, bool required);
  /// `absent` when missing or not right.
  bool flag(std::string_view key, bool absent);
  /// 1 to limits::id_chars of A-Z a-z 0-9 - _.
  std::optional<std::string> id(std::string_view key);
  /// A reference: any text. Whether it names something is found later.
  std::optional<std::string> reference(std::string_view key, std::string_view to_what);
  /// Text for people: not blank, no control characters, at most limits::name_bytes.
  std::optional<std::string> name(std::string_view key);
  /// Null when missing or not a list; at least `least` and at most `most` items.
  const JsonValue::List* list(std::string_view key, std::string_view of_what, std::size_t least,
                              std::size_t most, bool required);

 private:
  const JsonValue::Object* members_{};
  std::string pointer_;
  Findings& findings_;
};

/// The number at `pointer`, or nothing and a finding.
std::optional<double> read_number(const JsonValue& value, const std::string& pointer, Range range,
                                  Findings& findings);

}  // namespace tagline::floor
