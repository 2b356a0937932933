// Carts at the door of the real service, and the sample exchanges of the written contract.
#include <algorithm>
#include <fstream>

#include "tests/interop/live_service.hpp"

namespace tagline::test {
namespace {

TEST(CartLink, WrongKeyDuplicateAndSecondHello) {
  LiveService service;
  RawWebSocket first = service.cart_link();
  first.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(first, "welcome").is_null());

  RawWebSocket thief = service.cart_link();
  std::string wrong = LiveService::hello(2);
  wrong.replace(wrong.find("sample-key-of-cart-2"), 20, "sample-key-of-cart-3");
  thief.send_text(wrong);
  const auto wrong_key = thief.next_close();
  RawWebSocket stranger = service.cart_link();
  stranger.send_text(LiveService::hello(9));
  const auto unknown = stranger.next_close();
  EXPECT_EQ(wrong_key.first, 4401);
  EXPECT_EQ(unknown, wrong_key);

  RawWebSocket second = service.cart_link();
  second.send_text(LiveService::hello(1, "other"));
  EXPECT_EQ(second.next_close().first, 4409);
  first.send_text(R"({"type":"state","seq":1,"battery":87,"loaded":false,"moving":false})");
  EXPECT_EQ(next_of_type(first, "ack").at("seq"), 1);

  first.send_text(LiveService::hello(1));
  EXPECT_EQ(first.next_close().first, 4422);
}

// Over Wi-Fi each piece costs a transmission and its acknowledgement, whatever its size.
TEST(CartLink, WhatAnswersOneMessageComesInOnePiece) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  ASSERT_EQ(json::parse(*link.next_text()).at("type"), "welcome");
  EXPECT_EQ(link.socket().more(), 2 + std::string_view(R"({"type":"reset"})").size());
  ASSERT_EQ(json::parse(*link.next_text()).at("type"), "reset");
  EXPECT_EQ(link.socket().more(), 0u);
  // Alone, a text doesn't wait for another one.
  link.send_text(R"({"type":"state","seq":1,"battery":87,"loaded":false,"moving":false})");
  EXPECT_EQ(json::parse(*link.next_text(Millis(1'000))).at("type"), "ack");
}

TEST(CartLink, ALostLinkShowsOnTheBoardAndResumesItsCount) {
  LiveService service;
  {
    RawWebSocket link = service.cart_link();
    link.send_text(LiveService::hello(1));
    ASSERT_FALSE(next_of_type(link, "welcome").is_null());
    link.send_text(R"({"type":"state","seq":5,"battery":44,"loaded":false,"moving":false})");
    ASSERT_EQ(next_of_type(link, "ack").at("seq"), 5);
    EXPECT_EQ(service.get("/api/carts/cart-1").at("battery"), 44);
    EXPECT_EQ(service.get("/api/health").at("carts_connected"), 1);
  }
  EXPECT_TRUE(service.shows_soon("/api/carts/cart-1", "connected", false));
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  EXPECT_EQ(next_of_type(link, "welcome").at("seq"), 5);
}

TEST(CartLink, OldRepeatedAndReorderedMessagesDoNotCount) {
  LiveService service;
  const auto state = [](int seq, int battery) {
    return R"({"type":"state","seq":)" + std::to_string(seq) + R"(,"battery":)" +
           std::to_string(battery) + R"(,"loaded":false,"moving":false})";
  };
  {
    RawWebSocket link = service.cart_link();
    link.send_text(LiveService::hello(1));
    ASSERT_FALSE(next_of_type(link, "welcome").is_null());
    link.send_text(state(5, 44));
    ASSERT_EQ(next_of_type(link, "ack").at("seq"), 5);
    link.send_text(state(4, 10));  // overtaken
    EXPECT_EQ(next_of_type(link, "ack").at("seq"), 5);
    link.send_text(state(5, 11));  // again
    EXPECT_EQ(next_of_type(link, "ack").at("seq"), 5);
    EXPECT_EQ(service.get("/api/carts/cart-1").at("battery"), 44);
  }
  EXPECT_TRUE(service.shows_soon("/api/carts/cart-1", "connected", false));
  {
    RawWebSocket link = service.cart_link();  // the same boot: the count goes on
    std::string hello = LiveService::hello(1);
    hello.replace(hello.find("87"), 2, "44");
    link.send_text(hello);
    ASSERT_EQ(next_of_type(link, "welcome").at("seq"), 5);
    link.send_text(state(3, 12));  // replayed
    EXPECT_EQ(next_of_type(link, "ack").at("seq"), 5);
    EXPECT_EQ(service.get("/api/carts/cart-1").at("battery"), 44);
  }
  EXPECT_TRUE(service.shows_soon("/api/carts/cart-1", "connected", false));
  RawWebSocket link = service.cart_link();  // after a loss of power it begins again
  link.send_text(LiveService::hello(1, "k8"));
  ASSERT_EQ(next_of_type(link, "welcome").at("seq"), 0);
  link.send_text(state(1, 66));
  ASSERT_EQ(next_of_type(link, "ack").at("seq"), 1);
  EXPECT_EQ(service.get("/api/carts/cart-1").at("battery"), 66);
}

TEST(CartLink, StoppingTheServiceSaysSo) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(link, "welcome").is_null());
  RawWebSocket board(service.port(), "/live", "tagline.live.1");
  std::thread stopper([&] { EXPECT_EQ(service.stop(), net::Service::End::stopped); });
  EXPECT_EQ(link.next_close().first, 4503);
  EXPECT_EQ(board.next_close().first, 1001);
  stopper.join();
}

TEST(CartLink, WhenStoringFailsNothingMoreGoesOut) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(link, "welcome").is_null());
  ASSERT_EQ(service.ask("POST", "/api/carts/cart-1/place", R"({"point":"H1"})").status, 200);
  service.journal.failing = true;
  const auto refused = service.ask("POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})");
  EXPECT_EQ(refused.status, 503);
  EXPECT_EQ(json::parse(refused.body).at("type"), "/problems/store_failed");
  EXPECT_EQ(service.ask("GET", "/api/health").status, 503);
  EXPECT_EQ(service.get("/api/health").at("status"), "store_failed");
  EXPECT_EQ(link.next_close().first, 4503);
  const auto jobs = service.get("/api/jobs");
  EXPECT_EQ(jobs.at("jobs").size(), 0u);  // it was never accepted
  EXPECT_EQ(service.ask("POST", "/api/stop").status, 503);
}

