// The fleet over HTTP: a cart is added and its key shown once, a new key ends the old one at once,
// a cart is revoked only when it is off the floor, and no key is in a file, a log or another
// answer.
#include <gmock/gmock.h>
#include <spdlog/sinks/ostream_sink.h>
#include <spdlog/spdlog.h>

#include <boost/algorithm/string/replace.hpp>
#include <filesystem>

#include "server/app/cart_office.hpp"
#include "tests/interop/office_floor.hpp"

namespace tagline::test {
namespace {

using app::CartOffice;
using app::Fleet;
using How = net::FleetRefusal::How;

constexpr const char* three_carts = R"({"format":"tagline-fleet/1","carts":[
      {"id":"cart-1","key":"sample-key-of-cart-1","home":"H1"},
      {"id":"cart-2","key":"sample-key-of-cart-2","home":"H2"},
      {"id":"cart-3","key":"sample-key-of-cart-3"}]})";

Fleet fleet_in(const std::filesystem::path& file) {
  return std::get<Fleet>(app::load_fleet(file, LiveService::sample_plant()->floor));
}

/// The program's log for as long as it lives, every level of it.
class LogKept {
 public:
  LogKept() : before_(spdlog::default_logger()) {
    auto logger = std::make_shared<spdlog::logger>(
        "kept", std::make_shared<spdlog::sinks::ostream_sink_mt>(text_));
    logger->set_level(spdlog::level::trace);
    spdlog::set_default_logger(logger);
  }
  ~LogKept() { spdlog::set_default_logger(before_); }
  LogKept(const LogKept&) = delete;
  LogKept& operator=(const LogKept&) = delete;
  [[nodiscard]] std::string text() const { return text_.str(); }

 private:
  std::shared_ptr<spdlog::logger> before_;
  std::ostringstream text_;
};

/// The service with its people, whose fleet is in a file that it may change.
class FleetService : public OfficeFolder {
 public:
  explicit FleetService(const char* fleet_file = three_carts) {
    std::ofstream(fleet()) << fleet_file;
    office_.emplace(fleet(), floor(), fleet_in(fleet()));
    service_.emplace(works_of_people(), nullptr, &*office_);
  }
  PeopledService& service() { return *service_; }
  net::ClientResponse post(const std::string& target, const std::string& body = {}) {
    return service_->as("Berta", "POST", target, body);
  }
  /// A link that has greeted with that key; nothing if it was refused.
  std::unique_ptr<RawWebSocket> greet(const std::string& cart, const std::string& key,
                                      int* code = nullptr) {
    auto link = std::make_unique<RawWebSocket>(service_->port(), "/cart", "tagline.cart.1");
    link->send_text(json{
        {"type", "hello"},
        {"cart", cart},
        {"key", key},
        {"boot", "k7"},
        {"last_tag", ""},
        {"step", 0},
        {"until", 0},
        {"loaded", false},
        {"battery", 87},
        {"stopped",
         false}}.dump());
    if (next_of_type(*link, "welcome").is_object()) return link;
    if (code) *code = link->next_close(Millis(1)).first;
    return nullptr;
  }

 private:
  std::optional<CartOffice> office_;
  std::optional<PeopledService> service_;
};

TEST(FleetDesk, ShowsTheCartsAndNoKey) {
  FleetService works;
  const auto answer = works.service().as("Berta", "GET", "/api/fleet");
  EXPECT_EQ(answer.status, 200);
  EXPECT_EQ(json::parse(answer.body),
            json::parse(R"({"carts":[{"id":"cart-1","home":"H1","key_in_clear":true},
                                     {"id":"cart-2","home":"H2","key_in_clear":true},
                                     {"id":"cart-3","home":null,"key_in_clear":true}]})"));
}

TEST(FleetDesk, AddsACartShowsItsKeyOnceAndEndsTheRun) {
  const LogKept log;
  FleetService works;
  std::filesystem::permissions(works.fleet(), std::filesystem::perms(0600));
  const auto answer = works.post("/api/fleet", R"({"id":"cart-9","home":"P2"})");
  ASSERT_EQ(answer.status, 201) << answer.body;
  EXPECT_EQ(answer.header("Cache-Control"), "no-store");
  const json said = json::parse(answer.body);
  const std::string key = said.at("key");
  EXPECT_EQ(said, (json{{"id", "cart-9"}, {"home", "P2"}, {"key", key}}));
  EXPECT_THAT(key, testing::MatchesRegex("([0-9A-Z]{4}-){6}[0-9A-Z]{4}"));
  EXPECT_EQ(works.service().wait(), net::Service::End::begin_anew);

  const std::string file = text_in(works.fleet());
  EXPECT_EQ(file.find(key), std::string::npos);
  EXPECT_EQ(std::filesystem::status(works.fleet()).permissions(), std::filesystem::perms(0600));
  const Fleet fleet = fleet_in(works.fleet());
  ASSERT_EQ(fleet.size(), 4u);
  for (std::size_t k = 0; k < 3; ++k)
    EXPECT_EQ(fleet[k].key, "sample-key-of-" + fleet[k].id) << "the others stay as they were";
  EXPECT_EQ(fleet[3].digest, access::sha256(key));
  EXPECT_EQ(fleet[3].home, "P2");
  const auto entries = works.service().journal.audit(10, std::nullopt);
  ASSERT_EQ(entries.size(), 1u);
  EXPECT_EQ(
      entries[0].who + " " + entries[0].what + " " + entries[0].about + " " + entries[0].outcome,
      "Berta add_cart fleet/cart-9 done");
  EXPECT_NE(log.text().find("Berta has added cart-9"), std::string::npos) << log.text();
  EXPECT_EQ(log.text().find(key), std::string::npos);
}

