// First pass over a floor file: keys, types, ranges, ids and tags, each kind of object in turn.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <utility>

#include "server/floor/file_draft.hpp"
#include "server/floor/file_fields.hpp"
#include "server/floor/file_limits.hpp"

namespace tagline::floor {
namespace {

constexpr std::string_view format_name = "tagline-floor/1";

std::int64_t rounded(double value) { return static_cast<std::int64_t>(std::llround(value)); }

/// Handling time in s -> ms.
Duration read_handling(Fields& fields, std::string_view key, Duration absent) {
  constexpr double ms_per_s = 1000;
  const auto seconds = fields.number(key, {0, limits::handling_s, "s"}, false);
  return seconds ? Duration{rounded(*seconds * ms_per_s)} : absent;
}

void read_cart(const JsonValue& value, Draft& draft, Findings& findings) {
  Fields fields(
      value, "/cart", "the cart",
      {"length", "width", "reader_to_nose", "speed", "acceleration", "deceleration", "clearance"},
      findings);
  CartBody& cart = draft.cart;
  const auto length =
      fields.number("length", {limits::cart_length_min_mm, limits::cart_length_max_mm, "mm"}, true);
  if (length) cart.length = {rounded(*length)};
  const auto width =
      fields.number("width", {limits::cart_width_min_mm, limits::cart_width_max_mm, "mm"}, true);
  if (width) cart.width = {rounded(*width)};
  const double reader_most = length ? *length : limits::cart_length_max_mm;
  if (const auto reader = fields.number("reader_to_nose", {0, reader_most, "mm"}, false)) {
    cart.reader_to_nose = {rounded(*reader)};
  }
  const Range speeds{limits::speed_min_mm_s, limits::speed_max_mm_s, "mm/s"};
  const auto speed = fields.number("speed", speeds, false);
  if (speed) cart.speed = {rounded(*speed)};
  draft.cart_speed_known = speed || !fields.has("speed");
  const Range accelerations{limits::acceleration_min_mm_s2, limits::acceleration_max_mm_s2,
                            "mm/s2"};
  if (const auto acceleration = fields.number("acceleration", accelerations, false)) {
    cart.acceleration = {rounded(*acceleration)};
  }
  if (const auto deceleration = fields.number("deceleration", accelerations, false)) {
    cart.deceleration = {rounded(*deceleration)};
  }
  if (const auto clearance = fields.number("clearance", {0, limits::clearance_mm, "mm"}, false)) {
    cart.clearance = {rounded(*clearance)};
  }
}

/// The UID in upper case, or nothing and a finding. Lengths: ISO/IEC 14443-3 (4, 7, 10 bytes),
/// ISO/IEC 15693-3 (8), common 125 kHz cards (5).
std::optional<std::string> read_tag(const JsonValue& value, const std::string& pointer,
                                    Findings& findings) {
  const auto* text = std::get_if<std::string>(&value.data);
  if (!text) {
    findings.add(pointer, found(value) + " instead of a tag",
                 "give the tag's UID as hex digits in quotes");
    return std::nullopt;
  }
  std::string uid = *text;
  for (char& c : uid) {
    if (c >= 'a' && c <= 'f') c = static_cast<char>(c - 'a' + 'A');
  }
  const auto is_hex = [](char c) { return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'F'); };
  if (uid.empty() || !std::all_of(uid.begin(), uid.end(), is_hex)) {
    findings.add(pointer, in_quotes(*text) + " is not a UID",
                 "give only hex digits (0-9, A-F), without blanks, colons or dashes");
    return std::nullopt;
  }
  constexpr std::array<std::size_t, 5> digits{8, 10, 14, 16, 20};
  if (std::find(digits.begin(), digits.end(), uid.size()) == digits.end()) {
    findings.add(pointer, in_quotes(*text) + " has " + std::to_string(uid.size()) + " hex digits",
                 "give all 4, 5, 7, 8 or 10 bytes of the UID: 8, 10, 14, 16 or 20 hex digits");
    return std::nullopt;
  }
  if (uid.size() == 8 && uid.compare(0, 2, "88") == 0) {
    findings.add(pointer,
                 in_quotes(*text) + " starts with 88, the mark of a longer UID (ISO/IEC 14443-3)",
                 "give all 7 or 10 bytes of the UID, without the 88");
    return std::nullopt;
  }
  if (uid.size() == 16 && uid.compare(0, 2, "E0") != 0) {
    findings.add(pointer, in_quotes(*text) + " has 8 bytes and does not start with E0",
                 "a UID of 8 bytes starts with E0 (ISO/IEC 15693); some readers give the bytes in "
                 "reverse order");
    return std::nullopt;
  }
  return uid;
}

DraftPoint read_point(const JsonValue& value, const std::string& pointer, Findings& findings) {
  Fields fields(value, pointer, "a point", {"id", "x", "y", "tags", "siding", "turn_round"},
                findings);
  DraftPoint point;
  point.id = fields.id("id");
  const Range plan{-limits::coordinate_mm, limits::coordinate_mm, "mm"};
  const auto x = fields.number("x", plan, true);
  const auto y = fields.number("y", plan, true);
  if (x && y) point.at = Position{*x, *y};
  if (const auto* tags = fields.list("tags", "tags", 0, limits::tags_per_point, false)) {
    for (std::size_t k = 0; k < tags->size(); ++k) {
      auto tag = read_tag((*tags)[k], below(fields.pointer_to("tags"), k), findings);
      // A place is kept for a bad one, so that later pointers stay right.
      point.tags.push_back(tag ? std::move(*tag) : std::string());
    }
  }
  point.siding = fields.flag("siding", false);
  point.turn_round = fields.flag("turn_round", false);
  return point;
}

std::optional<Position> read_place(const JsonValue& value, const std::string& pointer,
                                   Findings& findings) {
  const auto* pair = std::get_if<JsonValue::List>(&value.data);
  if (!pair || pair->size() != 2) {
    findings.add(pointer, found(value) + " instead of a place", "give [x, y] in mm");
    return std::nullopt;
  }
  const Range plan{-limits::coordinate_mm, limits::coordinate_mm, "mm"};
  const auto x = read_number((*pair)[0], below(pointer, 0), plan, findings);
  const auto y = read_number((*pair)[1], below(pointer, 1), plan, findings);
  if (!x || !y) return std::nullopt;
  return Position{*x, *y};
}

std::optional<Branch> read_turn(Fields& fields, Findings& findings) {
  const JsonValue* value = fields.find("turn");
  if (!value) return std::nullopt;
  if (const auto* text = std::get_if<std::string>(&value->data)) {
    if (*text == "left") return Branch::left;
    if (*text == "straight") return Branch::straight;
    if (*text == "right") return Branch::right;
  }
  findings.add(fields.pointer_to("turn"), found(*value) + " is no turn",
               "give \"left\", \"straight\" or \"right\"");
  return std::nullopt;
}

DraftSegment read_segment(const JsonValue& value, const std::string& pointer, Findings& findings) {
  Fields fields(value, pointer, "a segment",
                {"id", "from", "to", "length", "speed", "two_way", "spur", "via", "turn"},
                findings);
  DraftSegment segment;
  segment.id = fields.id("id");
  segment.from = fields.reference("from", "the point where it starts");
  segment.to = fields.reference("to", "the point where it ends");
  segment.length = fields.number("length", {1, limits::segment_mm, "mm"}, false);
  segment.bad_length = fields.has("length") && !segment.length;
  const Range speeds{limits::speed_min_mm_s, limits::speed_max_mm_s, "mm/s"};
  if (const auto speed = fields.number("speed", speeds, false)) {
    segment.speed = MmPerS{rounded(*speed)};
  }
  segment.two_way = fields.flag("two_way", false);
  segment.spur = fields.flag("spur", false);
  if (segment.two_way && segment.spur) {
    findings.add(pointer, "both \"two_way\" and \"spur\"",
                 "a cart backs out of a spur and drives a two-way segment nose first: keep one");
  }
  if (const auto* via = fields.list("via", "places", 0, limits::via_per_segment, false)) {
    for (std::size_t k = 0; k < via->size(); ++k) {
      const auto place = read_place((*via)[k], below(fields.pointer_to("via"), k), findings);
      if (place) segment.via.push_back(*place);
    }
    segment.bad_via = segment.via.size() != via->size();
  } else {
    segment.bad_via = fields.has("via");
  }
  segment.turn = read_turn(fields, findings);
  return segment;
}

DraftStation read_station(const JsonValue& value, const std::string& pointer, Findings& findings) {
  Fields fields(value, pointer, "a station",
                {"id", "name", "point", "load_s", "unload_s", "capacity"}, findings);
  DraftStation station;
  station.id = fields.id("id");
  station.name = fields.name("name").value_or("");
  station.point = fields.reference("point", "the point where carts stop for it");
  station.load = read_handling(fields, "load_s", Station{}.load);
  station.unload = read_handling(fields, "unload_s", Station{}.unload);
  if (const auto loads =
          fields.whole_number("capacity", {1, limits::capacity_loads, "loads"}, false)) {
    station.capacity = static_cast<int>(*loads);
  }
  return station;
}

DraftCharger read_charger(const JsonValue& value, const std::string& pointer, Findings& findings) {
  Fields fields(value, pointer, "a charger", {"id", "point"}, findings);
  DraftCharger charger;
  charger.id = fields.id("id");
  charger.point = fields.reference("point", "the point where carts stand at it");
  return charger;
}

/// The id of a segment in a list of them.
Reference read_reference(const JsonValue& value, const std::string& pointer, Findings& findings) {
  if (const auto* text = std::get_if<std::string>(&value.data)) return *text;
  findings.add(pointer, found(value) + " instead of an id", "give the id of a segment");
  return std::nullopt;
}

std::pair<Reference, Reference> read_conflict(const JsonValue& value, const std::string& pointer,
                                              Findings& findings) {
  const auto* pair = std::get_if<JsonValue::List>(&value.data);
  if (!pair || pair->size() != 2) {
    findings.add(pointer, found(value) + " instead of a pair", "give the ids of two segments");
    return {};
  }
  Reference first = read_reference((*pair)[0], below(pointer, 0), findings);
  Reference second = read_reference((*pair)[1], below(pointer, 1), findings);
  return {std::move(first), std::move(second)};
}

DraftDemand read_demand(const JsonValue& value, const std::string& pointer, Findings& findings) {
  Fields fields(value, pointer, "a flow", {"from", "to", "per_hour"}, findings);
  DraftDemand demand;
  demand.from = fields.reference("from", "the station that sends");
  demand.to = fields.reference("to", "the station that receives");
  const auto rate = fields.number("per_hour", {0, limits::jobs_per_hour, "jobs an hour"}, true);
  demand.per_hour = rate.value_or(0);
  if (rate && *rate == 0) {
    findings.add(fields.pointer_to("per_hour"), "a flow of 0 jobs an hour",
                 "give more than 0, or take the flow away");
  }
  return demand;
}

DraftZone read_zone(const JsonValue& value, const std::string& pointer, Findings& findings) {
  Fields fields(value, pointer, "a zone", {"id", "name", "segments"}, findings);
  DraftZone zone;
  zone.id = fields.id("id");
  zone.name = fields.name("name").value_or("");
  const auto* ids = fields.list("segments", "segments", 1, limits::segments, true);
  for (std::size_t k = 0; ids && k < ids->size(); ++k) {
    zone.segments.push_back(
        read_reference((*ids)[k], below(fields.pointer_to("segments"), k), findings));
  }
  return zone;
}

void read_format(Fields& fields, Findings& findings) {
  const std::string right = "give " + in_quotes(format_name);
  const JsonValue* value = fields.require("format", right);
  if (!value) return;
  const auto* text = std::get_if<std::string>(&value->data);
  if (text && *text == format_name) return;
  findings.add("/format", found(*value) + " is not a format this program reads", right);
}

/// Reads the list under `key` item by item into `target`. False if the list as a whole is no good.
template <class Item, class Read>
bool read_list(Fields& fields, std::string_view key, std::size_t least, std::size_t most,
               bool required, std::vector<Item>& target, Findings& findings, Read read_item) {
  const auto* items = fields.list(key, key == "demand" ? "flows" : key, least, most, required);
  if (!items) return false;
  target.reserve(items->size());
  for (std::size_t k = 0; k < items->size(); ++k) {
    target.push_back(read_item((*items)[k], below(fields.pointer_to(key), k), findings));
  }
  return items->size() >= least;
}

}  // namespace

