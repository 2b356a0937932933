// Targets, UTF-8, the door, strict bodies and static files.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "server/net/body_reader.hpp"
#include "server/net/cookies.hpp"
#include "server/net/door.hpp"
#include "server/net/route_table.hpp"
#include "server/net/static_files.hpp"

namespace tagline::net::test {
namespace {

using nlohmann::json;

TEST(Target, IsCutBeforeItIsDecoded) {
  const auto target = parse_target("/api/carts/a%2Fb?state=x%20y&limit=3&flag");
  ASSERT_TRUE(target);
  EXPECT_EQ(target->pieces, (std::vector<std::string>{"api", "carts", "a/b"}));
  EXPECT_EQ(target->parameter("state"), "x y");
  EXPECT_EQ(target->parameter("limit"), "3");
  EXPECT_EQ(target->parameter("flag"), "");
  EXPECT_FALSE(target->parameter("none"));
  EXPECT_TRUE(parse_target("/")->pieces.empty());
}

TEST(Target, RefusesWhatIsNoPath) {
  for (const char* bad : {"", "api", "http://x/", "/%", "/%4", "/%zz", "/a%00b", "/a%0ab", "/%ff",
                          "/%c0%af", "/?x=%ff"})
    EXPECT_FALSE(parse_target(bad)) << bad;
}

TEST(Utf8, KnowsTheFormsOfRfc3629) {
  EXPECT_TRUE(is_utf8("plain"));
  EXPECT_TRUE(is_utf8("\xC3\xA9\xE2\x82\xAC\xF0\x9F\x9B\xA0"));
  // Overlong, surrogate, above U+10FFFF, cut off, stray continuation.
  for (const char* bad : {"\xC0\xAF", "\xE0\x80\x80", "\xED\xA0\x80", "\xF4\x90\x80\x80",
                          "\xE2\x82", "\x80", "\xF5\x80\x80\x80", "\xF0\x80\x80\x80"})
    EXPECT_FALSE(is_utf8(bad))
        << json(std::string(bad)).dump(-1, ' ', true, json::error_handler_t::replace);
}

Request from(std::optional<std::string> host, std::optional<std::string> origin = {}) {
  Request request;
  request.method = "GET";
  request.target = "/";
  request.host = std::move(host);
  request.origin = std::move(origin);
  return request;
}

TEST(Door, LetsInOnlyOwnNamesAndOwnPages) {
  const HostNames names{"works.example"};
  const auto status = [&](const Request& request) {
    const auto refusal = refuse_at_door(request, names);
    return refusal ? refusal->status : 0;
  };
  EXPECT_EQ(status(from("127.0.0.1:8080")), 0);
  EXPECT_EQ(status(from("[::1]:8080")), 0);
  EXPECT_EQ(status(from("localhost")), 0);
  EXPECT_EQ(status(from("Works.Example:8080")), 0);
  EXPECT_EQ(status(from("other.example")), 421);
  EXPECT_EQ(status(from("127.0.0.1.other.example")), 421);
  EXPECT_EQ(status(from({})), 400);
  EXPECT_EQ(status(from("127.0.0.1:8080", "http://127.0.0.1:8080")), 0);
  EXPECT_EQ(status(from("works.example", "https://works.example")), 0);
  EXPECT_EQ(status(from("127.0.0.1:8080", "http://127.0.0.1:8081")), 403);
  EXPECT_EQ(status(from("127.0.0.1:8080", "http://other.example")), 403);
  EXPECT_EQ(status(from("127.0.0.1:8080", "null")), 403);
  Request tls = from("works.example", "https://works.example");
  tls.over_tls = true;
  EXPECT_EQ(status(tls), 0);
  tls.origin = "http://works.example";
  EXPECT_EQ(status(tls), 403);
  Request twice = from("localhost");
  twice.ambiguous = true;
  EXPECT_EQ(status(twice), 400);
}

TEST(Proxy, TellsTheAddressItSaw) {
  const auto seen = [](const char* from, std::optional<std::string> told, const char* proto = "") {
    Request request;
    request.address = from;
    request.forwarded_for = std::move(told);
    request.forwarded_proto = proto;
    see_through_proxy(request, {"127.0.0.1", "10.0.0.2"});
    return request.address + (request.over_tls ? " tls" : "");
  };
  EXPECT_EQ(seen("127.0.0.1", "192.168.4.7", "https"), "192.168.4.7 tls");
  EXPECT_EQ(seen("10.0.0.2", "1.2.3.4, 192.168.4.7", "http"), "192.168.4.7");
  EXPECT_EQ(seen("10.0.0.2", "1.2.3.4,  2001:db8::7 "), "2001:db8::7");
  EXPECT_EQ(seen("10.0.0.3", "192.168.4.7", "https"), "10.0.0.3") << "nobody's proxy";
  for (const char* bad : {"", ",", "1.2.3.4,", "unknown", "_hidden", "1.2.3.4\n",
                          "1.2.3.4.1.2.3.4.1.2.3.4.1.2.3.4.1.2.3.4.1.2.3.4.1.2.3.4"})
    EXPECT_EQ(seen("127.0.0.1", bad), "127.0.0.1") << bad;
  EXPECT_EQ(seen("127.0.0.1", std::nullopt, "https"), "127.0.0.1 tls");
}

TEST(Cookies, AreReadAsTheyAreSent) {
  const auto read = [](const char* sent, bool tls = false) {
    Request request;
    request.cookie = sent;
    request.over_tls = tls;
    return cookie_of(request, session_cookie).value_or("(none)");
  };
  EXPECT_EQ(read("tagline-session=abc"), "abc");
  EXPECT_EQ(read("a=b; tagline-session=abc; c=d"), "abc");
  EXPECT_EQ(read("a=b;tagline-session=abc"), "abc");
  EXPECT_EQ(read("tagline-session="), "");
  EXPECT_EQ(read("tagline-session=a=b"), "a=b");
  EXPECT_EQ(read("Tagline-Session=abc"), "(none)") << "names of cookies have a case";
  EXPECT_EQ(read("x-tagline-session=abc"), "(none)");
  EXPECT_EQ(read("tagline-session"), "(none)");
  EXPECT_EQ(read(""), "(none)");
  EXPECT_EQ(read("tagline-session=abc; tagline-session=abc"), "abc");
  EXPECT_EQ(read("tagline-session=abc; tagline-session=abd"), "(none)");
  EXPECT_EQ(read("tagline-session=abc", true), "(none)");
  EXPECT_EQ(read("tagline-session=abc; __Host-tagline-session=def", true), "def");
  EXPECT_EQ(read("tagline-session=abc; __Host-tagline-session=def"), "abc");
}

TEST(Routes, AreFoundPieceByPieceAndWithTheirMethod) {
  const auto action = [](const char* method, const char* path) {
    const Route* route = find_route(method, parse_target(path)->pieces);
    return route ? std::string(route->path) : "";
  };
  EXPECT_EQ(action("GET", "/"), "/");
  EXPECT_EQ(action("HEAD", "/api/carts"), "/api/carts");
  EXPECT_EQ(action("GET", "/api/carts/cart-1"), "/api/carts/{}");
  EXPECT_EQ(action("GET", "/api/carts/a%2Fwhy"), "/api/carts/{}");
  EXPECT_EQ(action("POST", "/api/carts/cart-1/stop"), "/api/carts/{}/stop");
  for (const char* none : {"/api", "/api/carts/cart-1/stop/now", "/api/carts/cart-1", "/stop", "/"})
    EXPECT_EQ(action("POST", none), "") << none;
  EXPECT_EQ(action("post", "/api/stop"), "");
  EXPECT_EQ(methods_at({"api", "jobs"}), "GET, HEAD, POST");
  EXPECT_EQ(methods_at({"api", "stop"}), "POST");
  EXPECT_EQ(methods_at({"live"}), "GET, HEAD");
  EXPECT_EQ(methods_at({"api", "nothing"}), "");
}

Request body(std::string text, std::string type = "application/json") {
  Request request = from("localhost");
  request.method = "POST";
  request.content_type = std::move(type);
  request.body = std::move(text);
  return request;
}

TEST(Body, GoodValuesAreRead) {
  BodyReader reader(body(R"({"from":"CAST","priority":9})", "Application/JSON; charset=utf-8"),
                    {"from", "priority", "note"});
  EXPECT_EQ(reader.text("from", true, 1, 32), "CAST");
  EXPECT_EQ(reader.integer("priority", 0, 9, 5), 9);
  EXPECT_EQ(reader.text("note", false, 0, 200), "");
  EXPECT_FALSE(reader.refusal());
}

TEST(Body, EveryFindingIsNamedWithItsPlace) {
  BodyReader reader(
      body(R"({"from":7,"to":"","priority":1e99,"note":"a\nb","a/b~":1,"note":"x\ty"})"),
      {"from", "to", "priority", "note"});
  reader.text("from", true, 1, 32);
  reader.text("to", true, 1, 32);
  reader.integer("priority", 0, 9, 5);
  reader.text("note", false, 0, 200);
  const auto refusal = reader.refusal();
  ASSERT_TRUE(refusal);
  EXPECT_EQ(refusal->status, 422);
  EXPECT_EQ(refusal->content_type, "application/problem+json");
  std::vector<std::string> pointers;
  const json whole = json::parse(*refusal->body);
  for (const json& error : whole.at("errors")) pointers.push_back(error.at("pointer"));
  EXPECT_EQ(pointers,
            (std::vector<std::string>{"/note", "/a~1b~0", "/from", "/to", "/priority", "/note"}));
}

TEST(Body, WholeNumbersOnlyWithinTheirRange) {
  for (const char* bad :
       {"10", "-1", "5.0", "1e1", "\"5\"", "true", "null", "[]", "18446744073709551615",
        "-9223372036854775808", "99999999999999999999999"}) {
    BodyReader reader(body(std::string("{\"priority\":") + bad + "}"), {"priority"});
    reader.integer("priority", 0, 9, 5);
    EXPECT_TRUE(reader.refusal()) << bad;
  }
}

TEST(Body, WhatIsNoJsonObjectIsRefused) {
  EXPECT_EQ(BodyReader(body("{\"from\":"), {"from"}).refusal()->status, 400);
  EXPECT_EQ(BodyReader(body("{\"from\":\"\xFF\"}"), {"from"}).refusal()->status, 400);
  EXPECT_EQ(BodyReader(body("[]"), {"from"}).refusal()->status, 422);
  EXPECT_EQ(BodyReader(body("{}", "text/plain"), {"from"}).refusal()->status, 415);
  EXPECT_EQ(BodyReader(body(std::string(16'000, '[')), {"from"}).refusal()->status, 400);
  EXPECT_FALSE(refuse_any_body(body("")));
  EXPECT_FALSE(refuse_any_body(body("{}")));
  EXPECT_EQ(refuse_any_body(body("{\"x\":1}"))->status, 422);
}

class StaticFilesTest : public ::testing::Test {
 protected:
  void SetUp() override {
    std::string name = (std::filesystem::temp_directory_path() / "tagline-web-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder = name;
    write("index.html", "<p>board</p>");
    write("board-K3X9PQ2A.js", "let a=1;");
    write("board-K3X9PQ2A.js.gz", "(packed)");
    write("../outside-of-" + folder.filename().string(), "secret");
  }
  void TearDown() override {
    std::filesystem::remove(folder.parent_path() / ("outside-of-" + folder.filename().string()));
    std::filesystem::remove_all(folder);
  }
  void write(const std::string& name, const std::string& text) {
    std::ofstream(folder / name) << text;
  }
  static std::string header(const Response& response, const std::string& name) {
    for (const auto& [key, value] : response.headers)
      if (key == name) return value;
    return {};
  }
  std::filesystem::path folder;
};

TEST_F(StaticFilesTest, ServesWhatWasFoundWithTypeTagAndPolicy) {
  const StaticFiles files(folder);
  const auto page = files.find({}, from("localhost"));
  ASSERT_TRUE(page);
  EXPECT_EQ(*page->body, "<p>board</p>");
  EXPECT_EQ(page->content_type, "text/html; charset=utf-8");
  EXPECT_EQ(header(*page, "Cache-Control"), "no-cache");
  EXPECT_NE(header(*page, "Content-Security-Policy").find("default-src 'none'"), std::string::npos);
  Request again = from("localhost");
  again.if_none_match = header(*page, "ETag");
  const auto unchanged = files.find({}, again);
  EXPECT_EQ(unchanged->status, 304);
  EXPECT_TRUE(unchanged->body->empty());
}

TEST_F(StaticFilesTest, HashedFilesLastAndArePackedForThoseWhoTakeIt) {
  const StaticFiles files(folder);
  Request request = from("localhost");
  const auto plain = files.find({"board-K3X9PQ2A.js"}, request);
  EXPECT_EQ(*plain->body, "let a=1;");
  EXPECT_EQ(header(*plain, "Cache-Control"), "public, max-age=31536000, immutable");
  request.accept_encoding = "br, gzip;q=0.8";
  const auto packed = files.find({"board-K3X9PQ2A.js"}, request);
  EXPECT_EQ(*packed->body, "(packed)");
  EXPECT_EQ(header(*packed, "Content-Encoding"), "gzip");
  EXPECT_NE(header(*packed, "ETag"), header(*plain, "ETag"));
  request.accept_encoding = "gzip;q=0";
  EXPECT_EQ(*files.find({"board-K3X9PQ2A.js"}, request)->body, "let a=1;");
}

TEST_F(StaticFilesTest, APageAnswersForItsNameAndAllBelow) {
  write("here.html", "<p>here</p>");
  const StaticFiles files(folder);
  for (const std::vector<std::string>& path :
       {std::vector<std::string>{"here"}, {"here", "GLAZE"}, {"here", "a/../b"}, {"here.html"}}) {
    const auto page = files.find(path, from("localhost"));
    ASSERT_TRUE(page) << path.back();
    EXPECT_EQ(*page->body, "<p>here</p>");
    EXPECT_EQ(page->content_type, "text/html; charset=utf-8");
    EXPECT_EQ(header(*page, "Cache-Control"), "no-cache");
  }
  EXPECT_FALSE(files.find({"there"}, from("localhost")));
  EXPECT_FALSE(files.find({"there", "here"}, from("localhost")));
  EXPECT_FALSE(files.find({"board-K3X9PQ2A", "x"}, from("localhost")));
}

TEST_F(StaticFilesTest, NoNameLeadsOutOfTheFolder) {
  const StaticFiles files(folder);
  const std::string secret = "outside-of-" + folder.filename().string();
  EXPECT_FALSE(files.find({"..", secret}, from("localhost")));
  EXPECT_FALSE(files.find({"../" + secret}, from("localhost")));
  EXPECT_FALSE(files.find({".", "index.html"}, from("localhost")));
  EXPECT_FALSE(files.find({folder.string(), "index.html"}, from("localhost")));
}

TEST_F(StaticFilesTest, AMissingPageSaysHowToBuildIt) {
  const StaticFiles files(folder / "none");
  EXPECT_FALSE(files.has_page());
  const auto page = files.find({}, from("localhost"));
  ASSERT_TRUE(page);
  EXPECT_EQ(page->status, 503);
  EXPECT_NE(page->body->find("deploy/run build"), std::string::npos);
}

}  // namespace
}  // namespace tagline::net::test
