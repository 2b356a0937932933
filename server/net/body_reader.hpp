// Reads a JSON request body strictly: one object, only known keys, each once, each of its type and
// in its range. All findings of a body come in one answer.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/net/http_message.hpp"

namespace tagline::net {

class BodyReader {
 public:
  /// `keys` are those the body may have.
  BodyReader(const Request& request, std::initializer_list<std::string_view> keys);
  ~BodyReader();

  /// A text of `shortest` to `longest` bytes without control characters; "" if missing (which is
  /// a finding when `required`).
  std::string text(std::string_view key, bool required, std::size_t shortest, std::size_t longest);
  int integer(std::string_view key, int lowest, int highest, int otherwise);
  void add_finding(std::string_view key, std::string detail);

  /// The answer to give if anything was wrong: 400 (no JSON), 415 (another type), 422 (values).
  [[nodiscard]] std::optional<Response> refusal() const;

 private:
  struct Parsed;
  std::unique_ptr<Parsed> parsed_;
  std::optional<Response> unreadable_;
  std::vector<BodyFinding> findings_;
};

/// For requests that have nothing to say: an empty body or an empty object.
std::optional<Response> refuse_any_body(const Request& request);

}  // namespace tagline::net
