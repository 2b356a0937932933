// Reads a JSON request body strictly: one object, only known keys, each once, each of its type and
// in its range, and so the objects of its lists. All findings of a body come in one answer.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/floor/units.hpp"
#include "server/net/http_message.hpp"

namespace tagline::net {

class BodyReader {
 public:
  /// `keys` are those the body may have.
  BodyReader(const Request& request, std::initializer_list<std::string_view> keys);
  ~BodyReader();
  BodyReader(BodyReader&&) noexcept;
  BodyReader& operator=(BodyReader&&) noexcept;

  /// A text of `shortest` to `longest` bytes without control characters; "" if missing (which is
  /// a finding when `required`).
  std::string text(std::string_view key, bool required, std::size_t shortest, std::size_t longest);
  /// `otherwise` if missing; a finding if it is needed.
  int integer(std::string_view key, int lowest, int highest, std::optional<int> otherwise);
  /// A moment with its offset from UTC (RFC 3339).
  std::optional<Instant> time(std::string_view key);
  /// A list of at most `most` objects that may have these keys, each to be read like a body; what
  /// is found in them is told with the rest. Empty if missing. Use them before this reader goes.
  std::vector<BodyReader> objects(std::string_view key, std::size_t most,
                                  std::initializer_list<std::string_view> keys);
  void add_finding(std::string_view key, std::string detail);

  /// The answer to give if anything was wrong: 400 (no JSON), 415 (another type), 422 (values).
  [[nodiscard]] std::optional<Response> refusal() const;

 private:
  struct Parsed;
  BodyReader();
  void take(const Parsed& whole, std::initializer_list<std::string_view> keys);

  std::unique_ptr<Parsed> parsed_;
  std::optional<Response> unreadable_;
  /// Shared with the readers of the objects inside.
  std::shared_ptr<std::vector<BodyFinding>> findings_;
};

/// For requests that have nothing to say: an empty body or an empty object.
std::optional<Response> refuse_any_body(const Request& request);

}  // namespace tagline::net