Draft read_schema(const JsonValue& document, Findings& findings) {
  Draft draft;
  Fields fields(document, "", "a floor",
                {"format", "name", "cart", "points", "segments", "stations", "chargers",
                 "conflicts", "demand", "zones"},
                findings);
  read_format(fields, findings);
  draft.name = fields.name("name").value_or("");
  if (const auto* cart = fields.require("cart", "give the cart's length and width in mm")) {
    read_cart(*cart, draft, findings);
  }
  draft.points_listed =
      read_list(fields, "points", 1, limits::points, true, draft.points, findings, read_point);
  draft.segments_listed = read_list(fields, "segments", 1, limits::segments, true, draft.segments,
                                    findings, read_segment);
  draft.stations_listed = read_list(fields, "stations", 0, limits::stations, true, draft.stations,
                                    findings, read_station);
  read_list(fields, "chargers", 0, limits::chargers, false, draft.chargers, findings, read_charger);
  read_list(fields, "conflicts", 0, limits::conflicts, false, draft.conflicts, findings,
            read_conflict);
  read_list(fields, "demand", 0, limits::demand, false, draft.demand, findings, read_demand);
  read_list(fields, "zones", 0, limits::zones, false, draft.zones, findings, read_zone);
  return draft;
}

}  // namespace tagline::floor