TEST(FleetDesk, RefusesACartThatCantBe) {
  FleetService works;
  const std::string before = text_in(works.fleet());
  const auto refused = [&](const std::string& body, int status, const std::string& says) {
    const auto answer = works.post("/api/fleet", body);
    EXPECT_EQ(answer.status, status) << body;
    EXPECT_NE(answer.body.find(says), std::string::npos) << answer.body;
  };
  refused(R"({"id":"cart-2"})", 409, "already");
  refused(R"({})", 422, "\"/id\"");
  refused(R"({"id":"cart 9"})", 422, "\"/id\"");
  refused(R"({"id":"cart-9","home":"P99"})", 422, "\"/home\"");
  refused(R"({"id":"cart-9","home":"H1"})", 422, "another cart's home");
  refused(R"({"id":"cart-9","key":"a-key-of-my-own-1"})", 422, "\"/key\"");
  EXPECT_EQ(works.post("/api/fleet/cart-9/key").status, 404);
  EXPECT_EQ(works.post("/api/fleet/cart-9/revoke").status, 404);
  EXPECT_EQ(text_in(works.fleet()), before);
  EXPECT_EQ(works.service().ask("GET", "/api/health").status, 200);
}

TEST(FleetDesk, ANewKeyEndsTheOldOneAtOnceAndTheRunGoesOn) {
  FleetService works;
  const auto before = works.greet("cart-1", "sample-key-of-cart-1");
  const auto beside = works.greet("cart-2", "sample-key-of-cart-2");
  ASSERT_TRUE(before && beside);
  const auto answer = works.post("/api/fleet/cart-1/key");
  ASSERT_EQ(answer.status, 200) << answer.body;
  EXPECT_EQ(answer.header("Cache-Control"), "no-store");
  const std::string key = json::parse(answer.body).at("key");
  EXPECT_EQ(closed_with(*before), 4401);
  int code = 0;
  EXPECT_FALSE(works.greet("cart-1", "sample-key-of-cart-1", &code));
  EXPECT_EQ(code, 4401);
  EXPECT_FALSE(works.greet("cart-2", key));
  const auto after = works.greet("cart-1", key);
  EXPECT_TRUE(after);
  EXPECT_EQ(beside->next_close(Millis(1)).first, 0) << "nobody else is disturbed";
  const Fleet fleet = fleet_in(works.fleet());
  EXPECT_EQ(fleet[0].digest, access::sha256(key));
  EXPECT_EQ(fleet[0].key, "") << "not in the clear any more";
  EXPECT_EQ(text_in(works.fleet()).find(key), std::string::npos);
  EXPECT_EQ(works.service().audit(1).front(), "Berta | change_cart_key | fleet/cart-1 | done");
}

TEST(FleetDesk, RevokesOnlyWhatIsOffTheFloorAndThenAtOnce) {
  FleetService works;
  const auto link = works.greet("cart-1", "sample-key-of-cart-1");
  ASSERT_TRUE(link);
  const PeopledService& service = works.service();
  ASSERT_EQ(service.as("Sam", "POST", "/api/carts/cart-1/place", R"({"point":"P7"})").status, 200);
  const auto refused = works.post("/api/fleet/cart-1/revoke");
  EXPECT_EQ(refused.status, 409);
  EXPECT_NE(refused.body.find("is on the floor. Take it off the tape"), std::string::npos)
      << refused.body;
  EXPECT_EQ(link->next_close(Millis(100)).first, 0) << "it goes on as before";
  EXPECT_EQ(fleet_in(works.fleet()).size(), 3u);

  ASSERT_EQ(service.as("Sam", "POST", "/api/carts/cart-1/stop").status, 200);
  ASSERT_EQ(service.as("Sam", "POST", "/api/carts/cart-1/remove").status, 200);
  EXPECT_EQ(works.post("/api/fleet/cart-1/revoke").status, 204);
  EXPECT_EQ(closed_with(*link), 4401);
  EXPECT_EQ(works.service().wait(), net::Service::End::begin_anew);
  const Fleet fleet = fleet_in(works.fleet());
  ASSERT_EQ(fleet.size(), 2u);
  EXPECT_EQ(fleet[0].id, "cart-2");
  const auto entries = works.service().journal.audit(10, std::nullopt);
  EXPECT_EQ(entries.front().what, "revoke_cart");
  EXPECT_EQ(entries.front().outcome, "done");
}

