// Changes of the fleet file, each whole or not at all.
#include "server/app/cart_office.hpp"

#include <algorithm>

#include "server/app/whole_file.hpp"
#include "server/net/floor_office.hpp"

namespace tagline::app {
namespace {

using net::FleetRefusal;
using How = net::FleetRefusal::How;

FleetRefusal unknown(const std::string& id) {
  return {How::unknown, {}, "There is no cart \"" + id + "\" in the fleet; see /api/fleet."};
}

FleetRefusal conflict(std::string why) { return {How::conflict, {}, std::move(why)}; }

/// Of the one cart that is new, what its reader says: the rules of the file stand there only.
FleetRefusal wrong(const floor::FileFinding& finding) {
  const auto key = finding.pointer.rfind('/');
  return {How::wrong, key == std::string::npos ? "" : finding.pointer.substr(key),
          finding.wrong + "; " + finding.right + "."};
}

}  // namespace

CartOffice::CartOffice(std::filesystem::path file, std::filesystem::path floor_file, Fleet fleet)
    : file_(std::move(file)), floor_file_(std::move(floor_file)), fleet_(std::move(fleet)) {}

std::vector<net::FleetEntry> CartOffice::fleet() {
  const std::lock_guard lock(mutex_);
  std::vector<net::FleetEntry> entries;
  for (const FleetCart& cart : fleet_) entries.push_back({cart.id, cart.home, !cart.key.empty()});
  return entries;
}

std::optional<FleetRefusal> CartOffice::add(const std::string& id,
                                            const std::optional<std::string>& home,
                                            const access::Digest& key) {
  const std::lock_guard lock(mutex_);
  if (std::ranges::find(fleet_, id, &FleetCart::id) != fleet_.end())
    return conflict("There is a cart \"" + id + "\" already; give the new one another name.");
  if (fleet_.size() >= most_carts)
    return conflict("There are " + std::to_string(most_carts) +
                    " carts, which is the most; revoke one that is no longer used.");
  // At the end: those before keep their numbers in the next run, though nothing depends on it.
  Fleet next = fleet_;
  next.push_back({id, {}, key, home});
  return put(std::move(next));
}

std::optional<FleetRefusal> CartOffice::change_key(const std::string& id,
                                                   const access::Digest& key) {
  const std::lock_guard lock(mutex_);
  Fleet next = fleet_;
  const auto cart = std::ranges::find(next, id, &FleetCart::id);
  if (cart == next.end()) return unknown(id);
  cart->key.clear();
  cart->digest = key;
  return put(std::move(next));
}

std::optional<FleetRefusal> CartOffice::revoke(const std::string& id) {
  const std::lock_guard lock(mutex_);
  Fleet next = fleet_;
  if (std::erase_if(next, [&](const FleetCart& cart) { return cart.id == id; }) == 0)
    return unknown(id);
  if (next.empty())
    return conflict(
        "It is the only cart, and the service needs one. Add another one first, or give it a new "
        "key, which ends the old one as well.");
  return put(std::move(next));
}

std::optional<FleetRefusal> CartOffice::put(Fleet next) {
  const auto by_hand = [](const std::filesystem::path& file) {
    return conflict(file.string() +
                    " was changed by hand since the service started. Start it anew, or put the old "
                    "file back.");
  };
  const auto loaded_floor = floor::load_floor(floor_file_);
  const auto* floor = std::get_if<floor::Floor>(&loaded_floor);
  if (floor == nullptr) return by_hand(floor_file_);
  const auto on_disk = load_fleet(file_, *floor);
  const auto* same = std::get_if<Fleet>(&on_disk);
  if (same == nullptr || *same != fleet_) return by_hand(file_);
  const std::string text = format_fleet(next);
  const auto read_back = parse_fleet(text, *floor);
  if (const auto* findings = std::get_if<std::vector<floor::FileFinding>>(&read_back))
    return wrong(findings->front());
  try {
    write_whole(file_, text);
  } catch (const std::runtime_error& error) {
    throw net::OfficeError(error.what());
  }
  fleet_ = std::move(next);
  return std::nullopt;
}

}  // namespace tagline::app
