// Somebody who sends, connects or guesses too much, against the real service: held back, then
// closed, while the others are served as ever. The figures are those of protocol/README.md, "Not
// too much".
#include <algorithm>
#include <atomic>

#include "tests/interop/live_service.hpp"

namespace tagline::test {
namespace {

using Steady = std::chrono::steady_clock;

double seconds_since(Steady::time_point begin) {
  return std::chrono::duration<double>(Steady::now() - begin).count();
}

/// Greets on a link of its own and then asks, again and again, how long an answer takes.
class Neighbour {
 public:
  explicit Neighbour(const LiveService& service) : link_(service.cart_link()) {
    link_.send_text(LiveService::hello(2));
    EXPECT_FALSE(next_of_type(link_, "welcome").is_null());
  }
  /// Seconds until the answer; a minute if none came.
  double answered_in() {
    const auto begin = Steady::now();
    link_.send_text(state_report(++seq_));
    const json ack = next_of_type(link_, "ack");
    return ack.is_null() || ack.at("seq") != seq_ ? 60 : seconds_since(begin);
  }

 private:
  RawWebSocket link_;
  int seq_{0};
};

/// Sends bytes from a thread of its own until the other side is gone or it is told to stop.
class Sender {
 public:
  template <class Next>
  Sender(RawWebSocket& link, Next next)
      : thread_([this, &link, next]() mutable {
          while (!stop_ && link.socket().send(next())) {
          }
        }) {}
  ~Sender() {
    stop_ = true;
    thread_.join();
  }
  Sender(const Sender&) = delete;
  Sender& operator=(const Sender&) = delete;

 private:
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

TEST(Flood, IsReadNoFasterThenClosedAndTheNeighbourIsServed) {
  LiveService service;
  Neighbour neighbour(service);
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(link, "welcome").is_null());

  const auto begin = Steady::now();
  double slowest = 0;
  int acked = 0, code = 0;
  std::string reason;
  {
    const Sender sender(link, [seq = 0]() mutable {
      return RawWebSocket::frame(Opcode::text, state_report(++seq));
    });
    while (code == 0 && seconds_since(begin) < 30) {
      slowest = std::max(slowest, neighbour.answered_in());
      // Not next_text(): its pongs would come between the sender's bytes.
      while (const auto frame = link.next_frame(Millis(20))) {
        if (frame->opcode == Opcode::text && frame->payload.starts_with(R"({"type":"ack")"))
          ++acked;
        if (frame->opcode != Opcode::close) continue;
        code = static_cast<unsigned char>(frame->payload[0]) << 8 |
               static_cast<unsigned char>(frame->payload[1]);
        reason = frame->payload.substr(2);
        break;
      }
    }
  }
  const double took = seconds_since(begin);
  EXPECT_EQ(code, 4429);
  EXPECT_EQ(reason, "too many messages for too long");
  EXPECT_GE(took, 9.5);
  EXPECT_LE(took, 20);
  // 100 at once and 20 a second; what the last look at the clock let through comes on top.
  EXPECT_GE(acked, 100);
  EXPECT_LE(acked, 100 + 20 * took + 20);
  EXPECT_LT(slowest, 2);
}

TEST(Flood, AFullOutboxAfterALostLinkIsNoFlood) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(link, "welcome").is_null());
  const auto begin = Steady::now();
  for (int seq = 1; seq <= 160; ++seq) link.send_text(state_report(seq));
  double hundredth = 0;
  for (int seq = 1; seq <= 160; ++seq) {
    ASSERT_EQ(next_of_type(link, "ack").at("seq"), seq);
    if (seq == 100) hundredth = seconds_since(begin);
  }
  EXPECT_LT(hundredth, 2);
  EXPECT_GE(seconds_since(begin), 2.5);  // the other 60 at 20 a second
  EXPECT_EQ(link.next_close(Millis(300)).first, 0);
}

TEST(Flood, OfEmptyPiecesDelaysNobody) {
  LiveService service;
  Neighbour neighbour(service);
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(link, "welcome").is_null());
  link.send_frame(Opcode::text, "", false);
  std::string pieces;
  for (int k = 0; k < 1'000; ++k) pieces += RawWebSocket::frame(Opcode::more, "", false);
  double slowest = 0;
  const Sender sender(link, [pieces] { return pieces; });
  for (const auto begin = Steady::now(); seconds_since(begin) < 1.5;)
    slowest = std::max(slowest, neighbour.answered_in());
  EXPECT_LT(slowest, 2);
}

