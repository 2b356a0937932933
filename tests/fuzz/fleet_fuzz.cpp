// Fuzzes the reader of the fleet file: carts that may connect, each with a name and a key of its
// own; or findings, which never show a key.
#include <cstddef>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <set>
#include <string>

#include "server/app/fleet_file.hpp"
#include "tests/fuzz/must.hpp"

namespace {

using nlohmann::json;
using tagline::fuzz::must;
namespace app = tagline::app;
namespace floor_of = tagline::floor;

const floor_of::Floor& sample_floor() {
  static const auto loaded =
      floor_of::load_floor(TAGLINE_SOURCE_DIR "/protocol/samples/small.floor.json");
  return std::get<floor_of::Floor>(loaded);
}

void check_fleet(const app::Fleet& fleet) {
  std::set<std::string> ids;
  std::set<tagline::access::Digest> keys;
  must(!fleet.empty() && fleet.size() <= app::most_carts, "a fleet has 1 to 200 carts");
  for (const app::FleetCart& cart : fleet) {
    must(!cart.id.empty() && cart.id.size() <= 32, "an id has 1 to 32 characters", cart.id);
    must(cart.key.empty() || (cart.key.size() >= 16 && cart.key.size() <= 64),
         "a key has 16 to 64 characters", cart.id);
    must(ids.insert(cart.id).second, "ids are unique", cart.id);
    must(keys.insert(cart.digest).second, "keys are unique", cart.id);
    if (cart.home) must(sample_floor().find_point(*cart.home).has_value(), "a home is a point");
  }
  const auto again = app::parse_fleet(app::format_fleet(fleet), sample_floor());
  must(std::get_if<app::Fleet>(&again) != nullptr && std::get<app::Fleet>(again) == fleet,
       "what is written reads back the same");
}

/// All texts of a document but those under "key", one after the other.
std::string texts_but_keys(const json& value) {
  std::string out;
  if (value.is_string()) return value.get<std::string>() + '\n';
  if (value.is_array())
    for (const json& one : value) out += texts_but_keys(one);
  if (value.is_object())
    for (const auto& [name, one] : value.items())
      out += name + '\n' + (name == "key" && one.is_string() ? "" : texts_but_keys(one));
  return out;
}

void check_no_key_shown(std::string_view text, const std::vector<floor_of::FileFinding>& findings) {
  const json whole = json::parse(text, nullptr, false);
  if (!whole.is_object() || !whole.contains("carts") || !whole["carts"].is_array()) return;
  const std::string elsewhere = texts_but_keys(whole);
  std::string said;
  for (const auto& finding : findings) said += finding.pointer + finding.wrong + finding.right;
  for (const json& cart : whole["carts"]) {
    if (!cart.is_object() || !cart.contains("key") || !cart["key"].is_string()) continue;
    const auto key = cart["key"].get<std::string>();
    // Nor what the findings' own sentences may hold by chance: they have spaces, good keys none.
    if (key.size() < 16 || key.find(' ') != std::string::npos) continue;
    if (elsewhere.find(key) != std::string::npos) continue;
    must(said.find(key) == std::string::npos, "no finding shows a key", said);
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const auto parsed = app::parse_fleet(text, sample_floor());
  if (const auto* findings = std::get_if<std::vector<floor_of::FileFinding>>(&parsed)) {
    must(!findings->empty(), "a refused fleet has findings");
    check_no_key_shown(text, *findings);
  } else {
    check_fleet(std::get<app::Fleet>(parsed));
  }
  return 0;
}
