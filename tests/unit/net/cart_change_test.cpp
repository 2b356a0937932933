// What boards are told of carts: only what differs, and never too little.
#include <gtest/gtest.h>

#include <map>
#include <nlohmann/json.hpp>
#include <random>

#include "server/net/board_model.hpp"
#include "tests/support/floor_builder.hpp"

namespace tagline::net::test {
namespace {

using nlohmann::json;

/// A loop with a spur on it: A, B, C, D and A again, and B to K and back.
class CartChangeTest : public ::testing::Test {
 protected:
  [[nodiscard]] PoseIx arrived_at(const char* point) const {
    for (const PoseIx pose : ways.poses_at(*floor.find_point(point)))
      if (!ways[pose].entry) return pose;
    return ways.poses_at(*floor.find_point(point)).front();
  }

  /// `change` is null where there is nothing to tell.
  json tell(const control::CartView& cart, std::vector<control::Reason> why = {}) {
    Views views;
    views.carts.push_back({cart, std::move(why)});
    model.apply(views);
    const SharedText change = model.next_change(now);
    return change ? json::parse(*change).at("carts").at(0) : json();
  }

  floor::Floor floor = tagline::test::FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 3000, 0)
                           .point("C", 3000, 3000)
                           .point("D", 0, 3000)
                           .point("K", 6000, 0)
                           .segment("S1", "A", "B")
                           .segment("S2", "B", "C")
                           .segment("S3", "C", "D")
                           .segment("S5", "D", "A")
                           .segment("S4", "B", "K")
                           .spur()
                           .build();
  floor::Ways ways{floor};
  floor::Track track{ways};
  std::vector<std::string> names{"cart-1", "cart-2"};
  BoardModel model{track, names, {2, {}, ""}, 1, "run1"};
  Instant now{Duration{0}};
  control::CartView cart = [this] {
    control::CartView view;
    view.cart = CartIx{0};
    view.mode = control::CartMode::driving;
    view.trip = 7;
    view.path = {{4, arrived_at("A"), control::Act::go},
                 {5, arrived_at("B"), control::Act::go},
                 {6, arrived_at("C"), control::Act::rest}};
    view.authority = 1;
    return view;
  }();
};

TEST_F(CartChangeTest, OnlyWhatDiffersIsTold) {
  tell(cart);
  cart.battery = 41;
  EXPECT_EQ(tell(cart), json::parse(R"({"id":"cart-1","battery":41})"));
  EXPECT_TRUE(tell(cart).is_null());
  cart.waits_for = control::WaitsFor{track.piece(*floor.find_point("C")), CartIx{1}, now, false};
  control::Reason reason;
  reason.kind = control::Reason::Kind::off_floor;
  reason.cart = CartIx{1};
  const json change = tell(cart, {reason});
  EXPECT_EQ(change.size(), 3u) << change;
  EXPECT_EQ(change.at("waits_for").at("track"), "C");
  EXPECT_EQ(change.at("why").at(0).at("kind"), "off_floor");
  cart.waits_for.reset();
  EXPECT_EQ(tell(cart), json::parse(R"({"id":"cart-1","waits_for":null,"why":[]})"));
}

TEST_F(CartChangeTest, WhatIsPassedIsNotTheWholePathAgain) {
  EXPECT_EQ(tell(cart).at("path").size(), 3u);
  cart.path.erase(cart.path.begin());
  cart.authority = 0;
  EXPECT_EQ(tell(cart), json::parse(R"({"id":"cart-1","authority":0,"path_from":5})"));
  cart.path.back().act = control::Act::load;  // nothing is passed, but it is another path
  EXPECT_EQ(tell(cart).at("path").size(), 2u);
  cart.path.push_back({7, arrived_at("A"), control::Act::rest});
  EXPECT_EQ(tell(cart).at("path").size(), 3u);
  cart.path.clear();
  EXPECT_EQ(tell(cart), json::parse(R"({"id":"cart-1","path":[]})"));
}

TEST_F(CartChangeTest, WhereACartBackedOutIsToldWhole) {
  // The step after a spur is shown as backed along S4; as the first of a path it is not.
  PoseIx inside{};
  for (const PoseIx pose : ways.poses_at(*floor.find_point("K")))
    if (ways[pose].entry == arrived_at("B")) inside = pose;
  ASSERT_TRUE(ways[inside].entry);
  cart.path = {{4, inside, {}}, {5, arrived_at("B"), {}}, {6, arrived_at("C"), {}}};
  tell(cart);
  cart.path.erase(cart.path.begin());
  const json change = tell(cart);
  EXPECT_FALSE(change.contains("path_from")) << change;
  EXPECT_EQ(change.at("path").size(), 2u);
}

/// What a client does with a change (API.md).
void lay_over(json& carts, const json& change) {
  for (const json& news : change.value("carts", json::array())) {
    for (json& cart : carts) {
      if (cart.at("id") != news.at("id")) continue;
      json path = json::array();
      for (const json& step : cart.at("path"))
        if (step.at("step") >= news.value("path_from", json(0))) path.push_back(step);
      cart.at("path") = std::move(path);
      cart.update(news);
      cart.erase("path_from");
    }
  }
}

TEST_F(CartChangeTest, ChangesLaidOverTheSnapshotAreWhatIsThere) {
  std::mt19937_64 chance{20261126};
  const auto draw = [&](std::uint64_t below) { return chance() % below; };
  control::CartView carts[2];
  json seen = json::parse(model.snapshot(now)).at("carts");
  std::size_t told = 0, dropped = 0;
  for (int round = 0; round < 4'000; ++round) {
    Views views;
    for (std::uint32_t k = 0; k < 2; ++k) {
      control::CartView& view = carts[k];
      view.cart = CartIx{k};
      if (draw(3) == 0) view.battery = static_cast<int>(draw(100));
      if (draw(4) == 0) view.authority = draw(3);
      if (draw(5) == 0) view.loaded = !view.loaded;
      if (draw(3) == 0) view.holds.assign(draw(3), track.piece(PointIx{0}));
      if (!view.path.empty() && draw(4) != 0) view.path.erase(view.path.begin());
      if (draw(5) == 0) {
        // Another way from the same steps on, a longer one, or another trip.
        if (draw(3) == 0) {
          ++view.trip;
          view.path.clear();
        }
        for (std::uint64_t more = draw(6); more > 0; --more) {
          const std::uint64_t step = view.path.empty() ? 1 : view.path.back().step + 1;
          PoseIx pose{static_cast<std::uint32_t>(draw(ways.pose_count()))};
          if (!view.path.empty() && draw(8) != 0) {
            const auto moves = ways.moves_from(view.path.back().pose);
            pose = moves[draw(moves.size())].to;
          }
          view.path.push_back({step, pose, draw(2) == 0 ? control::Act::go : control::Act::load});
        }
      }
      if (draw(2) == 0) views.carts.push_back({view, {}});
    }
    model.apply(views);
    if (draw(3) == 0) {
      EXPECT_NE(model.cart_json(CartIx{0}), "");  // somebody else looks
    }
    if (draw(3) == 0) continue;  // changes are gathered
    const SharedText text = model.next_change(now);
    if (!text) continue;
    const json change = json::parse(*text);
    ++told;
    dropped += text->find("path_from") != std::string::npos;
    lay_over(seen, change);
    ASSERT_EQ(seen, json::parse(model.carts_json()).at("carts")) << change;
  }
  EXPECT_GT(told, 2'000u);
  EXPECT_GT(dropped, 200u);
}

}  // namespace
}  // namespace tagline::net::test
