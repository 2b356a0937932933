// JSON text -> a plain tree of values. Knows RFC 8259 and nothing of floors; stricter than a usual
// parser in that a key given twice, a NUL byte, bytes that are no UTF-8, numbers too large for a
// double and deep nesting are findings.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "server/floor/file.hpp"

namespace tagline::floor {

/// Collects findings, and only counts them once there are limits::findings.
class Findings {
 public:
  void add(std::string pointer, std::string wrong, std::string right);
  [[nodiscard]] bool empty() const { return list_.empty(); }
  /// The findings in the order they were made, and a last one that says how many were left out.
  [[nodiscard]] std::vector<FileFinding> take();

 private:
  std::vector<FileFinding> list_;
  std::size_t left_out_{};
};

struct JsonMember;

/// One JSON value. Members keep the order of the text; of a key given twice, the first stays.
struct JsonValue {
  using List = std::vector<JsonValue>;
  using Object = std::vector<JsonMember>;
  std::variant<std::monostate, bool, double, std::string, List, Object> data;
};

struct JsonMember {
  std::string key;
  JsonValue value;
};

/// Nothing if the text is not JSON: then the findings say where (line and column) and why.
std::optional<JsonValue> read_document(std::string_view text, Findings& findings);

/// `pointer` one level deeper, escaped as RFC 6901 asks.
std::string below(const std::string& pointer, std::string_view key);
std::string below(const std::string& pointer, std::size_t index);

/// Text in quotes, control characters escaped, cut when long: fit for a one-line message.
std::string in_quotes(std::string_view text);
/// A whole number without a decimal point, any other as short as it reads back equal.
std::string number_text(double value);
/// What a person finds at a place of the wrong kind: `the text "x"`, `the number 5`, `a list`.
std::string found(const JsonValue& value);

}  // namespace tagline::floor
