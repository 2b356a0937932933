// Strict reader of the fleet file, and its writer.
#include "server/app/fleet_file.hpp"

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

namespace tagline::app {
namespace {

using floor::FileFinding;
using nlohmann::json;

constexpr std::string_view format_name = "tagline-fleet/1";
constexpr std::uintmax_t most_bytes = 1u << 20;
constexpr std::size_t shortest_key = 16, longest_key = 64;

bool is_id(std::string_view text) {
  return !text.empty() && text.size() <= 32 && std::all_of(text.begin(), text.end(), [](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_';
  });
}

bool is_key(std::string_view text) {
  return text.size() >= shortest_key && text.size() <= longest_key &&
         std::all_of(text.begin(), text.end(), [](char c) { return c > ' ' && c < 0x7F; });
}

class Reader {
 public:
  explicit Reader(const floor::Floor& floor) : floor_(floor) {}

  void read(const json& whole) {
    if (!whole.is_object()) return add("", "not an object", "give an object with format and carts");
    for (const auto& [key, value] : whole.items())
      if (key != "format" && key != "carts")
        add("/" + key, "no such key", "leave it out; the keys here are format, carts");
    const auto format = whole.find("format");
    if (format == whole.end() || *format != format_name)
      add("/format", format == whole.end() ? "missing" : "not this format",
          "give \"" + std::string(format_name) + "\"");
    const auto carts = whole.find("carts");
    if (carts == whole.end() || !carts->is_array() || carts->empty())
      return add("/carts", carts == whole.end() ? "missing" : "no carts in it",
                 "give a list of at least one cart");
    if (carts->size() > most_carts)
      return add("/carts", std::to_string(carts->size()) + " carts",
                 "give at most " + std::to_string(most_carts));
    for (std::size_t k = 0; k < carts->size(); ++k)
      read_cart((*carts)[k], "/carts/" + std::to_string(k));
  }

  Fleet fleet;
  std::vector<FileFinding> findings;

 private:
  void add(std::string pointer, std::string wrong, std::string right) {
    findings.push_back({std::move(pointer), std::move(wrong), std::move(right)});
  }

  std::string text(const json& cart, const std::string& at, const char* key) {
    const auto found = cart.find(key);
    if (found == cart.end()) return {};
    if (!found->is_string()) {
      add(at + "/" + key, "not a text", "give a text in double quotes");
      return {};
    }
    return found->get<std::string>();
  }

  void read_cart(const json& json_cart, const std::string& at) {
    if (!json_cart.is_object()) return add(at, "not an object", "give an object with id and key");
    for (const auto& [key, value] : json_cart.items())
      if (key != "id" && key != "key" && key != "key_sha256" && key != "home")
        add(at + "/" + key, "no such key",
            "leave it out; the keys here are id, key or key_sha256, home");
    FleetCart cart;
    cart.id = text(json_cart, at, "id");
    if (!is_id(cart.id))
      add(at + "/id", "\"" + cart.id + "\" is no id", "give 1 to 32 of A-Z, a-z, 0-9, - and _");
    else if (!ids_.insert(cart.id).second)
      add(at + "/id", "\"" + cart.id + "\" is there twice", "give every cart an id of its own");
    read_key(cart, json_cart, at);
    if (json_cart.contains("home")) read_home(cart, text(json_cart, at, "home"), at + "/home");
    fleet.push_back(std::move(cart));
  }

  void read_key(FleetCart& cart, const json& json_cart, const std::string& at) {
    if (json_cart.contains("key_sha256")) {
      const std::string place = at + "/key_sha256";
      const auto digest = access::digest_from_hex(text(json_cart, at, "key_sha256"));
      if (json_cart.contains("key")) add(place, "there is a key too", "give one of the two");
      if (!digest)
        return add(place, "no SHA-256", "give 64 hex digits, the SHA-256 of the cart's key");
      cart.digest = *digest;
    } else {
      cart.key = text(json_cart, at, "key");
      if (!is_key(cart.key))
        return add(at + "/key", "a key of " + std::to_string(cart.key.size()) + " characters",
                   "give 16 to 64 printable ASCII characters without spaces, e.g. from openssl "
                   "rand -hex 16");
      cart.digest = access::sha256(cart.key);
    }
    if (!keys_.insert(cart.digest).second)
      add(at + (cart.key.empty() ? "/key_sha256" : "/key"), "the same key as another cart's",
          "give every cart a key of its own");
  }

  void read_home(FleetCart& cart, const std::string& home, const std::string& at) {
    const auto point = floor_.find_point(home);
    if (!point)
      return add(at, "no point \"" + home + "\" on the floor",
                 "give the id of a point with a tag, or leave it out");
    if (floor_[*point].tags.empty())
      return add(at, "\"" + home + "\" has no tag, so nobody can say that a cart stands there",
                 "give the id of a point with a tag, or leave it out");
    if (!homes_.insert(home).second)
      return add(at, "\"" + home + "\" is another cart's home",
                 "give every cart a home of its own");
    cart.home = home;
  }

  const floor::Floor& floor_;
  std::set<std::string> ids_, homes_;
  std::set<access::Digest> keys_;
};

}  // namespace

std::variant<Fleet, std::vector<FileFinding>> parse_fleet(std::string_view json_text,
                                                          const floor::Floor& floor) {
  Reader reader(floor);
  try {
    reader.read(json::parse(json_text));
  } catch (const json::parse_error& error) {
    return std::vector<FileFinding>{{"", "no JSON from byte " + std::to_string(error.byte) + " on",
                                     "give one JSON object in UTF-8 (RFC 8259)"}};
  } catch (const json::out_of_range&) {
    return std::vector<FileFinding>{
        {"", "a number too big to read", "leave it out; a fleet file has no numbers"}};
  }
  if (!reader.findings.empty()) return std::move(reader.findings);
  return std::move(reader.fleet);
}

std::variant<Fleet, std::vector<FileFinding>> load_fleet(const std::filesystem::path& path,
                                                         const floor::Floor& floor) {
  std::error_code error;
  const auto size = std::filesystem::file_size(path, error);
  if (!error && size > most_bytes)
    return std::vector<FileFinding>{
        {"", "the file has " + std::to_string(size) + " bytes", "give at most 1 MiB"}};
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  if (error == std::errc::no_such_file_or_directory)
    return std::vector<FileFinding>{
        {"", "there is no such file", "name a fleet file (tagline-fleet/1)"}};
  if (error || !in)
    return std::vector<FileFinding>{
        {"", "can't be read", "give a file that this user may read, in format tagline-fleet/1"}};
  return parse_fleet(std::move(text).str(), floor);
}

std::string format_fleet(const Fleet& fleet) {
  std::string carts;
  for (const FleetCart& cart : fleet) {
    nlohmann::ordered_json one{{"id", cart.id}};
    if (cart.key.empty())
      one["key_sha256"] = access::hex(cart.digest.bytes);
    else
      one["key"] = cart.key;
    if (cart.home) one["home"] = *cart.home;
    carts += (carts.empty() ? "    " : ",\n    ") + one.dump();
  }
  return "{\n  \"format\": " + json(format_name).dump() + ",\n  \"carts\": [\n" + carts +
         "\n  ]\n}\n";
}

}  // namespace tagline::app
