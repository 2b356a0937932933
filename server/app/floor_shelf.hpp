// Floor files on disk: the one in use, the draft, and all that were in use before. Each is written
// whole or not at all, so that a loss of power leaves the old one or the new one.
//
// In FOLDER: draft.json; 000001.json, 000002.json, ... one for each file that was taken up, with
// who and when; publishing.json while one is being put in place.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "server/net/floor_office.hpp"

namespace tagline::app {

/// Not thread-safe. All throw net::OfficeError.
class FloorShelf {
 public:
  /// Reads `floor_file`, and sees to it that the history ends with what is in it: it may have been
  /// changed by hand, or the power may have gone while it was published. `now` is RFC 3339.
  FloorShelf(std::filesystem::path floor_file, std::filesystem::path folder,
             const std::string& now);

  /// The file in use, as it was when this was made, or has been published since.
  [[nodiscard]] const std::string& in_use() const { return in_use_; }
  /// Whether what is on disk is that still.
  [[nodiscard]] bool changed_by_hand() const;

  [[nodiscard]] net::FloorDraft draft() const;
  /// `document` is JSON. The version grows by one.
  net::FloorDraft save(std::string document, std::string by, std::string at);
  /// The draft becomes the floor file; then there is none any more. The version grows by one.
  net::FloorDraft publish(const std::string& by, const std::string& at);

  [[nodiscard]] std::vector<net::FloorEdition> history() const;
  [[nodiscard]] std::optional<std::string> edition(std::uint64_t number) const;

  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }

 private:
  [[nodiscard]] std::filesystem::path edition_file(std::uint64_t number) const;
  [[nodiscard]] std::uint64_t last_number() const;
  void write_draft(const net::FloorDraft& draft) const;

  std::filesystem::path floor_file_, folder_;
  std::string in_use_;
};

}  // namespace tagline::app
