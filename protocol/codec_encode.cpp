// Messages -> JSON text, keys in the order of README.md. Writes every key (but those that the first
// point of an authority can't have), so that a small reader needs no defaults.
#include <nlohmann/json.hpp>

#include "protocol/codec.hpp"
#include "protocol/codec_text.hpp"
#include "protocol/codec_words.hpp"

namespace tagline::protocol {
namespace {

using nlohmann::ordered_json;
using words::word_of;

ordered_json to_json(const Hello& hello) {
  return {{"type", "hello"},         {"cart", hello.cart},         {"key", hello.key},
          {"boot", hello.boot},      {"last_tag", hello.last_tag}, {"step", hello.step},
          {"until", hello.until},    {"loaded", hello.loaded},     {"battery", hello.battery},
          {"stopped", hello.stopped}};
}

ordered_json to_json(const Read& read) {
  return {{"type", "read"}, {"seq", read.seq}, {"tag", read.tag}, {"step", read.step}};
}

ordered_json to_json(const State& state) {
  return {{"type", "state"},          {"seq", state.seq},
          {"battery", state.battery}, {"loaded", state.loaded},
          {"moving", state.moving},   {"fault", word_of(words::fault, state.fault)}};
}

ordered_json to_json(const Done& done) {
  return {{"type", "done"},
          {"seq", done.seq},
          {"step", done.step},
          {"what", word_of(words::handling, done.what)}};
}

ordered_json to_json(const Stop& stop) {
  return {{"type", "stop"}, {"seq", stop.seq}, {"cause", word_of(words::cause, stop.cause)}};
}

ordered_json to_json(const Release& release) { return {{"type", "release"}, {"seq", release.seq}}; }

ordered_json to_json(const Welcome& welcome) {
  return {{"type", "welcome"}, {"seq", welcome.seq}, {"time_ms", welcome.time_ms}};
}

ordered_json to_json(const Ack& ack) { return {{"type", "ack"}, {"seq", ack.seq}}; }

ordered_json to_json(const AuthorityPoint& point, bool first) {
  ordered_json object = {{"step", point.step},
                         {"point", point.point},
                         {"tags", point.tags},
                         {"act", word_of(words::act, point.act)}};
  if (!first) {
    object["branch"] = word_of(words::branch, point.branch);
    object["gear"] = word_of(words::gear, point.gear);
    object["length"] = point.length;
    object["speed"] = point.speed;
  }
  return object;
}

ordered_json to_json(const Authority& authority) {
  ordered_json points = ordered_json::array();
  for (const AuthorityPoint& point : authority.points) {
    points.push_back(to_json(point, points.empty()));
  }
  return {{"type", "authority"}, {"trip", authority.trip}, {"points", std::move(points)}};
}

ordered_json to_json(const Hold& hold) {
  return {{"type", "hold"}, {"reason", cut_utf8(hold.reason, max_reason_bytes)}};
}

ordered_json to_json(const ServiceStop& stop) {
  return {{"type", "stop"}, {"reason", cut_utf8(stop.reason, max_reason_bytes)}};
}

ordered_json to_json(const ServiceRelease& /*release*/) { return {{"type", "release"}}; }

ordered_json to_json(const Reset& /*reset*/) { return {{"type", "reset"}}; }

ordered_json to_json(const Handled& handled) {
  return {{"type", "handled"},
          {"step", handled.step},
          {"what", word_of(words::handling, handled.what)}};
}

template <class Message>
std::string write(const Message& message) {
  const ordered_json frame = std::visit([](const auto& one) { return to_json(one); }, message);
  // An id that is no UTF-8 can't come from a checked file; replaced rather than thrown about.
  return frame.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

}  // namespace

std::string encode(const CartMessage& message) { return write(message); }

std::string encode(const ServiceMessage& message) { return write(message); }

}  // namespace tagline::protocol
