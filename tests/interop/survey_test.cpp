// A survey over the network: who may, what is refused, what a cart reports comes in order, also
// over a link that breaks; and that nothing is sent to the cart for it.
#include <thread>

#include "tests/interop/people.hpp"

namespace tagline::test {
namespace {

const std::string place = "/api/floor/survey";

class SurveyService : public PeopledService {
 public:
  /// cart-1 has greeted; the board shows it.
  void greet(RawWebSocket& link) const {
    link.send_text(hello(1));
    EXPECT_TRUE(next_of_type(link, "welcome").is_object());
    EXPECT_TRUE(next_of_type(link, "reset").is_object());
    wait_until([this] { return cart_now().at("connected") == true; });
  }
  json cart_now() const { return json::parse(as("Berta", "GET", "/api/carts/cart-1").body); }
  net::ClientResponse begin(const std::string& cart = "cart-1") const {
    return as("Berta", "POST", place, json{{"cart", cart}}.dump());
  }
  json survey(const std::string& query = {}) const {
    return json::parse(as("Berta", "GET", place + query).body).at("survey");
  }
  /// The tags read so far, once there are so many.
  std::vector<std::string> tags(std::size_t count) const {
    std::vector<std::string> found;
    wait_until([&] { return survey().at("last") == count; });
    const json now = survey();
    for (const json& read : now.at("reads")) found.push_back(read.at("tag"));
    return found;
  }
  template <typename Look>
  static void wait_until(Look look) {
    for (int k = 0; k < 200; ++k) {
      if (look()) return;
      std::this_thread::sleep_for(Millis(20));
    }
    ADD_FAILURE() << "timed out";
  }
};

/// `acked`: 0 for its own number; what has been had before is acknowledged with the latest one.
void read(RawWebSocket& link, int seq, const std::string& tag, int acked = 0) {
  link.send_text(R"({"type":"read","seq":)" + std::to_string(seq) + R"(,"tag":")" + tag + "\"}");
  EXPECT_EQ(next_of_type(link, "ack").at("seq"), acked != 0 ? acked : seq);
}

TEST(Survey, RefusesWhatIsNotSafeOrNotThere) {
  const SurveyService works;
  EXPECT_EQ(works.survey(), nullptr);
  EXPECT_EQ(works.begin("cart-9").status, 422);
  EXPECT_EQ(works.as("Berta", "POST", place, "{}").status, 422);
  EXPECT_EQ(works.as("Berta", "GET", place + "?after=x").status, 400);
  EXPECT_EQ(problem_of(works.begin()), "not_connected");
  RawWebSocket link = works.cart_link();
  works.greet(link);
  RawWebSocket other = works.cart_link();
  other.send_text(LiveService::hello(2));
  ASSERT_TRUE(next_of_type(other, "welcome").is_object());
  ASSERT_EQ(works.as("Sam", "POST", "/api/carts/cart-2/place", R"({"point":"P7"})").status, 200);
  const auto refused = works.begin();
  EXPECT_EQ(refused.status, 409);
  EXPECT_EQ(problem_of(refused), "carts_may_drive");
  EXPECT_NE(refused.body.find("cart-2"), std::string::npos);
  ASSERT_EQ(works.as("Otto", "POST", "/api/stop").status, 200);
  EXPECT_EQ(works.begin().status, 200);
  EXPECT_EQ(problem_of(works.begin()), "survey_runs");

  // A supervisor who lets the carts drive again ends it.
  ASSERT_EQ(works.as("Sam", "POST", "/api/release").status, 200);
  const json ended = works.survey().at("ended");
  EXPECT_NE(ended.dump().find("cart-2 is on the floor"), std::string::npos) << ended;
  read(link, 1, "04B10001");
  EXPECT_EQ(works.survey().at("last"), 0);
}

TEST(Survey, KnownAndUnknownTagsComeInOrderAndOnce) {
  const SurveyService works;
  RawWebSocket link = works.cart_link();
  works.greet(link);
  read(link, 1, "04B10000");  // before it begins
  ASSERT_EQ(works.begin().status, 200);
  link.send_text(R"({"type":"state","seq":2,"battery":80,"loaded":false,"moving":true})");
  EXPECT_EQ(next_of_type(link, "ack").at("seq"), 2);
  read(link, 3, "04B10001");
  read(link, 4, "04A10003");     // of P3
  read(link, 3, "04B10001", 4);  // sent again
  read(link, 5, "04B10002");
  EXPECT_EQ(works.tags(3), (std::vector<std::string>{"04B10001", "04A10003", "04B10002"}));
  EXPECT_EQ(works.survey("?after=2").at("reads").size(), 1u);
  EXPECT_EQ(works.survey("?after=7").at("reads").size(), 0u);
  EXPECT_EQ(works.survey().at("tells_moving"), true);
  EXPECT_EQ(works.cart_now().at("mode"), "off_floor") << "a read of a known tag places nobody";
  ASSERT_EQ(works.as("Berta", "POST", place + "/end").status, 200);
  EXPECT_EQ(works.survey().at("ended"), "Berta has ended it.");
  const auto noted = works.audit(2);
  EXPECT_EQ(noted, (std::vector<std::string>{"Berta | end_survey | floor/survey | done",
                                             "Berta | begin_survey | floor/survey | done"}));
  // To its cart the service has said nothing but that it has heard.
  link.send_text(R"({"type":"state","seq":6,"battery":80,"loaded":false,"moving":false})");
  const auto next = link.next_text(Millis(4'000));
  ASSERT_TRUE(next);
  EXPECT_EQ(json::parse(*next), (json{{"type", "ack"}, {"seq", 6}}));
}

TEST(Survey, ABrokenLinkLosesNothingButTheTimes) {
  const SurveyService works;
  {
    RawWebSocket link = works.cart_link();
    works.greet(link);
    std::this_thread::sleep_for(Millis(3'100));  // what comes right after a welcome is late
    ASSERT_EQ(works.begin().status, 200);
    read(link, 1, "04B10001");
  }
  SurveyService::wait_until([&] { return works.survey().at("connected") == false; });
  RawWebSocket again = works.cart_link();
  works.greet(again);
  read(again, 1, "04B10001");  // it may have missed the word
  read(again, 2, "04B10002");
  EXPECT_EQ(works.tags(2), (std::vector<std::string>{"04B10001", "04B10002"}));
  const json survey = works.survey();
  EXPECT_EQ(survey.at("connected"), true);
  EXPECT_EQ(survey.at("reads")[0].at("late"), false);
  EXPECT_EQ(survey.at("reads")[1].at("late"), true);
}

}  // namespace
}  // namespace tagline::test