TEST(CartLink, ABrokenInvariantStopsEveryCartAndEndsTheService) {
  LiveService service;
  RawWebSocket one = service.cart_link(), two = service.cart_link();
  one.send_text(LiveService::hello(1));
  two.send_text(LiveService::hello(2));
  ASSERT_FALSE(next_of_type(one, "welcome").is_null());
  ASSERT_FALSE(next_of_type(two, "welcome").is_null());
  service.core_broken = true;
  const auto refused = service.ask("POST", "/api/jobs", R"({"from":"CAST","to":"DRY"})");
  EXPECT_EQ(refused.status, 503);
  for (RawWebSocket* link : {&one, &two}) {
    EXPECT_FALSE(next_of_type(*link, "stop").is_null());
    EXPECT_EQ(link->next_close().first, 4503);
  }
  EXPECT_EQ(service.wait(), net::Service::End::core_failed);
}

/// Plays the cart's and the person's lines of a sample to the real service and compares what it
/// answers, in order. Times are the service's own and are not compared.
class Player {
 public:
  explicit Player(const LiveService& service) : service_(service) {}

  /// "cart-1 is connected too and rests at H1"
  void let_cart_1_rest_at_h1() {
    other_.emplace(service_.port(), "/cart", "tagline.cart.1");
    other_->send_text(LiveService::hello(1, "another"));
    ASSERT_FALSE(next_of_type(*other_, "welcome").is_null());
    ASSERT_EQ(service_.ask("POST", "/api/carts/cart-1/place", R"({"point":"H1","came_from":"A1"})")
                  .status,
              200);
  }

