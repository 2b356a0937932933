// What comes to the door in a shape it should not have: other sites' pages, requests that were put
// together by hand, paths that lead elsewhere, floods. And what every answer says to browsers.
#include "tests/interop/people.hpp"

namespace tagline::test {
namespace {

TEST(Forgery, AChangeByCookieNeedsTheSessionsWordAndThisServicesPage) {
  const PeopledService service;
  const std::string own = "http://127.0.0.1:" + std::to_string(service.port());
  const std::string csrf = access::csrf_of("session of Otto");
  struct Case {
    const char* what;
    Headers headers;
    int status;
    const char* problem;
  };
  const Case cases[] = {
      {"as the page does", {{"Origin", own}, {"X-Tagline-Csrf", csrf}}, 200, ""},
      {"no word", {{"Origin", own}}, 403, "csrf"},
      {"an empty word", {{"Origin", own}, {"X-Tagline-Csrf", ""}}, 403, "csrf"},
      {"another session's word",
       {{"Origin", own}, {"X-Tagline-Csrf", access::csrf_of("session of Sam")}},
       403,
       "csrf"},
      {"no origin", {{"X-Tagline-Csrf", csrf}}, 403, "csrf"},
      {"another site",
       {{"Origin", "http://other.example"}, {"X-Tagline-Csrf", csrf}},
       403,
       "other_origin"},
      {"another port of this machine",
       {{"Origin", "http://127.0.0.1:1"}, {"X-Tagline-Csrf", csrf}},
       403,
       "other_origin"},
      {"a page from nowhere", {{"Origin", "null"}, {"X-Tagline-Csrf", csrf}}, 403, "other_origin"},
  };
  for (const Case& one : cases) {
    SCOPED_TRACE(one.what);
    Headers headers = one.headers;
    headers.emplace_back("Cookie", "tagline-session=session of Otto");
    const auto answer = service.ask("POST", "/api/stop", {}, headers);
    EXPECT_EQ(answer.status, one.status) << answer.body;
    EXPECT_EQ(problem_of(answer), one.problem);
  }
  // To look takes neither, but not from another site's page; a token needs neither.
  EXPECT_EQ(
      service.ask("GET", "/api/carts", {}, {{"Cookie", "tagline-session=session of Otto"}}).status,
      200);
  EXPECT_EQ(service.ask("POST", "/api/stop", {}, bearer("token of operator")).status, 200);
  EXPECT_EQ(service.sign_in("Otto", good_password, {{"Origin", "http://other.example"}}).status,
            403);
}

TEST(Forgery, ABoardIsOpenedByThisServicesPageOnly) {
  const PeopledService service;
  const std::string cookie = "Cookie: tagline-session=session of Vera\r\n";
  const auto opens = [&](const std::string& headers) {
    return RawWebSocket(service.port(), "/live", "tagline.live.1", headers).open();
  };
  EXPECT_TRUE(
      opens(cookie + "Origin: http://127.0.0.1:" + std::to_string(service.port()) + "\r\n"));
  EXPECT_FALSE(opens(cookie));
  EXPECT_FALSE(opens(cookie + "Origin: http://other.example\r\n"));
  EXPECT_FALSE(opens(cookie + "Origin: null\r\n"));
  EXPECT_TRUE(opens("Authorization: Bearer token of viewer\r\n"));
  EXPECT_TRUE(opens("authorization: bearer token of viewer\r\n")) << "RFC 9110, 11.1";
}

TEST(Answers, AllSayWhatABrowserMayDoWithThem) {
  const PeopledService service;
  const auto check = [](const net::ClientResponse& answer) {
    const std::string policy = answer.header("Content-Security-Policy");
    EXPECT_NE(policy.find("default-src 'none'"), std::string::npos) << policy;
    EXPECT_NE(policy.find("frame-ancestors 'none'"), std::string::npos) << policy;
    EXPECT_EQ(policy.find("unsafe"), std::string::npos) << policy;
    EXPECT_EQ(policy.find('*'), std::string::npos) << policy;
    EXPECT_EQ(all_of_field(answer, "Content-Security-Policy").size(), 1u);
    EXPECT_EQ(answer.header("X-Content-Type-Options"), "nosniff");
    EXPECT_EQ(answer.header("X-Frame-Options"), "DENY");
    EXPECT_EQ(answer.header("Referrer-Policy"), "no-referrer");
    EXPECT_EQ(answer.header("Cross-Origin-Opener-Policy"), "same-origin");
    EXPECT_EQ(answer.header("Cross-Origin-Resource-Policy"), "same-origin");
    EXPECT_FALSE(answer.header("Permissions-Policy").empty());
    EXPECT_TRUE(answer.header("Access-Control-Allow-Origin").empty());
  };
  for (const auto& answer :
       {service.ask("GET", "/"), service.ask("GET", "/api/health"), service.ask("GET", "/api/me"),
        service.as("Vera", "GET", "/api/carts"), service.as("Vera", "POST", "/api/stop"),
        service.as("Vera", "GET", "/nothing"), service.ask("GET", "/%00"),
        service.ask("GET", "/live"), service.as("Vera", "DELETE", "/api/jobs"),
        service.ask("GET", "/", {}, {{"Host", "other.example"}}),
        service.ask("POST", "/api/sign-in", std::string(20'000, ' '))})
    check(answer);
  EXPECT_EQ(service.as("Vera", "GET", "/api/carts").header("Cache-Control"), "no-store");
}

TEST(Paths, LeadNowhereButToWhatIsThere) {
  const PeopledService service;
  for (const char* target :
       {"/../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/..%2f..%2fetc%2fpasswd", "//etc/passwd",
        "/./api/carts", "/api/../api/carts", "/api/carts/..%2f..%2fhealth", "/API/carts",
        "/api/carts/%2e%2e/health", "/api/me/../carts", "/api/sign-in/../stop"}) {
    EXPECT_EQ(service.ask("GET", target).status, 401) << target;
    EXPECT_EQ(service.as("Berta", "GET", target).status, 404) << target;
  }
  // What is open can't be stretched to what isn't.
  for (const char* target : {"/api/health/", "/api/health//", "/api/health?x=/api/carts",
                             "/api/health%2f..%2fcarts", "/api/me%2fx"})
    EXPECT_EQ(service.ask("GET", target).body.find("\"carts\""), std::string::npos) << target;
}

TEST(Heads, ThatCouldBeReadInTwoWaysAreRefused) {
  const PeopledService service;
  const std::string host = "Host: 127.0.0.1:" + std::to_string(service.port()) + "\r\n";
  const std::string session = "Cookie: tagline-session=session of Otto\r\n";
  const std::string origin = "Origin: http://127.0.0.1:" + std::to_string(service.port()) + "\r\n";
  const std::string csrf = "X-Tagline-Csrf: " + access::csrf_of("session of Otto") + "\r\n";
  const auto status = [&](const std::string& lines, const std::string& first = "POST /api/stop") {
    RawSocket socket(service.port());
    socket.send(first + " HTTP/1.1\r\n" + lines + "Content-Length: 0\r\nConnection: close\r\n\r\n");
    const std::string answer = socket.take_until("\r\n");
    return answer.size() < 12 ? 0 : std::stoi(answer.substr(9, 3));
  };
  EXPECT_EQ(status(host + session + origin + csrf), 200);
  EXPECT_EQ(status(host + host + session + origin + csrf), 400);
  EXPECT_EQ(status(host + session + origin + origin + csrf), 400);
  EXPECT_EQ(status(host + session + origin + csrf + csrf), 400);
  const std::string token = "Authorization: Bearer token of operator\r\n";
  EXPECT_EQ(status(host + token), 200);
  EXPECT_EQ(status(host + token + "Authorization: Bearer made up\r\n"), 400);
  // Two lines of cookies are one list (RFC 9113, 8.2.3, allows it; HTTP/1.1 forbids sending it).
  EXPECT_EQ(status(host + session + session + origin + csrf), 200);
  EXPECT_EQ(status(host + session + "Cookie: tagline-session=made up\r\n" + origin + csrf), 401);
  // Lengths that disagree, and both kinds of length (RFC 9112, 6.3): request smuggling.
  EXPECT_EQ(status(host + token + "Content-Length: 5\r\n"), 400);
  EXPECT_EQ(status(host + token + "Transfer-Encoding: chunked\r\n"), 400);
  EXPECT_EQ(status(host + "Cookie: " + std::string(9'000, 'x') + "\r\n"), 431);
  EXPECT_EQ(status(host + "Authorization: Bearer " + std::string(4'000, 'x') + "\r\n"), 401);
  EXPECT_EQ(status(host + "Cookie: ;;=;=x;tagline-session\r\n"), 401);
}

TEST(Bodies, OfTheDoorsOwnRoutesAreReadStrictly) {
  const PeopledService service;
  const auto status = [&](const std::string& body, const std::string& type = "application/json") {
    return service.ask("POST", "/api/sign-in", body, {{"Content-Type", type}}).status;
  };
  const std::string right = json{{"name", "Otto"}, {"password", good_password}}.dump();
  EXPECT_EQ(status(right), 200);
  EXPECT_EQ(status(right, "text/plain"), 415) << "which another site's form could send";
  EXPECT_EQ(status(right, "application/x-www-form-urlencoded"), 415);
  EXPECT_EQ(status("name=Otto"), 400);
  EXPECT_EQ(status(R"({"name":"Otto"})"), 422);
  EXPECT_EQ(status(R"({"name":"Otto","password":"x","name":"Sam"})"), 422);
  EXPECT_EQ(status(R"({"name":"Otto","password":"x","role":"builder"})"), 422);
  EXPECT_EQ(status(R"({"name":["Otto"],"password":"x"})"), 422);
  EXPECT_EQ(status(R"({"name":"Otto\u0000","password":"x"})"), 422);
  EXPECT_EQ(status(json{{"name", "Otto"}, {"password", std::string(513, 'x')}}.dump()), 422)
      << "nobody has us hash a novel";
  EXPECT_EQ(status(json{{"name", "Otto"}, {"password", std::string(17'000, 'x')}}.dump()), 413);
}

TEST(Proxy, IsBelievedIfItIsNamedAndNobodyElseIs) {
  const auto looked_at = [](net::Entrance entrance, const char* field) {
    const PeopledService service(std::move(entrance));
    int looked = 0;
    for (int k = 0; k < 15; ++k)
      looked += service
                    .sign_in("name " + std::to_string(k), "wrong",
                             {{"X-Forwarded-For", field + std::to_string(k)}})
                    .status == 401;
    return looked;
  };
  // Whoever could write their own address would have no limit.
  EXPECT_EQ(looked_at(works_of_people(), "10.0.0."), 10);
  net::Entrance behind = works_of_people();
  behind.proxies = {"127.0.0.1"};
  EXPECT_EQ(looked_at(behind, "10.0.0."), 15);
  // Only what the proxy itself has seen counts, which it puts last.
  EXPECT_EQ(looked_at(behind, "10.0.0.9, x"), 10);
  const PeopledService service(behind);
  EXPECT_EQ(service.sign_in("Otto", "wrong", {{"X-Forwarded-For", "1.1.1.1, 10.0.0.8"}}).status,
            401);
  service.audit(1);
  const json entry =
      json::parse(service.as("Sam", "GET", "/api/audit?limit=1").body).at("entries").at(0);
  EXPECT_EQ(entry.at("from_address"), "10.0.0.8");
}

TEST(Store, ThatFailsLetsNobodyBeToldThatSomethingWasDone) {
  PeopledService service;
  service.journal.failing = true;
  const auto answer = service.as("Berta", "POST", "/api/tokens/id-0/revoke");
  EXPECT_EQ(answer.status, 503);
  EXPECT_EQ(problem_of(answer), "store_failed");
  EXPECT_EQ(service.sign_in("Otto", good_password).status, 503);
  EXPECT_EQ(service.as("Vera", "GET", "/api/carts").status, 200) << "boards still show the floor";
}

}  // namespace
}  // namespace tagline::test
