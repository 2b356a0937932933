// JSON text -> messages. What each field may hold is written down in README.md; this is its image.
#include <utility>

#include "protocol/codec.hpp"
#include "protocol/codec_fields.hpp"
#include "protocol/codec_json.hpp"
#include "protocol/codec_text.hpp"

namespace tagline::protocol {
namespace {

using nlohmann::json;

Seq read_seq(Fields& fields) { return fields.whole("seq", 1, max_number); }

int read_battery(Fields& fields) { return static_cast<int>(fields.whole("battery", 0, 100)); }

CartMessage read_hello(const json& frame, FirstError& error) {
  Fields fields(
      frame, "", error,
      {"type", "cart", "key", "boot", "last_tag", "step", "until", "loaded", "battery", "stopped"});
  Hello hello;
  hello.cart = fields.id("cart");
  hello.key = fields.secret("key");
  hello.boot = fields.id("boot");
  hello.last_tag = fields.tag_or_none("last_tag");
  hello.step = fields.whole("step", 0, max_number, 0);
  hello.until = fields.whole("until", 0, max_number, 0);
  hello.loaded = fields.truth("loaded");
  hello.battery = read_battery(fields);
  hello.stopped = fields.truth("stopped");
  if (hello.until < hello.step) {
    fields.refuse("until", std::to_string(hello.until) + " is before step",
                  "the last step of the authority held, or 0 for both");
  }
  return hello;
}

CartMessage read_read(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "seq", "tag", "step"});
  Read read;
  read.seq = read_seq(fields);
  read.tag = fields.tag("tag");
  read.step = fields.whole("step", 0, max_number, 0);
  return read;
}

CartMessage read_state(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "seq", "battery", "loaded", "moving", "fault"});
  State state;
  state.seq = read_seq(fields);
  state.battery = read_battery(fields);
  state.loaded = fields.truth("loaded");
  state.moving = fields.truth("moving");
  state.fault = fields.word("fault", words::fault, std::optional{Fault::none});
  return state;
}

CartMessage read_done(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "seq", "step", "what"});
  Done done;
  done.seq = read_seq(fields);
  done.step = fields.whole("step", 1, max_number);
  done.what = fields.word("what", words::handling);
  return done;
}

CartMessage read_stop(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "seq", "cause"});
  Stop stop;
  stop.seq = read_seq(fields);
  stop.cause = fields.word("cause", words::cause);
  return stop;
}

CartMessage read_release(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "seq"});
  return Release{read_seq(fields)};
}

ServiceMessage read_welcome(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "seq", "time_ms"});
  Welcome welcome;
  welcome.seq = fields.whole("seq", 0, max_number);
  welcome.time_ms = static_cast<std::int64_t>(fields.whole("time_ms", 0, max_number));
  return welcome;
}

ServiceMessage read_ack(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "seq"});
  return Ack{read_seq(fields)};
}

/// `act` must end the authority at its last point and nowhere else.
void check_act(Fields& fields, Act act, bool last) {
  const bool goes_on = act == Act::go || act == Act::turn;
  if (goes_on != last) return;
  const std::string word{words::word_of(words::act, act)};
  if (last) {
    fields.refuse("act", in_quotes(word) + " at the last point",
                  "wait, stop, load or unload there");
  } else {
    fields.refuse("act", in_quotes(word) + " before the last point", "go or turn there");
  }
}

AuthorityPoint read_point(const json& object, const std::string& pointer, bool first, bool last,
                          FirstError& error) {
  Fields fields(object, pointer, error,
                {"step", "point", "tags", "act", "branch", "gear", "length", "speed"});
  AuthorityPoint point;
  point.step = fields.whole("step", 1, max_number);
  point.point = fields.id("point");
  point.tags = fields.tags("tags");
  point.act = fields.word("act", words::act);
  check_act(fields, point.act, last);
  if (first) {
    for (const std::string_view key : {"branch", "gear", "length", "speed"}) {
      if (fields.has(key)) {
        fields.refuse(key, "the first point has no way to it", "leave it out at the first point");
      }
    }
    return point;
  }
  point.branch = fields.word("branch", words::branch, std::optional{Branch::straight});
  point.gear = fields.word("gear", words::gear, std::optional{Gear::forward});
  point.length = static_cast<std::int64_t>(fields.whole("length", 1, max_length_mm));
  point.speed = static_cast<std::int64_t>(fields.whole("speed", 1, max_speed_mm_s));
  return point;
}