TEST(Flood, OfConnectionsFromOneAddressLeavesRoomForOthers) {
  net::NetLimits limits;
  limits.connections.strangers_of_one_address = 3;
  limits.first_request_time = Millis(1'500);
  LiveService service(limits);
  RawWebSocket cart = service.cart_link();
  cart.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(cart, "welcome").is_null());  // no stranger any more

  RawSocket silent(service.port()), half_a_head(service.port());
  half_a_head.send("GET /cart HTTP/1.1\r\nHost: 127");
  RawWebSocket no_hello = service.cart_link();
  ASSERT_TRUE(no_hello.open());
  RawSocket one_more(service.port());
  EXPECT_EQ(one_more.take_all(Millis(1'000)), "");
  EXPECT_TRUE(one_more.closed());
  // From another address there is room.
  RawWebSocket other(service.port(), "/cart", "tagline.cart.1", {}, 0x7F000002);
  other.send_text(LiveService::hello(2));
  EXPECT_FALSE(next_of_type(other, "welcome").is_null());
  cart.send_text(state_report(1));
  EXPECT_EQ(next_of_type(cart, "ack").at("seq"), 1);
  // Half a request is not waited for long; then there is room here too.
  half_a_head.take_all(Millis(4'000));
  EXPECT_TRUE(half_a_head.closed());
  silent.take_all(Millis(4'000));
  EXPECT_TRUE(silent.closed());
  EXPECT_TRUE(service.cart_link().open());
}

/// They take all room for strangers; half of them have begun a request.
TEST(Flood, OfTwoThousandIdleConnectionsLeavesCartsAsTheyWere) {
  constexpr std::size_t wanted = 2'000;
  net::NetLimits limits;
  limits.first_request_time = Millis(60'000);  // so that none goes while it is looked at
  LiveService service(limits);
  Neighbour neighbour(service);
  const auto slowest_of = [&](int times) {
    double slowest = 0;
    for (int k = 0; k < times; ++k) slowest = std::max(slowest, neighbour.answered_in());
    return slowest;
  };
  std::vector<std::unique_ptr<RawSocket>> idle;
  double slowest = 0;
  for (std::size_t k = 0; k < wanted; ++k) {
    const auto from = static_cast<std::uint32_t>(0x7F000100 + k % 8);
    idle.push_back(std::make_unique<RawSocket>(service.port(), from));
    if (k % 2 == 0) idle.back()->send("GET / HTTP/1.1\r\nHost: 127");
    if (k % 100 == 0) slowest = std::max(slowest, slowest_of(1));
  }
  slowest = std::max(slowest, slowest_of(50));
  EXPECT_LT(slowest, 2);  // far below the 15 s after which a cart gives its link up
  // A cart that comes now gets in, for the one that has been idle for longest.
  RawWebSocket cart = service.cart_link();
  cart.send_text(LiveService::hello(1));
  EXPECT_FALSE(next_of_type(cart, "welcome").is_null());
  idle.front()->take_all(Millis(4'000));
  EXPECT_TRUE(idle.front()->closed());
  // The others were there all the time: the last of them can finish what it began.
  RawSocket& last = *idle[wanted - 2];
  last.send(".0.0.1\r\n\r\n");
  EXPECT_TRUE(last.take(9).starts_with("HTTP/1.1 "));
}

TEST(Flood, OfWrongKeysIsSlowedDownWhereItComesFrom) {
  LiveService service;
  const auto try_key = [&](const std::string& hello, std::uint32_t from) {
    RawWebSocket link(service.port(), "/cart", "tagline.cart.1", {}, from);
    const auto begin = Steady::now();
    link.send_text(hello);
    const bool welcome = !next_of_type(link, "welcome").is_null();
    EXPECT_EQ(link.next_close(Millis(10)).first, welcome ? 0 : 4401);
    return std::pair(welcome, seconds_since(begin));
  };
  constexpr std::uint32_t here = INADDR_LOOPBACK, elsewhere = 0x7F000002;
  std::string wrong = LiveService::hello(1);
  wrong.replace(wrong.find("sample-key-of-cart-1"), 20, "sample-key-of-cart-9");
  for (int k = 0; k < 10; ++k) {
    const auto [welcome, took] = try_key(wrong, here);
    EXPECT_FALSE(welcome);
    EXPECT_LT(took, 1.5) << k;
  }
  const auto [bad, bad_took] = try_key(wrong, here);
  EXPECT_FALSE(bad);
  EXPECT_GE(bad_took, 1.9);
  const auto [good, good_took] = try_key(LiveService::hello(1), here);
  EXPECT_TRUE(good);  // nobody with the right key is locked out
  EXPECT_GE(good_took, 1.9);
  const auto [other, other_took] = try_key(LiveService::hello(2), elsewhere);
  EXPECT_TRUE(other);
  EXPECT_LT(other_took, 1.5);
}

}  // namespace
}  // namespace tagline::test
