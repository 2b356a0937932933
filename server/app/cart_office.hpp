// The list of carts of a running service, kept in its fleet file.
#pragma once

#include <filesystem>
#include <mutex>

#include "server/app/fleet_file.hpp"
#include "server/net/fleet_office.hpp"

namespace tagline::app {

class CartOffice : public net::FleetOffice {
 public:
  /// `fleet` is what the service has read from `file`. Homes are looked up on the floor of
  /// `floor_file` as it is when a cart is added: it may just have been published.
  CartOffice(std::filesystem::path file, std::filesystem::path floor_file, Fleet fleet);

  std::vector<net::FleetEntry> fleet() override;
  std::optional<net::FleetRefusal> add(const std::string& id,
                                       const std::optional<std::string>& home,
                                       const access::Digest& key) override;
  std::optional<net::FleetRefusal> change_key(const std::string& id,
                                              const access::Digest& key) override;
  std::optional<net::FleetRefusal> revoke(const std::string& id) override;

 private:
  /// Puts `next` in the file's place, unless that was changed by hand or would not be read back.
  std::optional<net::FleetRefusal> put(Fleet next);

  std::filesystem::path file_, floor_file_;
  std::mutex mutex_;
  Fleet fleet_;  // under mutex_
};

}  // namespace tagline::app
