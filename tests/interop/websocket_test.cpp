// The service's WebSockets against RFC 6455 by a client that shares no code with it.
#include <future>

#include "tests/interop/live_service.hpp"

namespace tagline::test {
namespace {

std::string state(int seq) {
  return R"({"type":"state","seq":)" + std::to_string(seq) +
         R"(,"battery":87,"loaded":false,"moving":false})";
}

TEST(WebSocket, HandshakeAnswersTheSampleKeyOfTheStandard) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  EXPECT_TRUE(link.open()) << link.head();
  // RFC 6455, 1.3.
  EXPECT_NE(link.head().find("Sec-WebSocket-Accept: " + std::string(RawWebSocket::accept)),
            std::string::npos)
      << link.head();
  EXPECT_NE(link.head().find("Sec-WebSocket-Protocol: tagline.cart.1"), std::string::npos);
}

TEST(WebSocket, HandshakeIsRefusedWithoutTheSubprotocol) {
  LiveService service;
  for (const char* path : {"/cart", "/live"})
    for (const char* offered : {"", "tagline.cart.2", "something"}) {
      RawWebSocket link(service.port(), path, offered);
      EXPECT_TRUE(link.head().starts_with("HTTP/1.1 400")) << link.head();
      EXPECT_NE(link.head().find("application/problem+json"), std::string::npos);
    }
  EXPECT_TRUE(RawWebSocket(service.port(), "/cart", "other, tagline.cart.1").open());
  EXPECT_TRUE(RawWebSocket(service.port(), "/elsewhere", "tagline.cart.1")
                  .head()
                  .starts_with("HTTP/1.1 404"));
  EXPECT_TRUE(
      RawWebSocket(service.port(), "/live", "tagline.live.1", "Origin: http://other.example\r\n")
          .head()
          .starts_with("HTTP/1.1 403"));
  EXPECT_EQ(service.ask("GET", "/cart").status, 426);
}

struct BadFrame {
  const char* name;
  int code;
  void (*send)(RawWebSocket&);
};

class BadFrames : public ::testing::TestWithParam<BadFrame> {};

TEST_P(BadFrames, CloseOnlyTheirOwnLinkWithTheRightCode) {
  LiveService service;
  RawWebSocket good = service.cart_link();
  good.send_text(LiveService::hello(1));
  ASSERT_EQ(next_of_type(good, "welcome").at("seq"), 0);

  RawWebSocket bad = service.cart_link();
  bad.send_text(LiveService::hello(2));
  ASSERT_FALSE(next_of_type(bad, "welcome").is_null());
  GetParam().send(bad);
  EXPECT_EQ(bad.next_close().first, GetParam().code);

  good.send_text(state(1));
  EXPECT_EQ(next_of_type(good, "ack").at("seq"), 1);
}

INSTANTIATE_TEST_SUITE_P(
    Interop, BadFrames,
    ::testing::Values(
        BadFrame{"oversize", 1009,
                 [](RawWebSocket& link) { link.send_text(std::string(65'537, 'x')); }},
        BadFrame{"oversize_in_pieces", 1009,
                 [](RawWebSocket& link) {
                   link.send_frame(Opcode::text, std::string(40'000, 'x'), false);
                   link.send_frame(Opcode::more, std::string(40'000, 'x'), true);
                 }},
        BadFrame{"binary", 1003, [](RawWebSocket& link) { link.send_frame(Opcode::binary, "{}"); }},
        BadFrame{"bad_utf8", 1007,
                 [](RawWebSocket& link) { link.send_text("{\"type\":\"\xC3\x28\"}"); }},
        BadFrame{"unmasked", 1002,
                 [](RawWebSocket& link) { link.send_frame(Opcode::text, "{}", true, false); }},
        BadFrame{"unknown_opcode", 1002,
                 [](RawWebSocket& link) { link.send_frame(static_cast<Opcode>(5), "x"); }},
        BadFrame{"fragmented_ping", 1002,
                 [](RawWebSocket& link) { link.send_frame(Opcode::ping, "x", false); }},
        BadFrame{"continuation_of_nothing", 1002,
                 [](RawWebSocket& link) { link.send_frame(Opcode::more, "x"); }},
        BadFrame{"no_message", 4400, [](RawWebSocket& link) { link.send_text("hello?"); }}),
    [](const auto& test) { return std::string(test.param.name); });

TEST(WebSocket, TakesFragmentsAndAnswersPings) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  const std::string hello = LiveService::hello(1);
  link.send_frame(Opcode::text, hello.substr(0, 20), false);
  link.send_frame(Opcode::ping, "between");
  link.send_frame(Opcode::more, hello.substr(20), true);
  const auto pong = link.next_frame();
  ASSERT_TRUE(pong);
  EXPECT_EQ(pong->opcode, Opcode::pong);
  EXPECT_EQ(pong->payload, "between");
  EXPECT_FALSE(next_of_type(link, "welcome").is_null());
}

TEST(WebSocket, AnswersACloseFrame) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  link.send_frame(Opcode::close, std::string("\x03\xE8", 2));  // 1000
  EXPECT_EQ(link.next_close().first, 1000);
  link.socket().take_all();
  EXPECT_TRUE(link.socket().closed());
}

TEST(WebSocket, FirstMessageMustComeInFiveSeconds) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  const auto began = std::chrono::steady_clock::now();
  EXPECT_EQ(link.next_close(Millis(9'000)).first, 4408);
  EXPECT_GE(std::chrono::steady_clock::now() - began, std::chrono::milliseconds(4'900));
}

TEST(WebSocket, ASilentCartIsPingedAndThenGivenUp) {
  LiveService service;
  RawWebSocket silent = service.cart_link();
  silent.send_text(LiveService::hello(1));
  const auto began = std::chrono::steady_clock::now();
  int pings = 0;
  std::string closed;
  while (const auto frame = silent.next_frame(Millis(20'000))) {  // answers no ping
    if (frame->opcode == Opcode::ping) ++pings;
    if (frame->opcode == Opcode::close) {
      closed = frame->payload;
      break;
    }
  }
  EXPECT_GE(pings, 2);
  ASSERT_GE(closed.size(), 2u);
  EXPECT_EQ(static_cast<unsigned char>(closed[0]) << 8 | static_cast<unsigned char>(closed[1]),
            4408);
  const auto took = std::chrono::steady_clock::now() - began;
  EXPECT_GE(took, std::chrono::milliseconds(14'800));
  EXPECT_LE(took, std::chrono::milliseconds(18'000));
  EXPECT_TRUE(service.shows_soon("/api/carts/cart-1", "connected", false));
}

/// Asked on the network's own thread.
bool network_quiet(net::Network& network) {
  std::promise<bool> quiet;
  network.post([&] { quiet.set_value(network.quiet()); });
  return quiet.get_future().get();
}

/// Sends far more at once than may wait, to a viewer that doesn't read.
class Flood : public net::WsPeer {
 public:
  explicit Flood(std::atomic<int>& closed) : closed_(closed) {}
  void on_open(net::WsLink& link) override {
    const auto text = std::make_shared<const std::string>(1u << 20, 'x');
    for (int k = 0; k < 40; ++k) link.send(text);
  }
  void on_text(std::string_view) override {}
  void on_closed() override { ++closed_; }

 private:
  std::atomic<int>& closed_;
};

class FloodHandler : public net::HttpHandler {
 public:
  void on_request(const net::Request&, net::Respond respond) override {
    respond(net::json_response(200, "{}"));
  }
  std::variant<net::Upgrade, net::Response> on_upgrade(const net::Request&,
                                                       const std::vector<std::string>&) override {
    net::WsRules rules;
    rules.queue_texts = 20;
    rules.queue_bytes = 64u << 20;
    return net::Upgrade{std::make_unique<Flood>(closed), rules};
  }
  std::atomic<int> closed{0};
};

TEST(WebSocket, ATooSlowViewerIsClosedAndOthersAreServed) {
  net::Network network;
  const std::uint16_t port = network.listen("127.0.0.1", 0);
  FloodHandler handler;
  std::thread thread([&] { network.run(handler); });
  {
    RawWebSocket slow(port, "/", "");
    ASSERT_TRUE(slow.open());
    EXPECT_EQ(net::ask_http("127.0.0.1", port, {}).status, 200);
    const auto frame = slow.next_frame();  // the one that was on its way stays whole
    ASSERT_TRUE(frame);
    EXPECT_EQ(frame->payload.size(), 1u << 20);
    EXPECT_EQ(slow.next_close().first, 1013);
    EXPECT_EQ(handler.closed, 1);
  }
  {
    RawWebSocket dead(port, "/", "");  // never reads: cut off after the time for closing
    for (int k = 0; k < 300 && !network_quiet(network); ++k)
      std::this_thread::sleep_for(Millis(20));
    EXPECT_TRUE(network_quiet(network));
    EXPECT_EQ(handler.closed, 2);
  }
  network.post([&] { network.stop(); });
  thread.join();
}

}  // namespace
}  // namespace tagline::test
