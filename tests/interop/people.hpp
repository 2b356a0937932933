// The people of a works and their ways in, for tests of the door: one account of each role with a
// browser that is signed in, a token of each role, and ways in that no longer hold.
#pragma once

#include "tests/interop/live_service.hpp"

namespace tagline::test {

using Headers = std::vector<std::pair<std::string, std::string>>;

inline const std::string good_password = "bisque before glaze";
/// Argon2id at its least: these tests are not about what it costs.
inline constexpr access::HashCost cheap{64, 1, 1};

inline Instant wall_now() {
  return std::chrono::time_point_cast<Duration>(std::chrono::system_clock::now());
}

struct Someone {
  const char* name;
  access::Role role;
};
inline constexpr Someone people[] = {{"Vera", access::Role::viewer},
                                     {"Otto", access::Role::operating},
                                     {"Sam", access::Role::supervisor},
                                     {"Berta", access::Role::builder}};

/// Secrets that hold: "session of Vera", "token of viewer", "call button". That don't: "idle
/// session of Berta", "old session of Berta", "expired token".
inline net::Entrance works_of_people() {
  net::Entrance entrance;
  entrance.cost = cheap;
  access::Salt salt{};
  salt.fill(7);
  const std::string hash = access::hash_password(good_password, salt, cheap);
  const Instant now = wall_now();
  access::Known& known = entrance.known;
  const auto session = [&](const std::string& secret, const char* name, Instant began,
                           Instant seen) {
    known.sessions.push_back({access::sha256(secret), access::key_of(name), began, seen});
  };
  const auto token = [&](const std::string& name, access::Scope scope, Instant expires) {
    known.tokens.push_back({"id-" + std::to_string(known.tokens.size()), name, std::move(scope),
                            access::sha256(name), now, expires, std::nullopt});
  };
  const auto month = std::chrono::days(30);
  for (const Someone& one : people) {
    known.accounts.push_back({one.name, one.role, hash, now, std::nullopt});
    session("session of " + std::string(one.name), one.name, now, now);
    token("token of " + std::string(access::word(one.role)), one.role, now + month);
  }
  token("call button", access::Call{"CAST", "DRY"}, now + month);
  token("expired token", access::Role::builder, now);
  session("idle session of Berta", "Berta", now - std::chrono::days(8), now - std::chrono::days(8));
  session("old session of Berta", "Berta", now - std::chrono::days(31), now);
  return entrance;
}

/// What a browser sends along whose session's cookie is `secret`.
inline Headers browser_of(const LiveService& service, const std::string& secret) {
  return {{"Cookie", "tagline-session=" + secret},
          {"Origin", "http://127.0.0.1:" + std::to_string(service.port())},
          {"X-Tagline-Csrf", access::csrf_of(secret)}};
}
inline Headers bearer(const std::string& token) { return {{"Authorization", "Bearer " + token}}; }
inline std::string as_lines(const Headers& headers) {
  std::string lines;
  for (const auto& [name, value] : headers) lines += name + ": " + value + "\r\n";
  return lines;
}

inline std::string problem_of(const net::ClientResponse& answer) {
  const json body = json::parse(answer.body, nullptr, false);
  const std::string type = body.is_object() ? body.value("type", "") : "";
  return type.substr(type.rfind('/') + 1);
}

/// Every value of a field.
inline std::vector<std::string> all_of_field(const net::ClientResponse& answer,
                                             const std::string& name) {
  std::vector<std::string> values;
  for (const auto& [key, value] : answer.headers)
    if (access::key_of(key) == access::key_of(name)) values.push_back(value);
  return values;
}

/// A service with those people.
class PeopledService : public LiveService {
 public:
  explicit PeopledService(net::Entrance entrance = works_of_people(),
                          net::FloorOffice* office = nullptr,
                          net::FleetOffice* fleet_office = nullptr)
      : LiveService({}, 1, Instant{}, std::move(entrance), office, fleet_office) {}

  net::ClientResponse as(const std::string& name, const std::string& method,
                         const std::string& target, const std::string& body = {}) const {
    return ask(method, target, body, browser_of(*this, "session of " + name));
  }
  net::ClientResponse sign_in(const std::string& name, const std::string& password,
                              Headers headers = {}) const {
    return ask("POST", "/api/sign-in", json{{"name", name}, {"password", password}}.dump(),
               std::move(headers));
  }
  RawWebSocket board(const Headers& headers) const {
    return {port(), "/live", "tagline.live.1", as_lines(headers)};
  }
  /// The latest entries as "who what about outcome", once there are at least `count`.
  std::vector<std::string> audit(std::size_t count) const {
    std::vector<std::string> found;
    for (int k = 0; k < 100 && found.size() < count; ++k) {
      if (k > 0) std::this_thread::sleep_for(Millis(20));
      found.clear();
      const json answer = json::parse(as("Sam", "GET", "/api/audit").body);
      for (const json& entry : answer.at("entries"))
        found.push_back(entry.at("who").get<std::string>() + " | " +
                        entry.at("what").get<std::string>() + " | " +
                        entry.at("about").get<std::string>() + " | " +
                        entry.at("outcome").get<std::string>());
    }
    return found;
  }
};

/// The code a board's link is closed with; 0 if it isn't within some seconds, whatever else comes.
inline int closed_with(RawWebSocket& board) {
  const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(8);
  while (std::chrono::steady_clock::now() < until)
    if (!board.next_text(Millis(1'000)) && board.next_close(Millis(1)).first != 0)
      return board.next_close(Millis(1)).first;
  return 0;
}

/// The value of a cookie that an answer sets; "" if it sets none of that name.
inline std::string cookie_set(const net::ClientResponse& answer, const std::string& name) {
  for (const std::string& field : all_of_field(answer, "Set-Cookie"))
    if (field.starts_with(name + "="))
      return field.substr(name.size() + 1, field.find(';') - name.size() - 1);
  return "";
}

}  // namespace tagline::test