  void play(const json& line, const std::string& where) {
    SCOPED_TRACE(where);
    if (line.contains("note")) return others_do(line.at("note").get<std::string>());
    if (line.contains("person")) return play_person(line);
    if (line.contains("link")) {
      if (line.at("link") == "open")
        link_.emplace(service_.port(), "/cart", "tagline.cart.1");
      else
        lose_link();
      return;
    }
    ASSERT_TRUE(link_);
    if (line.at("from") == "cart") {
      link_->send_text(line.contains("raw") ? line.at("raw").get<std::string>()
                                            : line.at("frame").dump());
    } else if (line.contains("close")) {
      const auto [code, reason] = link_->next_close();
      EXPECT_EQ(code, line.at("close").get<int>()) << reason;
      link_.reset();
      if (!other_) settle();
    } else {
      const auto text = link_->next_text(Millis(4'000));
      ASSERT_TRUE(text) << "expected " << line.at("frame").dump() << ", closed with "
                        << link_->next_close(Millis(100)).first;
      json got = json::parse(*text), expected = line.at("frame");
      got.erase("time_ms");
      expected.erase("time_ms");
      EXPECT_EQ(got, expected);
    }
  }

 private:
  /// What the remarks say of carts that are not this one.
  void others_do(const std::string& note) {
    static const std::map<std::string, std::string> tags{
        {"P3", "04A10003"}, {"P4", "04A10004"}, {"P5", "04A10005"}};
    if (note == "the cart is connected already") {
      other_.emplace(service_.port(), "/cart", "tagline.cart.1");
      other_->send_text(LiveService::hello(1, "another"));
      ASSERT_FALSE(next_of_type(*other_, "welcome").is_null());
    } else if (note.starts_with("cart-1 reads ") && other_) {
      const int seq = ++other_seq_;
      other_->send_text(json{
          {"type", "read"},
          {"seq", seq},
          {"tag", tags.at(note.substr(13))},
          {"step", seq + 1}}.dump());
      ASSERT_EQ(next_of_type(*other_, "ack").at("seq"), seq);
    } else if (note == "a value out of range") {
      other_.reset();  // the next case of errors.jsonl: that cart is gone again
      settle();
    }
  }
  void play_person(const json& line) {
    const auto request = line.at("person").get<std::string>();
    const std::size_t space = request.find(' ');
    const auto response = service_.ask(request.substr(0, space), request.substr(space + 1),
                                       line.contains("body") ? line.at("body").dump() : "");
    EXPECT_EQ(response.status, line.at("status").get<int>()) << response.body;
  }
  void lose_link() {
    link_.reset();
    settle();
  }
  /// Until the service has noticed that the connection is gone: a sample has nobody hurry.
  void settle() {
    for (int k = 0; k < 200 && service_.get("/api/health").at("carts_connected") != 0; ++k)
      std::this_thread::sleep_for(Millis(10));
  }

  const LiveService& service_;
  std::optional<RawWebSocket> link_, other_;
  int other_seq_{0};
};

void play_sample(const LiveService& service, const std::string& name) {
  const auto path = std::filesystem::path(TAGLINE_SOURCE_DIR) / "protocol/samples" / name;
  std::ifstream in(path);
  ASSERT_TRUE(in) << path;
  Player player(service);
  if (name == "waiting.jsonl") player.let_cart_1_rest_at_h1();
  std::string text;
  for (int number = 1; std::getline(in, text); ++number) {
    player.play(json::parse(text), name + ":" + std::to_string(number));
    if (::testing::Test::HasFatalFailure()) return;
  }
}

class Samples : public ::testing::TestWithParam<const char*> {};

TEST_P(Samples, TheRealServiceAnswersAsWritten) {
  LiveService service;
  play_sample(service, GetParam());
}

/// As after a start on a machine whose clock was put back an hour since the last record: the times
/// are the records', and nothing else in the exchange is any different.
TEST(CartLink, AClockThatIsAnHourWrongChangesNothing) {
  const auto wall = std::chrono::time_point_cast<Duration>(std::chrono::system_clock::now());
  const Instant later{wall.time_since_epoch() + std::chrono::hours(1)};
  LiveService service({}, 1, later);
  {
    RawWebSocket link = service.cart_link();
    link.send_text(LiveService::hello(3));
    EXPECT_GE(next_of_type(link, "welcome").at("time_ms").get<std::int64_t>(),
              later.time_since_epoch().count());
  }
  play_sample(service, "link-drop.jsonl");
}

INSTANTIATE_TEST_SUITE_P(Interop, Samples,
                         ::testing::Values("first-trip.jsonl", "link-drop.jsonl",
                                           "stop-and-release.jsonl", "waiting.jsonl",
                                           "errors.jsonl"),
                         [](const auto& test) {
                           std::string name = test.param;
                           name = name.substr(0, name.find('.'));
                           std::replace(name.begin(), name.end(), '-', '_');
                           return name;
                         });

}  // namespace
}  // namespace tagline::test