ServiceMessage read_authority(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "trip", "points"});
  Authority authority;
  authority.trip = fields.whole("trip", 0, max_number);
  const json* points = fields.array("points", 1, max_authority_points);
  if (points == nullptr) return authority;
  for (std::size_t i = 0; i < points->size() && !error; ++i) {
    const std::string pointer = "/points/" + std::to_string(i);
    AuthorityPoint point =
        read_point((*points)[i], pointer, i == 0, i + 1 == points->size(), error);
    if (i > 0 && !error && point.step != authority.points.back().step + 1) {
      error = DecodeError{pointer + "/step", std::to_string(point.step),
                          std::to_string(authority.points.back().step + 1) +
                              ": steps grow by one from point to point"};
    }
    authority.points.push_back(std::move(point));
  }
  return authority;
}

ServiceMessage read_hold(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "reason"});
  return Hold{fields.reason("reason")};
}

ServiceMessage read_service_stop(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "reason"});
  return ServiceStop{fields.reason("reason")};
}

ServiceMessage read_service_release(const json& frame, FirstError& error) {
  const Fields fields(frame, "", error, {"type"});
  return ServiceRelease{};
}

ServiceMessage read_reset(const json& frame, FirstError& error) {
  const Fields fields(frame, "", error, {"type"});
  return Reset{};
}

ServiceMessage read_handled(const json& frame, FirstError& error) {
  Fields fields(frame, "", error, {"type", "step", "what"});
  Handled handled;
  handled.step = fields.whole("step", 1, max_number);
  handled.what = fields.word("what", words::handling);
  return handled;
}

template <class Message>
struct Reader {
  std::string_view type;
  Message (*read)(const json& frame, FirstError& error);
};

constexpr std::array<Reader<CartMessage>, 6> cart_readers{{{"hello", read_hello},
                                                           {"read", read_read},
                                                           {"state", read_state},
                                                           {"done", read_done},
                                                           {"stop", read_stop},
                                                           {"release", read_release}}};
constexpr std::array<Reader<ServiceMessage>, 8> service_readers{{{"welcome", read_welcome},
                                                                 {"ack", read_ack},
                                                                 {"authority", read_authority},
                                                                 {"hold", read_hold},
                                                                 {"stop", read_service_stop},
                                                                 {"release", read_service_release},
                                                                 {"reset", read_reset},
                                                                 {"handled", read_handled}}};

template <class Message, std::size_t count>
std::variant<Message, DecodeError> decode(std::string_view text,
                                          const std::array<Reader<Message>, count>& readers) {
  auto parsed = parse_strict(text);
  if (auto* error = std::get_if<DecodeError>(&parsed)) return std::move(*error);
  const json& frame = std::get<json>(parsed);
  if (!frame.is_object()) return DecodeError{"", "no object", "one JSON object with \"type\""};

  std::string right = "one of";
  for (const auto& reader : readers) {
    right += &reader == readers.data() ? " " : ", ";
    right += reader.type;
  }
  const auto type = frame.find("type");
  if (type == frame.end()) return DecodeError{"/type", "missing", right};
  if (!type->is_string()) return DecodeError{"/type", "no text", right};
  for (const auto& reader : readers) {
    if (reader.type != type->get_ref<const std::string&>()) continue;
    FirstError error;
    Message message = reader.read(frame, error);
    if (error) return std::move(*error);
    return message;
  }
  return DecodeError{"/type", in_quotes(type->get_ref<const std::string&>()), right};
}

}  // namespace

std::variant<CartMessage, DecodeError> decode_cart_message(std::string_view text) {
  return decode(text, cart_readers);
}

std::variant<ServiceMessage, DecodeError> decode_service_message(std::string_view text) {
  return decode(text, service_readers);
}

}  // namespace tagline::protocol
