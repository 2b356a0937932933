// The files of the web page, read once at the start. What is served is what was found then, by
// name: no path of a request ever reaches the file system.
#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/net/http_message.hpp"

namespace tagline::net {

class StaticFiles {
 public:
  /// Larger folders are refused: everything is kept in memory.
  static constexpr std::size_t most_bytes = 64u << 20;

  /// Takes up every regular file under `folder`; `x.js.gz` beside `x.js` is its packed form. A
  /// missing folder or one without index.html gives a page at `/` that says how to build it.
  /// Throws std::runtime_error if the folder can't be read or is too large.
  explicit StaticFiles(const std::filesystem::path& folder);

  [[nodiscard]] bool has_page() const { return files_.contains("index.html"); }
  [[nodiscard]] std::size_t count() const { return files_.size(); }

  /// Whether find() has a file for a path.
  [[nodiscard]] bool has(const std::vector<std::string>& pieces) const;
  /// The file at a path cut in pieces ([] is the board), or nothing. Where there is no such file,
  /// NAME.html answers for /NAME and for all paths below: that page reads its own address.
  [[nodiscard]] std::optional<Response> find(const std::vector<std::string>& pieces,
                                             const Request& request) const;

 private:
  struct File {
    std::shared_ptr<const std::string> plain;
    std::shared_ptr<const std::string> packed;  // gzip (RFC 1952); may be null
    std::string content_type;
    std::string etag;
    bool lasting{false};  // its name has a hash of its content
  };
  std::filesystem::path folder_;
  using Files = std::map<std::string, File, std::less<>>;
  [[nodiscard]] Files::const_iterator at(const std::vector<std::string>& pieces) const;

  Files files_;
};

}  // namespace tagline::net
