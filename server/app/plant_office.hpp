// The builder's office of a running service: floor files checked by the program's own `check`, kept
// and published on the shelf, and weighed against the fleet.
#pragma once

#include <atomic>
#include <chrono>
#include <filesystem>
#include <mutex>
#include <string>

#include "server/app/floor_shelf.hpp"
#include "server/app/tryout_run.hpp"
#include "server/net/floor_office.hpp"

namespace tagline::app {

class PlantOffice : public net::FloorOffice {
 public:
  struct Setup {
    std::filesystem::path floor_file;
    std::filesystem::path fleet_file;
    /// Where drafts and history are kept.
    std::filesystem::path folder;
    /// That does the checking: this one.
    std::filesystem::path program{"/proc/self/exe"};
    /// RFC 3339: now.
    std::string now{};
    std::chrono::milliseconds longest_check{60'000};
    SideBounds tryout{standard_tryout_bounds};
  };
  /// Throws net::OfficeError.
  explicit PlantOffice(Setup setup);

  std::string in_use() override;
  std::string check(const std::string& document) override;
  net::FloorDraft draft() override;
  Saved save(std::string document, std::string by, std::string at,
             std::uint64_t expected_version) override;
  std::string changes(const net::WorksNow& works) override;
  Published publish(std::uint64_t expected_version, std::string by, std::string at) override;
  std::vector<net::FloorEdition> history() override;
  std::optional<std::string> edition(std::uint64_t number) override;
  net::Tryout try_out(const net::TryoutWish& wish, const std::atomic<bool>& ended) override;
  void give_up() override { given_up_ = true; }

 private:
  /// What `tagline check --json` prints; sets `too_long` if it didn't come to an end.
  std::string check_aside(const std::string& document, bool& too_long);
  /// What of the fleet file doesn't fit a document that is a floor file, in sentences.
  [[nodiscard]] std::vector<std::string> misfits(const std::string& document) const;
  /// Why the file can't become the floor, in sentences; none if it can.
  std::vector<std::string> reasons_against(const std::string& document);

  Setup setup_;
  std::mutex mutex_;
  FloorShelf shelf_;  // under mutex_
  std::atomic<bool> given_up_{false};
};

}  // namespace tagline::app
