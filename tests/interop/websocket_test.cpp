// The service's WebSockets against RFC 6455 by a client that shares no code with it.
#include <future>

#include "tests/interop/live_service.hpp"

namespace tagline::test {
namespace {

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
  const std::string refused = RawWebSocket(service.port(), "/cart", "tagline.cart.2").rest();
  EXPECT_NE(refused.find("Offer Sec-WebSocket-Protocol: tagline.cart.1."), std::string::npos)
      << refused;
  EXPECT_TRUE(RawWebSocket(service.port(), "/elsewhere", "tagline.cart.1")
                  .head()
                  .starts_with("HTTP/1.1 404"));
  EXPECT_TRUE(
      RawWebSocket(service.port(), "/live", "tagline.live.1", "Origin: http://other.example\r\n")
          .head()
          .starts_with("HTTP/1.1 403"));
  EXPECT_EQ(service.ask("GET", "/cart").status, 426);
}

/// The versions offered, as header lines come from all kinds of clients and proxies.
TEST(WebSocket, FindsTheVersionHoweverItIsOffered) {
  struct Offer {
    const char* lines;
    bool good;
  };
  const Offer offers[] = {
      {"Sec-WebSocket-Protocol: tagline.cart.2, tagline.cart.1\r\n", true},
      {"Sec-WebSocket-Protocol: tagline.cart.1,tagline.cart.2\r\n", true},
      {"Sec-WebSocket-Protocol:tagline.cart.1\r\n", true},
      {"Sec-WebSocket-Protocol: \t tagline.cart.2 \t,\t tagline.cart.1 \t\r\n", true},
      {"sec-websocket-PROTOCOL: tagline.cart.1\r\n", true},  // RFC 9110, 5.1
      // RFC 6455, 11.3.4: the header may be there several times, as if it were one list.
      {"Sec-WebSocket-Protocol: tagline.cart.2\r\nSec-WebSocket-Protocol: tagline.cart.1\r\n",
       true},
      {"Sec-WebSocket-Protocol: , tagline.cart.1,,\r\n", true},  // RFC 9110, 5.6.1.2
      {"Sec-WebSocket-Protocol: tagline.cart.1, tagline.cart.1\r\n", true},
      {"Sec-WebSocket-Protocol: Tagline.Cart.1\r\n", false},  // another name: RFC 6455, 11.5
      {"Sec-WebSocket-Protocol: tagline.cart.10\r\n", false},
      {"Sec-WebSocket-Protocol: tagline.cart\r\n", false},
      {"Sec-WebSocket-Protocol: tagline.live.1\r\n", false},  // the board's
      {"Sec-WebSocket-Protocol: \"tagline.cart.1\"\r\n", false},
      {"Sec-WebSocket-Protocol: tagline.cart.2 tagline.cart.1\r\n", false},
      {"Sec-WebSocket-Protocol:\r\n", false},
      {"X-Sec-WebSocket-Protocol: tagline.cart.1\r\n", false},
  };
  LiveService service;
  for (const Offer& offer : offers) {
    RawWebSocket link(service.port(), "/cart", "", offer.lines);
    EXPECT_EQ(link.open(), offer.good) << offer.lines << link.head();
    // RFC 6455, 4.2.2: one of those offered, and only one.
    const std::string answer = "Sec-WebSocket-Protocol: tagline.cart.1\r\n";
    EXPECT_EQ(link.head().find(answer) != std::string::npos, offer.good) << link.head();
    EXPECT_EQ(link.head().starts_with("HTTP/1.1 400"), !offer.good) << link.head();
  }
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

  good.send_text(state_report(1));
  EXPECT_EQ(next_of_type(good, "ack").at("seq"), 1);
}

/// A close frame's payload: the code, then the reason (RFC 6455, 5.5.1).
std::string closing(unsigned code, const std::string& reason = {}) {
  return {std::string{static_cast<char>(code >> 8), static_cast<char>(code & 0xFF)} + reason};
}

void send_raw(RawWebSocket& link, Opcode opcode, std::string_view payload, unsigned reserved) {
  link.socket().send(RawWebSocket::frame(opcode, payload, true, true, reserved));
}

// The right codes: RFC 6455, 7.4.1; beside each the section that the frame breaks.
constexpr BadFrame bad_frames[] = {
    {"oversize", 1009,  // 7.4.1: 1009
     [](RawWebSocket& link) { link.send_text(std::string(65'537, 'x')); }},
    {"oversize_in_pieces", 1009,
     [](RawWebSocket& link) {
       link.send_frame(Opcode::text, std::string(40'000, 'x'), false);
       link.send_frame(Opcode::more, std::string(40'000, 'x'), true);
     }},
    {"oversize_only_announced", 1009,  // 10.4: no memory is set aside for what is said to come
     [](RawWebSocket& link) {
       link.socket().send(std::string("\x81\xFF\x7F\xFF\xFF\xFF\xFF\xFF\xFF\xFF\1\2\3\4", 14));
     }},
    {"length_with_the_highest_bit", 1009,  // 5.2 forbids it; as a number it is over the limit too
     [](RawWebSocket& link) {
       link.socket().send(std::string("\x81\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\1\2\3\4", 14));
     }},
    {"length_longer_than_needed", 1002,  // 5.2: the minimal number of bytes must be used
     [](RawWebSocket& link) { link.socket().send(std::string("\x81\xFE\0\2\0\0\0\0{}", 10)); }},
    {"binary", 1003, [](RawWebSocket& link) { link.send_frame(Opcode::binary, "{}"); }},  // 7.4.1
    {"bad_utf8", 1007,                                                                    // 8.1
     [](RawWebSocket& link) { link.send_text("{\"type\":\"\xC3\x28\"}"); }},
    {"bad_utf8_over_two_pieces", 1007,  // 8.1, 5.4: the whole message is what must be UTF-8
     [](RawWebSocket& link) {
       link.send_frame(Opcode::text, "{\"type\":\"\xE2\x82", false);
       link.send_frame(Opcode::more, "\"}", true);
     }},
    {"utf8_cut_off_at_the_end", 1007,  // 8.1
     [](RawWebSocket& link) { link.send_text("{\"type\":\"\xE2\x82"); }},
    {"utf8_of_a_surrogate", 1007,  // 8.1, RFC 3629, 3
     [](RawWebSocket& link) { link.send_text("\"\xED\xA0\x80\""); }},
    {"unmasked", 1002,  // 5.1: the server must close
     [](RawWebSocket& link) { link.send_frame(Opcode::text, "{}", true, false); }},
    {"unmasked_ping", 1002,  // 5.1
     [](RawWebSocket& link) { link.send_frame(Opcode::ping, "x", true, false); }},
    {"reserved_bit_1", 1002,  // 5.2: no extension was agreed on
     [](RawWebSocket& link) { send_raw(link, Opcode::text, "{}", 4); }},
    {"reserved_bit_2", 1002, [](RawWebSocket& link) { send_raw(link, Opcode::text, "{}", 2); }},
    {"reserved_bit_3", 1002, [](RawWebSocket& link) { send_raw(link, Opcode::ping, "", 1); }},
    {"unknown_opcode", 1002,  // 5.2
     [](RawWebSocket& link) { link.send_frame(static_cast<Opcode>(5), "x"); }},
    {"unknown_control_opcode", 1002,  // 5.2
     [](RawWebSocket& link) { link.send_frame(static_cast<Opcode>(11), ""); }},
    {"fragmented_ping", 1002,  // 5.5: control frames must not be fragmented
     [](RawWebSocket& link) { link.send_frame(Opcode::ping, "x", false); }},
    {"ping_of_126_bytes", 1002,  // 5.5: at most 125
     [](RawWebSocket& link) { link.send_frame(Opcode::ping, std::string(126, 'x')); }},
    {"continuation_of_nothing", 1002,  // 5.4
     [](RawWebSocket& link) { link.send_frame(Opcode::more, "x"); }},
    {"text_within_a_text", 1002,  // 5.4: messages must not be interleaved
     [](RawWebSocket& link) {
       link.send_frame(Opcode::text, "{", false);
       link.send_frame(Opcode::text, "}", true);
     }},
    {"close_of_1_byte", 1002,  // 5.5.1: a body begins with a code of 2 bytes
     [](RawWebSocket& link) { link.send_frame(Opcode::close, "\3"); }},
    {"close_code_0", 1002,  // 7.4.2: 0 to 999 are not used
     [](RawWebSocket& link) { link.send_frame(Opcode::close, closing(0)); }},
    {"close_code_999", 1002,
     [](RawWebSocket& link) { link.send_frame(Opcode::close, closing(999)); }},
    {"close_code_1005", 1002,  // 7.4.1: 1004 to 1006 must not be sent
     [](RawWebSocket& link) { link.send_frame(Opcode::close, closing(1005)); }},
    {"close_code_1006", 1002,
     [](RawWebSocket& link) { link.send_frame(Opcode::close, closing(1006)); }},
    {"close_reason_no_utf8", 1002,  // 5.5.1: UTF-8; 7.4.1 has 1007 for messages
     [](RawWebSocket& link) { link.send_frame(Opcode::close, closing(1000, "\xC3\x28")); }},
    {"close_of_126_bytes", 1002,  // 5.5
     [](RawWebSocket& link) {
       link.send_frame(Opcode::close, closing(1000, std::string(124, 'x')));
     }},
    {"fragmented_close", 1002,  // 5.5
     [](RawWebSocket& link) { link.send_frame(Opcode::close, closing(1000), false); }},
    {"no_message", 4400, [](RawWebSocket& link) { link.send_text("hello?"); }},
    {"empty_text", 4400, [](RawWebSocket& link) { link.send_text(""); }},
    {"more_pings_than_allowed", 4429,
     [](RawWebSocket& link) {
       for (int k = 0; k < 30; ++k) link.send_frame(Opcode::ping, "x");
     }},
    {"more_pongs_than_allowed", 4429,
     [](RawWebSocket& link) {
       for (int k = 0; k < 30; ++k) link.send_frame(Opcode::pong, "");
     }},
};

INSTANTIATE_TEST_SUITE_P(Interop, BadFrames, ::testing::ValuesIn(bad_frames),
                         [](const auto& test) { return std::string(test.param.name); });

TEST(WebSocket, TakesFragmentsAndAnswersPings) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  const std::string hello = LiveService::hello(1);
  link.send_frame(Opcode::text, hello.substr(0, 20), false);
  link.send_frame(Opcode::ping, "between");
  link.send_frame(Opcode::more, "", false);  // RFC 6455, 5.4 has no least size of a fragment
  link.send_frame(Opcode::pong, "never asked for");  // 5.5.3: a response is not expected
  link.send_frame(Opcode::more, hello.substr(20), true);
  const auto pong = link.next_frame();
  ASSERT_TRUE(pong);
  EXPECT_EQ(pong->opcode, Opcode::pong);
  EXPECT_EQ(pong->payload, "between");  // 5.5.3: the same application data
  EXPECT_FALSE(next_of_type(link, "welcome").is_null());

  const std::string longest(125, '\xFF');  // 5.5: any bytes, up to 125
  link.send_frame(Opcode::ping, longest);
  auto frame = link.next_frame();
  while (frame && frame->opcode == Opcode::text) frame = link.next_frame();  // what greeting brings
  ASSERT_TRUE(frame);
  EXPECT_EQ(frame->opcode, Opcode::pong);
  EXPECT_EQ(frame->payload, longest);
}

TEST(WebSocket, TakesAFrameThatComesByteByByte) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  for (const char byte : RawWebSocket::frame(Opcode::text, LiveService::hello(1))) {
    ASSERT_TRUE(link.socket().send({&byte, 1}));
    std::this_thread::sleep_for(Millis(2));
  }
  EXPECT_FALSE(next_of_type(link, "welcome").is_null());
  // A character of three bytes, each in a fragment of its own (RFC 6455, 5.4 and 8.1).
  link.send_frame(Opcode::text, "{\"type\":\"\xE2", false);
  link.send_frame(Opcode::more, "\x82", false);
  link.send_frame(Opcode::more, "\xAC\"}", true);
  EXPECT_EQ(link.next_close().first, 4400);  // well-formed text, but no message
}

TEST(WebSocket, NothingCountsAfterACloseFrame) {
  LiveService service;
  {
    RawWebSocket link = service.cart_link();
    link.send_text(LiveService::hello(1));
    ASSERT_FALSE(next_of_type(link, "welcome").is_null());
    // RFC 6455, 5.5.1: after a close frame no more data frames are sent; 1.4: what comes is
    // dropped.
    link.socket().send(RawWebSocket::frame(Opcode::close, closing(1000, "enough")) +
                       RawWebSocket::frame(Opcode::text, state_report(1)));
    EXPECT_EQ(link.next_close().first, 1000);
    EXPECT_EQ(link.socket().take_all(), "");
    EXPECT_TRUE(link.socket().closed());
  }
  EXPECT_TRUE(service.shows_soon("/api/carts/cart-1", "connected", false));
  RawWebSocket again = service.cart_link();
  again.send_text(LiveService::hello(1));
  EXPECT_EQ(next_of_type(again, "welcome").at("seq"), 0);
}

TEST(WebSocket, AMessageInPiecesMustBeWholeInTenSeconds) {
  LiveService service;
  RawWebSocket link = service.cart_link();
  link.send_text(LiveService::hello(1));
  ASSERT_FALSE(next_of_type(link, "welcome").is_null());
  const auto began = std::chrono::steady_clock::now();
  link.send_frame(Opcode::text, "{", false);
  std::pair<int, std::string> closed;  // pings are answered on the way, so it is not silent
  for (int k = 0; k < 40 && closed.first == 0; ++k) {
    link.send_frame(Opcode::more, " ", false);
    closed = link.next_close(Millis(500));
  }
  EXPECT_EQ(closed.first, 4408);
  EXPECT_EQ(closed.second, "a message was not whole in time");
  EXPECT_GE(std::chrono::steady_clock::now() - began, std::chrono::milliseconds(9'900));
}

TEST(WebSocket, AnswersACloseFrame) {
  LiveService service;
  // RFC 6455, 5.5.1: the answer typically echoes the code; 7.4.2: 3000 to 4999 are anybody's.
  for (const unsigned code : {1000u, 1001u, 1011u, 3000u, 4999u}) {
    RawWebSocket link = service.cart_link();
    link.send_frame(Opcode::close, closing(code, std::string(123, 'r')));
    EXPECT_EQ(link.next_close().first, static_cast<int>(code));
    link.socket().take_all();
    EXPECT_TRUE(link.socket().closed());
  }
  RawWebSocket silent = service.cart_link();  // 7.1.5: a close frame may say nothing
  silent.send_frame(Opcode::close, "");
  const auto answer = silent.next_frame();
  ASSERT_TRUE(answer);
  EXPECT_EQ(answer->opcode, Opcode::close);
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
