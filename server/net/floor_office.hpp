// What the builder's routes have done with floor files: checked, kept as a draft, published. The
// network knows neither files nor checks; the program puts them behind this.
#pragma once

#include <atomic>
#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace tagline::net {

/// A floor file that isn't in use yet. There is one, whoever draws.
struct FloorDraft {
  /// Grows by one with every saving and publishing, and never begins anew.
  std::uint64_t version{};
  /// Nothing: there is no draft since the last publishing.
  std::optional<std::string> document{};
  std::string saved_by{};
  /// RFC 3339; "" with no draft.
  std::string saved_at{};
};

/// A floor file that was taken up once.
struct FloorEdition {
  std::uint64_t number{};
  /// Who published it; "" if it was put there by hand, between two starts of the service.
  std::string by{};
  /// RFC 3339: when it was published, or found.
  std::string at{};
};

/// How the works stand, in the words of the interface: the bodies of GET /api/carts and /api/jobs,
/// and of /api/stations.
struct WorksNow {
  std::string carts;
  std::string jobs;
  std::string stations;
};

/// A floor at work in simulation, before it is one.
struct TryoutWish {
  /// A floor file.
  std::string document;
  int carts{1};
  /// Of the works' time.
  int hours{1};
  /// Equal seeds give equal figures.
  std::uint64_t seed{1};
  /// demand: what the floor file says; per_hour: that many jobs, pairs by the demand, else all
  /// alike; endless: a queue that is never empty.
  enum class Jobs { demand, per_hour, endless } jobs{Jobs::demand};
  int jobs_per_hour{};
};

/// What came of it.
struct Tryout {
  /// too_much: it took more of the processor, time or memory than it may.
  enum class How { done, refused, too_much, ended } how{How::done};
  /// The Tryout of API.md, if it is done.
  std::string json{};
  /// Why carts can't run there, in sentences, if it is refused.
  std::vector<std::string> reasons{};
};

/// Something can't be read or written; what() says where, why and what to do.
struct OfficeError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// Thread-safe. check(), changes(), publish() and try_out() take as long as they take, the others
/// no longer than the disk. All throw OfficeError.
class FloorOffice {
 public:
  virtual ~FloorOffice() = default;

  /// The file that the service runs on, as it was when it started.
  virtual std::string in_use() = 0;
  /// The Check of API.md.
  virtual std::string check(const std::string& document) = 0;

  virtual FloorDraft draft() = 0;
  struct Saved {
    enum class How { saved, no_json, other_version } how{How::saved};
    FloorDraft now{};
  };
  virtual Saved save(std::string document, std::string by, std::string at,
                     std::uint64_t expected_version) = 0;

  /// The Changes of API.md: what publishing the draft would do.
  virtual std::string changes(const WorksNow& works) = 0;
  struct Published {
    /// Done if empty; else why not, in sentences.
    std::vector<std::string> refused{};
    bool other_version{false};
    FloorDraft now{};
  };
  /// Puts the draft in the place of the floor file. The service must start anew to take it up.
  virtual Published publish(std::uint64_t expected_version, std::string by, std::string at) = 0;

  /// Latest first.
  virtual std::vector<FloorEdition> history() = 0;
  /// The file of that number; nothing if there is none.
  virtual std::optional<std::string> edition(std::uint64_t number) = 0;

  /// One at a time. Given up soon after `ended` has become true.
  virtual Tryout try_out(const TryoutWish& wish, const std::atomic<bool>& ended) = 0;

  /// What runs is given up soon: the service ends.
  virtual void give_up() = 0;
};

}  // namespace tagline::net
