// Coming in and going out over the real service: the first account, cookies, wrong tries and who
// they keep out, passwords and roles that change while people are signed in.
#include <algorithm>
#include <atomic>

#include "protocol/messages.hpp"
#include "tests/interop/people.hpp"

namespace tagline::test {
namespace {

using Steady = std::chrono::steady_clock;

net::Entrance first_start() {
  net::Entrance entrance;
  entrance.cost = cheap;
  entrance.setup_code = "ABCD-EFGH-JKMN-PQRS";
  return entrance;
}

std::string setup_body(const std::string& code, const std::string& name = "Berta",
                       const std::string& password = good_password) {
  return json{{"code", code}, {"name", name}, {"password", password}}.dump();
}

TEST(SetUp, TheCodeMakesOneBuilderAndNoMore) {
  const PeopledService service(first_start());
  EXPECT_EQ(json::parse(service.ask("GET", "/api/me").body).at("setup"), true);
  EXPECT_EQ(service.ask("GET", "/api/carts").status, 401);
  EXPECT_EQ(service.ask("POST", "/api/stop").status, 401) << "no account is no reason to let in";
  const auto wrong = service.ask("POST", "/api/setup", setup_body("ABCD-EFGH-JKMN-PQRT"));
  EXPECT_EQ(wrong.status, 403);
  EXPECT_EQ(problem_of(wrong), "wrong_code");
  const auto weak = service.ask("POST", "/api/setup", setup_body("ABCDEFGHJKMNPQRS", "Berta", "x"));
  EXPECT_EQ(weak.status, 422);
  EXPECT_EQ(service.ask("POST", "/api/setup", setup_body("ABCDEFGHJKMNPQRS", "demo")).status, 422);

  const auto made = service.ask("POST", "/api/setup", setup_body("abcd efgh jkmn pqrs"));
  ASSERT_EQ(made.status, 201) << made.body;
  const json me = json::parse(made.body);
  EXPECT_EQ(me.at("name"), "Berta");
  EXPECT_EQ(me.at("role"), "builder");
  const std::string secret = cookie_set(made, "tagline-session");
  EXPECT_EQ(me.at("csrf"), access::csrf_of(secret));
  EXPECT_EQ(service.ask("GET", "/api/accounts", {}, browser_of(service, secret)).status, 200);

  const auto again = service.ask("POST", "/api/setup", setup_body("ABCD-EFGH-JKMN-PQRS", "Bert"));
  EXPECT_EQ(again.status, 409);
  EXPECT_EQ(problem_of(again), "setup_done");
  EXPECT_EQ(json::parse(service.ask("GET", "/api/me").body).at("setup"), false);
}

TEST(SetUp, WithoutACodeThereIsNone) {
  net::Entrance entrance;
  entrance.cost = cheap;
  const PeopledService service(std::move(entrance));
  EXPECT_EQ(service.ask("POST", "/api/setup", setup_body("")).status, 409);
  EXPECT_EQ(service.ask("POST", "/api/setup", setup_body("0")).status, 409);
}

TEST(SetUp, GuessingItIsSlowedDown) {
  const PeopledService service(first_start());
  int looked = 0;
  for (int k = 0; k < 15; ++k)
    looked += service.ask("POST", "/api/setup", setup_body("0000-0000-0000-0000")).status == 403;
  EXPECT_EQ(looked, 10);
}

TEST(SignIn, SetsACookieAsRfc6265AndItsSuccessorSay) {
  const PeopledService service;
  const auto in = service.sign_in("Otto", good_password);
  ASSERT_EQ(in.status, 200) << in.body;
  EXPECT_EQ(json::parse(in.body).at("role"), "operator");
  EXPECT_EQ(in.header("Cache-Control"), "no-store");
  const auto cookies = all_of_field(in, "Set-Cookie");
  ASSERT_EQ(cookies.size(), 2u);
  for (const std::string& cookie : cookies) {
    SCOPED_TRACE(cookie);
    EXPECT_NE(cookie.find("; HttpOnly"), std::string::npos);
    EXPECT_NE(cookie.find("; SameSite=Strict"), std::string::npos);
    EXPECT_NE(cookie.find("; Path=/;"), std::string::npos);
    EXPECT_NE(cookie.find("; Max-Age="), std::string::npos);
    EXPECT_EQ(cookie.find("Domain"), std::string::npos) << "for this host only";
    EXPECT_EQ(cookie.find("Secure"), std::string::npos) << "without TLS it would never come back";
    // RFC 6265, 4.1.1: cookie-octet.
    const std::string value =
        cookie.substr(cookie.find('=') + 1, cookie.find(';') - cookie.find('=') - 1);
    EXPECT_GE(value.size(), 43u);
    EXPECT_EQ(value.find_first_not_of("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
                                      "0123456789-_."),
              std::string::npos);
  }
  const std::string secret = cookie_set(in, "tagline-session");
  EXPECT_EQ(
      json::parse(service.ask("GET", "/api/me", {}, browser_of(service, secret)).body).at("name"),
      "Otto");
  const auto second = service.sign_in("otto", good_password);
  EXPECT_NE(cookie_set(second, "tagline-session"), secret);
}

TEST(SignIn, BehindAProxyWithTlsTheCookieIsForTlsOnly) {
  net::Entrance entrance = works_of_people();
  entrance.proxies = {"127.0.0.1"};
  const PeopledService service(std::move(entrance));
  const Headers https{{"X-Forwarded-Proto", "https"}, {"X-Forwarded-For", "10.0.0.7"}};
  const auto in = service.sign_in("Otto", good_password, https);
  ASSERT_EQ(in.status, 200);
  const std::string secret = cookie_set(in, "__Host-tagline-session");
  ASSERT_FALSE(secret.empty());
  for (const std::string& cookie : all_of_field(in, "Set-Cookie")) {
    EXPECT_TRUE(cookie.ends_with("; Secure")) << cookie;
    EXPECT_TRUE(cookie.starts_with("__Host-")) << cookie;
    EXPECT_NE(cookie.find("; Path=/;"), std::string::npos) << "RFC 6265bis, 4.1.3.2";
  }
  Headers with = https;
  with.emplace_back("Cookie", "__Host-tagline-session=" + secret);
  EXPECT_EQ(service.ask("GET", "/api/me", {}, with).status, 200);
  with.back().second = "tagline-session=" + secret;
  EXPECT_EQ(service.ask("GET", "/api/me", {}, with).status, 401);
}

TEST(SignIn, NothingSaysWhetherThereIsAnAccount) {
  const PeopledService service;
  const auto wrong = service.sign_in("Otto", "bisque after glaze");
  const auto nobody = service.sign_in("Nobody", "bisque after glaze");
  EXPECT_EQ(wrong.status, 401);
  EXPECT_EQ(problem_of(wrong), "wrong_sign_in");
  EXPECT_EQ(wrong.body, nobody.body);
  EXPECT_TRUE(all_of_field(wrong, "Set-Cookie").empty());
}

TEST(SignIn, WrongTriesKeepOutNobodyWhoHasBeenThere) {
  const PeopledService service;
  const auto before = service.sign_in("Sam", good_password);
  const Headers known{{"Cookie", "tagline-device=" + cookie_set(before, "tagline-device")}};
  int looked = 0;
  net::ClientResponse last;
  for (int k = 0; k < 30; ++k) {
    last = service.sign_in("Sam", "wrong password " + std::to_string(k));
    looked += last.status == 401 ? 1 : 0;
  }
  EXPECT_EQ(looked, 10);
  EXPECT_EQ(last.status, 429);
  EXPECT_EQ(problem_of(last), "too_often");
  EXPECT_GE(std::stoi(last.header("Retry-After")), 1);
  EXPECT_EQ(service.sign_in("Sam", good_password).status, 429) << "a stranger waits";
  EXPECT_EQ(service.sign_in("Sam", good_password, known).status, 200) << "Sam's browser doesn't";
  EXPECT_EQ(service.as("Sam", "GET", "/api/carts").status, 200) << "nor who is signed in";
  // The pass of one person is no good for another.
  EXPECT_EQ(service.sign_in("Berta", good_password, known).status, 429);
}

TEST(SignIn, ManyAtOnceAreLookedAtOneByOneAndCartsAreAnsweredMeanwhile) {
  net::Entrance entrance = works_of_people();
  access::Salt salt{};
  for (auto& account : entrance.known.accounts)  // at the price of real ones
    account.password_hash = access::hash_password(good_password, salt, access::usual_cost);
  entrance.cost = access::usual_cost;
  entrance.proxies = {"127.0.0.1"};
  const PeopledService service(std::move(entrance));
  RawWebSocket cart = service.cart_link();
  cart.send_text(LiveService::hello(2));
  ASSERT_FALSE(next_of_type(cart, "welcome").is_null());

  constexpr int clients = 20, tries = 2;
  std::atomic<int> taken{0}, waiting{0}, others{0}, over{0};
  std::vector<std::thread> storm;
  for (int k = 0; k < clients; ++k)
    storm.emplace_back([&, k] {
      for (int n = 0; n < tries; ++n) {
        // Each from an address and for a name of its own, so that no other limit holds them.
        const std::string who = std::to_string(k * tries + n);
        const auto answer =
            net::ask_http("127.0.0.1", service.port(),
                          {"POST",
                           "/api/sign-in",
                           {{"X-Forwarded-For", "10.0.0." + who}},
                           json{{"name", "name " + who}, {"password", "wrong"}}.dump()},
                          std::chrono::minutes(2));
        (answer.status == 401 ? taken : answer.status == 429 ? waiting : others)++;
      }
      ++over;
    });
  std::vector<double> waits;
  int seq = 0;
  while (over < clients) {
    const auto begin = Steady::now();
    cart.send_text(state_report(++seq));
    EXPECT_FALSE(next_of_type(cart, "ack").is_null());
    waits.push_back(std::chrono::duration<double>(Steady::now() - begin).count());
    std::this_thread::sleep_for(Millis(1'000 / protocol::max_messages_per_s));
  }
  for (std::thread& one : storm) one.join();
  EXPECT_GE(taken, static_cast<int>(net::PasswordThread::most_waiting));
  EXPECT_EQ(taken + waiting, clients * tries);
  EXPECT_EQ(others, 0);
  // A hash takes some 50 ms: worked out where carts are answered, one would wait for all that are
  // queued. The middle one, because this machine may have other things to do as well.
  ASSERT_GT(waits.size(), 10u);
  std::nth_element(waits.begin(), waits.begin() + static_cast<std::ptrdiff_t>(waits.size() / 2),
                   waits.end());
  EXPECT_LT(waits[waits.size() / 2], 0.2);
}

TEST(SignIn, SigningOutEndsItsSessionItsBoardAndNothingElse) {
  const PeopledService service;
  const std::string first = cookie_set(service.sign_in("Otto", good_password), "tagline-session");
  const std::string second = cookie_set(service.sign_in("Otto", good_password), "tagline-session");
  RawWebSocket one = service.board(browser_of(service, first));
  RawWebSocket two = service.board(browser_of(service, second));
  ASSERT_FALSE(next_of_type(one, "snapshot").is_null());
  ASSERT_FALSE(next_of_type(two, "snapshot").is_null());
  const auto out = service.ask("POST", "/api/sign-out", {}, browser_of(service, first));
  EXPECT_EQ(out.status, 204);
  EXPECT_TRUE(all_of_field(out, "Set-Cookie").at(0).find("Max-Age=0") != std::string::npos);
  EXPECT_EQ(closed_with(one), 4401);
  EXPECT_EQ(service.ask("GET", "/api/me", {}, browser_of(service, first)).status, 401);
  EXPECT_EQ(service.ask("GET", "/api/me", {}, browser_of(service, second)).status, 200);
  EXPECT_FALSE(next_of_type(two, "time").is_null());
}

TEST(SignIn, InTheSameBrowserEndsWhoWasThereBefore) {
  const PeopledService service;
  const std::string first = cookie_set(service.sign_in("Otto", good_password), "tagline-session");
  Headers there{{"Cookie", "tagline-session=" + first}};
  const std::string second =
      cookie_set(service.sign_in("Sam", good_password, there), "tagline-session");
  EXPECT_NE(second, first) << "a session that somebody put there is not taken over";
  EXPECT_EQ(service.ask("GET", "/api/me", {}, there).status, 401);
}

TEST(Accounts, AreMadeChangedAndTakenOutAtOnce) {
  const PeopledService service;
  const auto made = service.as(
      "Berta", "POST", "/api/accounts",
      json{{"name", "Kiln Hand"}, {"role", "viewer"}, {"password", "cone six in the dark"}}.dump());
  ASSERT_EQ(made.status, 201) << made.body;
  const std::string secret =
      cookie_set(service.sign_in("kiln hand", "cone six in the dark"), "tagline-session");
  const Headers hand = browser_of(service, secret);
  EXPECT_EQ(service.ask("POST", "/api/stop", {}, hand).status, 403);
  EXPECT_EQ(service.as("Berta", "POST", "/api/accounts/Kiln%20Hand/role", R"({"role":"operator"})")
                .status,
            204);
  EXPECT_EQ(service.ask("POST", "/api/stop", {}, hand).status, 200) << "without signing in again";
  RawWebSocket board = service.board(hand);
  ASSERT_FALSE(next_of_type(board, "snapshot").is_null());
  EXPECT_EQ(service.as("Berta", "POST", "/api/accounts/kiln%20hand/remove").status, 204);
  EXPECT_EQ(closed_with(board), 4401);
  EXPECT_EQ(service.ask("GET", "/api/me", {}, hand).status, 401);
  EXPECT_EQ(service.sign_in("Kiln Hand", "cone six in the dark").status, 401);

  const auto problem = [&](const std::string& what, const std::string& body = {}) {
    return problem_of(service.as("Berta", "POST", "/api/accounts" + what, body));
  };
  EXPECT_EQ(problem("/Berta/remove"), "conflict") << "the last builder";
  EXPECT_EQ(problem("/Berta/role", R"({"role":"viewer"})"), "conflict");
  EXPECT_EQ(problem("/Nobody/role", R"({"role":"viewer"})"), "not_found");
  EXPECT_EQ(problem("/Vera/role", R"({"role":"owner"})"), "invalid_body");
  const auto add = [&](const char* name, const char* role, const char* password) {
    return problem("", json{{"name", name}, {"role", role}, {"password", password}}.dump());
  };
  EXPECT_EQ(add("VERA", "viewer", "cone six in the dark"), "conflict");
  EXPECT_EQ(add("demo", "viewer", "cone six in the dark"), "invalid_body");
  EXPECT_EQ(add("token:x", "viewer", "cone six in the dark"), "invalid_body");
  EXPECT_EQ(add("Nora", "viewer", "short"), "invalid_body");
  EXPECT_EQ(add("Nora", "queen", "cone six in the dark"), "invalid_body");
  const std::string list = service.as("Berta", "GET", "/api/accounts").body;
  EXPECT_EQ(json::parse(list).at("accounts").size(), 4u);
  EXPECT_EQ(list.find("argon2"), std::string::npos);
}

TEST(Accounts, APasswordIsChangedByItsOwnerOrABuilder) {
  const PeopledService service;
  const std::string body = json{{"old", good_password}, {"password", "glaze before bisque"}}.dump();
  EXPECT_EQ(service.as("Otto", "POST", "/api/accounts/Vera/password", body).status, 403);
  const auto wrong = service.as("Otto", "POST", "/api/accounts/Otto/password",
                                json{{"old", "x"}, {"password", "glaze before bisque"}}.dump());
  EXPECT_EQ(wrong.status, 403);
  EXPECT_EQ(problem_of(wrong), "wrong_password");
  EXPECT_EQ(service
                .as("Otto", "POST", "/api/accounts/Otto/password",
                    R"({"password":"glaze before bisque"})")
                .status,
            422)
      << "the old one is asked for";
  const std::string other = cookie_set(service.sign_in("Otto", good_password), "tagline-session");
  const auto changed = service.as("Otto", "POST", "/api/accounts/otto/password", body);
  ASSERT_EQ(changed.status, 200) << changed.body;
  const std::string fresh = cookie_set(changed, "tagline-session");
  EXPECT_EQ(json::parse(changed.body).at("csrf"), access::csrf_of(fresh));
  EXPECT_EQ(service.ask("GET", "/api/me", {}, browser_of(service, fresh)).status, 200);
  EXPECT_EQ(service.ask("GET", "/api/me", {}, browser_of(service, other)).status, 401);
  EXPECT_EQ(service.as("Otto", "GET", "/api/me").status, 401);
  EXPECT_EQ(service.sign_in("Otto", good_password).status, 401);
  EXPECT_EQ(service.sign_in("Otto", "glaze before bisque").status, 200);

  EXPECT_EQ(
      service
          .as("Berta", "POST", "/api/accounts/Vera/password", R"({"password":"a forgotten glaze"})")
          .status,
      204);
  EXPECT_EQ(service.as("Vera", "GET", "/api/me").status, 401);
  EXPECT_EQ(service.sign_in("Vera", "a forgotten glaze").status, 200);
  // A builder's own still takes the old one.
  EXPECT_EQ(service
                .as("Berta", "POST", "/api/accounts/BERTA/password",
                    R"({"password":"a forgotten glaze"})")
                .status,
            422);
}

TEST(Tokens, AreShownOnceAndDoWhatTheirScopeSays) {
  const PeopledService service;
  const auto add = [&](const json& body) {
    return service.as("Berta", "POST", "/api/tokens", body.dump());
  };
  const auto made = add({{"name", "Lamp"}, {"scope", "viewer"}, {"days", 30}});
  ASSERT_EQ(made.status, 201) << made.body;
  const json lamp = json::parse(made.body);
  const std::string secret = lamp.at("token");
  EXPECT_TRUE(secret.starts_with("tagline_"));
  EXPECT_EQ(service.ask("GET", "/api/carts", {}, bearer(secret)).status, 200);
  EXPECT_EQ(json::parse(service.ask("GET", "/api/me", {}, bearer(secret)).body).at("name"),
            "token:Lamp");
  const std::string list = service.as("Berta", "GET", "/api/tokens").body;
  EXPECT_EQ(list.find(secret), std::string::npos);
  EXPECT_NE(list.find("\"Lamp\""), std::string::npos);

  RawWebSocket board = service.board(bearer(secret));
  ASSERT_FALSE(next_of_type(board, "snapshot").is_null());
  const std::string id = lamp.at("id");
  EXPECT_EQ(service.as("Berta", "POST", "/api/tokens/" + id + "/revoke").status, 204);
  EXPECT_EQ(closed_with(board), 4401);
  EXPECT_EQ(service.ask("GET", "/api/carts", {}, bearer(secret)).status, 401);
  EXPECT_EQ(service.as("Berta", "POST", "/api/tokens/" + id + "/revoke").status, 404);

  EXPECT_EQ(add({{"name", "x"}, {"scope", "viewer"}, {"days", 0}}).status, 422);
  EXPECT_EQ(add({{"name", "x"}, {"scope", "viewer"}, {"days", 3651}}).status, 422);
  EXPECT_EQ(add({{"name", "x"}, {"scope", "viewer"}}).status, 422) << "none lasts for ever";
  EXPECT_EQ(add({{"name", "x"}, {"scope", "owner"}, {"days", 1}}).status, 422);
  EXPECT_EQ(add({{"name", "x"}, {"scope", "call"}, {"days", 1}}).status, 422);
  EXPECT_EQ(
      add({{"name", "x"}, {"scope", "call"}, {"days", 1}, {"from", "CAST"}, {"to", "MOON"}}).status,
      422);
  EXPECT_EQ(add({{"name", "x"}, {"scope", "viewer"}, {"days", 1}, {"from", "CAST"}}).status, 422);
  EXPECT_EQ(add({{"name", "call BUTTON"}, {"scope", "viewer"}, {"days", 1}}).status, 409);
}

TEST(Tokens, ACallButtonQueuesItsOneJob) {
  const PeopledService service;
  const auto made =
      service.as("Berta", "POST", "/api/tokens",
                 R"({"name":"Casting button","scope":"call","days":365,"from":"CAST","to":"DRY"})");
  ASSERT_EQ(made.status, 201) << made.body;
  const std::string secret = json::parse(made.body).at("token");
  const auto pressed = service.ask("POST", "/api/call", {}, bearer(secret));
  ASSERT_EQ(pressed.status, 201) << pressed.body;
  const json job = json::parse(pressed.body);
  EXPECT_EQ(job.at("from"), "CAST");
  EXPECT_EQ(job.at("to"), "DRY");
  EXPECT_EQ(job.at("note"), "token:Casting button");
  Headers again = bearer(secret);
  again.emplace_back("Idempotency-Key", "press-1");
  const auto first = service.ask("POST", "/api/call", {}, again);
  const auto repeat = service.ask("POST", "/api/call", {}, again);
  EXPECT_EQ(first.status, 201);
  EXPECT_EQ(repeat.status, 200);
  EXPECT_EQ(json::parse(first.body).at("id"), json::parse(repeat.body).at("id"));
  EXPECT_EQ(service.ask("POST", "/api/call", R"({"to":"CAST"})", bearer(secret)).status, 422);
  EXPECT_EQ(service.ask("GET", "/api/jobs", {}, bearer(secret)).status, 403);
}

TEST(Tokens, AStuckButtonDoesntFillTheQueue) {
  const PeopledService service;
  int made = 0;
  for (int k = 0; k < 15; ++k)
    made += service.ask("POST", "/api/call", {}, bearer("call button")).status == 201 ? 1 : 0;
  EXPECT_EQ(made, 10);
  EXPECT_EQ(json::parse(service.as("Vera", "GET", "/api/jobs").body).at("jobs").size(), 10u);
}

TEST(Audit, HasWhoDidWhatAboutWhatAndHowItEnded) {
  const PeopledService service;
  service.sign_in("Otto", "wrong");
  service.sign_in("a secret typed into the wrong field", "wrong");
  service.sign_in("Otto", good_password);
  service.as("Otto", "POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})");
  service.as("Otto", "POST", "/api/release");
  service.as("Sam", "POST", "/api/zones/HALL/release");
  service.as("Berta", "POST", "/api/accounts",
             R"({"name":"Nora","role":"viewer","password":"cone six in the dark"})");
  service.ask("POST", "/api/call", {}, bearer("call button"));
  service.as("Otto", "GET", "/api/carts");
  service.as("Otto", "POST", "/api/sign-out");
  service.ask("POST", "/api/stop");
  const std::vector<std::string> expected{"Otto | sign_out |  | done",
                                          "token:call button | call | jobs/2 | done",
                                          "Berta | add_account | accounts/Nora | done",
                                          "Sam | release_zone | zones/HALL | refused: conflict",
                                          "Otto | release_all |  | refused: no_right",
                                          "Otto | ask_job | jobs/1 | done",
                                          "Otto | sign_in |  | done",
                                          "? | sign_in |  | refused: wrong_sign_in",
                                          "Otto | sign_in |  | refused: wrong_sign_in"};
  EXPECT_EQ(service.audit(expected.size()), expected);

  const json page = json::parse(service.as("Sam", "GET", "/api/audit?limit=2&before=3").body);
  ASSERT_EQ(page.at("entries").size(), 2u);
  const json& entry = page.at("entries").at(0);
  EXPECT_EQ(entry.at("id"), 2);
  EXPECT_EQ(entry.at("from_address"), "127.0.0.1");
  EXPECT_LT(entry.at("time").get<std::string>(), "3000");
  for (const char* bad : {"limit=0", "limit=501", "limit=x", "before=0", "before=-1", "who=Otto"})
    EXPECT_EQ(service.as("Sam", "GET", std::string("/api/audit?") + bad).status, 400) << bad;
}

}  // namespace
}  // namespace tagline::test
