// What the builder's routes have done with the list of carts: shown, added to, keys changed, carts
// taken out. The network doesn't know where it is kept; the program puts that behind this.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "server/access/secret.hpp"

namespace tagline::net {

/// A cart of the fleet.
struct FleetEntry {
  std::string id{};
  /// Point where it lives; nothing if it has no home.
  std::optional<std::string> home{};
  /// Its key stands where the fleet is kept as it is, not only as a digest.
  bool key_in_clear{};
};

/// Why the fleet stays as it is.
struct FleetRefusal {
  enum class How {
    unknown,   // no such cart
    conflict,  // it can't be done now
    wrong,     // what was asked for can't be taken
  } how{};
  /// Of `wrong`: "/id" or "/home".
  std::string pointer{};
  /// What is wrong and what to do, in sentences.
  std::string why{};
};

/// Thread-safe; takes no longer than the disk. What has been changed is on disk when it returns.
/// All throw OfficeError (floor_office.hpp), and then nothing was changed. The carts of a running
/// service are those it began with: after add() and revoke() it must begin anew.
class FleetOffice {
 public:
  virtual ~FleetOffice() = default;

  virtual std::vector<FleetEntry> fleet() = 0;
  /// The new cart is the last one. `key` is the digest of what it greets with.
  virtual std::optional<FleetRefusal> add(const std::string& id,
                                          const std::optional<std::string>& home,
                                          const access::Digest& key) = 0;
  virtual std::optional<FleetRefusal> change_key(const std::string& id,
                                                 const access::Digest& key) = 0;
  /// Whoever asks has made sure that it is off the floor.
  virtual std::optional<FleetRefusal> revoke(const std::string& id) = 0;
};

}  // namespace tagline::net