TEST(FleetDesk, RevokesNoneThatMayBeOnTheFloor) {
  FleetService works;
  const auto link = works.greet("cart-1", "sample-key-of-cart-1");
  ASSERT_TRUE(link);
  const PeopledService& service = works.service();
  ASSERT_EQ(service.as("Sam", "POST", "/api/carts/cart-1/place", R"({"point":"P7"})").status, 200);
  // A tag that is not on its way: nobody knows what to make of that.
  const json floor = works.floor_file();
  for (const json& point : floor.at("points"))
    if (point.at("id") == "P2")
      link->send_text(
          json{{"type", "read"}, {"seq", 1}, {"tag", point.at("tags")[0]}, {"step", 0}}.dump());
  bool in_doubt = false;
  for (int k = 0; k < 200 && !in_doubt; ++k) {
    in_doubt =
        json::parse(service.as("Sam", "GET", "/api/carts/cart-1").body).at("mode") == "in_doubt";
    std::this_thread::sleep_for(Millis(20));
  }
  ASSERT_TRUE(in_doubt);
  const auto refused = works.post("/api/fleet/cart-1/revoke");
  EXPECT_EQ(refused.status, 409);
  EXPECT_NE(refused.body.find("nobody knows where it stands"), std::string::npos) << refused.body;
  EXPECT_EQ(fleet_in(works.fleet()).size(), 3u);
}

TEST(FleetDesk, WhatCantBeWrittenIsNotDone) {
  FleetService works;
  const std::string before = text_in(works.fleet());
  std::filesystem::create_directory(works.fleet().string() + ".new");  // in the way of the writing
  const auto link = works.greet("cart-1", "sample-key-of-cart-1");
  ASSERT_TRUE(link);
  for (const char* what : {"/api/fleet/cart-1/key", "/api/fleet/cart-1/revoke"}) {
    const auto answer = works.post(what);
    EXPECT_EQ(answer.status, 500) << what;
    EXPECT_EQ(problem_of(answer), "fleet_office");
    EXPECT_NE(answer.body.find("nothing of it was changed"), std::string::npos) << answer.body;
  }
  EXPECT_EQ(text_in(works.fleet()), before);
  EXPECT_TRUE(works.greet("cart-1", "sample-key-of-cart-1")) << "it is let in again";
  EXPECT_EQ(works.service().ask("GET", "/api/health").status, 200) << "the run goes on";
}

TEST(FleetDesk, WithoutAnOfficeThereIsNothingToChange) {
  const PeopledService service;
  EXPECT_EQ(service.as("Berta", "GET", "/api/fleet").status, 404);
  EXPECT_EQ(service.as("Berta", "POST", "/api/fleet/cart-1/revoke").status, 404);
}

TEST(CartOffice, OverwritesNothingThatWasChangedByHand) {
  const OfficeFolder folder;
  CartOffice office(folder.fleet(), folder.floor(), fleet_in(folder.fleet()));
  std::ofstream(folder.fleet()) << three_carts;
  const auto refusal = office.add("cart-9", std::nullopt, access::sha256("x"));
  ASSERT_TRUE(refusal);
  EXPECT_EQ(refusal->how, How::conflict);
  EXPECT_NE(refusal->why.find("by hand"), std::string::npos) << refusal->why;
  EXPECT_EQ(text_in(folder.fleet()), three_carts);
}

TEST(CartOffice, KeepsOneCartAtLeast) {
  const OfficeFolder folder;
  CartOffice office(folder.fleet(), folder.floor(), fleet_in(folder.fleet()));
  EXPECT_FALSE(office.revoke("cart-1"));
  const auto refusal = office.revoke("cart-2");
  ASSERT_TRUE(refusal);
  EXPECT_EQ(refusal->how, How::conflict);
  EXPECT_EQ(fleet_in(folder.fleet()).size(), 1u);
  EXPECT_EQ(office.revoke("cart-1")->how, How::unknown);
}

TEST(CartOffice, AHomeIsOneOfTheFloorAsItIsNow) {
  const OfficeFolder folder;
  CartOffice office(folder.fleet(), folder.floor(), fleet_in(folder.fleet()));
  const std::string file = text_in(folder.floor());
  std::ofstream(folder.floor()) << boost::algorithm::replace_all_copy(file, "\"P2\"", "\"Q2\"");
  const auto refusal = office.add("cart-9", "P2", access::sha256("x"));
  ASSERT_TRUE(refusal);
  EXPECT_EQ(refusal->pointer, "/home");
  EXPECT_FALSE(office.add("cart-9", "Q2", access::sha256("x")));
}

}  // namespace
}  // namespace tagline::test
