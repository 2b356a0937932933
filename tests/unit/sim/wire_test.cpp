// Virtual carts over real sockets, against a service made for the test that follows a script.
#include <gmock/gmock.h>
#include <unistd.h>

#include <atomic>
#include <boost/asio/ip/tcp.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/websocket.hpp>
#include <filesystem>
#include <fstream>
#include <functional>
#include <sstream>
#include <thread>

#include "protocol/codec.hpp"
#include "server/sim/virtual_carts.hpp"
#include "tests/unit/sim/floors.hpp"

namespace tagline::sim::test {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace websocket = beast::websocket;
using asio::ip::tcp;
using namespace std::chrono_literals;

using Stream = websocket::stream<tcp::socket>;

/// Listens on one of the loopback ports set aside for these tests.
class ScriptedService {
 public:
  ScriptedService() {
    for (unsigned short port = 18500; port < 18600; ++port) {
      try {
        acceptor_.emplace(io_, tcp::endpoint{asio::ip::make_address("127.0.0.1"), port});
        port_ = port;
        return;
      } catch (const boost::system::system_error&) {
        continue;  // taken by another run
      }
    }
    throw std::runtime_error("no free port from 18500 to 18599");
  }
  [[nodiscard]] ServiceAddress address() const {
    return {"127.0.0.1", std::to_string(port_), "/cart"};
  }
  /// Takes one connection and shakes hands; the subprotocol asked for and the target are kept.
  Stream accept() {
    Stream stream{acceptor_->accept()};
    beast::flat_buffer buffer;
    beast::http::request<beast::http::string_body> request;
    beast::http::read(stream.next_layer(), buffer, request);
    target = std::string{request.target()};
    subprotocol = std::string{request[beast::http::field::sec_websocket_protocol]};
    stream.set_option(websocket::stream_base::decorator([](websocket::response_type& response) {
      response.set(beast::http::field::sec_websocket_protocol, protocol::cart_subprotocol);
    }));
    stream.accept(request);
    stream.text(true);
    return stream;
  }
  static protocol::CartMessage read(Stream& stream) {
    beast::flat_buffer buffer;
    stream.read(buffer);
    auto decoded = protocol::decode_cart_message(beast::buffers_to_string(buffer.data()));
    if (const auto* error = std::get_if<protocol::DecodeError>(&decoded)) {
      throw std::runtime_error("the cart sent no message: " + protocol::close_reason(*error));
    }
    return std::get<protocol::CartMessage>(std::move(decoded));
  }
  static void write(Stream& stream, const protocol::ServiceMessage& message) {
    stream.write(asio::buffer(protocol::encode(message)));
  }

  std::string target, subprotocol;

 private:
  asio::io_context io_;
  std::optional<tcp::acceptor> acceptor_;
  unsigned short port_{};
};

/// run_virtual_carts in a thread of its own, ended with the object.
class Running {
 public:
  explicit Running(VirtualCartOptions options)
      : thread_{[options](const std::stop_token& stop) mutable {
          options.stop = stop;
          EXPECT_EQ(run_virtual_carts(options), 0);
        }} {}

 private:
  std::jthread thread_;
};

VirtualCartOptions options_for(const floor::Ways& ways, const ScriptedService& service) {
  VirtualCartOptions options;
  options.ways = &ways;
  options.carts = {{"cart-1", "a-key", pose_at(ways, "P0")}};
  options.service = service.address();
  options.pace = 20;
  return options;
}

protocol::Seq seq_of(const protocol::CartMessage& message) {
  return std::visit(
      [](const auto& m) -> protocol::Seq {
        if constexpr (requires { m.seq; }) return m.seq;
        return 0;
      },
      message);
}

TEST(Wire, GreetsDrivesAndReportsThenComesBackAfterALostLink) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  ScriptedService service;
  VirtualCartOptions options = options_for(ways, service);
  options.report = std::filesystem::path{testing::TempDir()} /
                   ("tagline_wire_" + std::to_string(getpid()) + ".json");
  std::string boot;
  protocol::Seq last = 0;
  {
    const Running running{options};
    {
      Stream stream = service.accept();
      EXPECT_EQ(service.target, "/cart");
      EXPECT_EQ(service.subprotocol, protocol::cart_subprotocol);
      const auto hello = std::get<protocol::Hello>(service.read(stream));
      EXPECT_EQ(hello.cart, "cart-1");
      EXPECT_EQ(hello.key, "a-key");
      EXPECT_EQ(hello.last_tag, floor[*floor.find_point("P0")].tags[0]);
      boot = hello.boot;
      service.write(stream, protocol::Welcome{0, 0});
      service.write(stream, authority(ways, way(ways, pose_at(ways, "P0"), {"P1", "P2", "P3"}), 1));
      for (;;) {
        const protocol::CartMessage message = service.read(stream);
        last = seq_of(message);
        const auto* read = std::get_if<protocol::Read>(&message);
        if (read != nullptr && read->step == 2) break;  // not acknowledged: the link is cut here
        service.write(stream, protocol::Ack{last});
      }
      stream.next_layer().close();
    }
    Stream stream = service.accept();
    const auto hello = std::get<protocol::Hello>(service.read(stream));
    EXPECT_EQ(hello.boot, boot);
    EXPECT_GE(hello.step, 2u);
    EXPECT_EQ(hello.until, 4u);
    service.write(stream, protocol::Welcome{last - 1, 0});
    const protocol::CartMessage again = service.read(stream);
    ASSERT_TRUE(std::holds_alternative<protocol::Read>(again));
    EXPECT_EQ(seq_of(again), last) << "sent again with the number it had";
    protocol::Step reached = std::get<protocol::Read>(again).step;
    while (reached < 4) {
      const protocol::CartMessage message = service.read(stream);
      if (const auto* read = std::get_if<protocol::Read>(&message)) reached = read->step;
      service.write(stream, protocol::Ack{seq_of(message)});
    }
    std::this_thread::sleep_for(1200ms);  // the report is written every second
    std::ifstream in{options.report};
    const std::string text{std::istreambuf_iterator<char>{in}, {}};
    EXPECT_THAT(text, testing::HasSubstr("\"connected\":1,"));
    EXPECT_THAT(text, testing::HasSubstr("\"body_contacts\":0,"));
    EXPECT_THAT(text, testing::HasSubstr("\"least_gap_mm\":null,"));
    const auto at = text.find("\"distance_m\":");
    ASSERT_NE(at, std::string::npos);
    // P0 to P3 is 4000 mm and a bend of a quarter of 2 pi m and 1000 mm straight.
    EXPECT_NEAR(std::stod(text.substr(at + 13)), 4.0 + 1.571 + 1.0, 0.06);
  }
  std::filesystem::remove(options.report);
}

TEST(Wire, AWrongKeyIsToldAndTriedAgain) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  ScriptedService service;
  VirtualCartOptions options = options_for(ways, service);
  options.pace = 100;
  testing::internal::CaptureStderr();
  {
    const Running running{options};
    for (int i = 0; i < 2; ++i) {
      Stream stream = service.accept();
      service.read(stream);
      stream.close({static_cast<websocket::close_code>(protocol::CloseCode::wrong_key),
                    "unknown cart or wrong key"});
    }
    std::this_thread::sleep_for(50ms);
  }
  const std::string told = testing::internal::GetCapturedStderr();
  EXPECT_THAT(told, testing::HasSubstr("cart-1"));
  EXPECT_THAT(told, testing::HasSubstr("4401 unknown cart or wrong key"));
}

TEST(Wire, TwoHundredCartsStandInOneWorldAndKeepTrying) {
  // No service at all.
  const floor::Floor floor = line(300);
  const floor::Ways ways{floor};
  VirtualCartOptions options;
  options.ways = &ways;
  options.service = {"127.0.0.1", "18599", "/cart"};
  options.pace = 2;
  for (int i = 1; i <= 200; ++i) {
    options.carts.push_back({"c" + std::to_string(i), "k", pose_at(ways, "P" + std::to_string(i))});
  }
  testing::internal::CaptureStdout();
  testing::internal::CaptureStderr();
  {
    const Running running{options};
    std::this_thread::sleep_for(1500ms);
  }
  const std::string told = testing::internal::GetCapturedStdout();
  EXPECT_THAT(testing::internal::GetCapturedStderr(), testing::HasSubstr("no link to"));
  EXPECT_THAT(told, testing::HasSubstr("\"carts\":200,\"connected\":0,"));
  // In line, 2000 mm from reader to reader, bodies 600 mm long.
  EXPECT_THAT(told, testing::HasSubstr("\"least_gap_mm\":1400.0,"));
}

TEST(Wire, RefusesOptionsThatMakeNoSense) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  const ScriptedService service;
  VirtualCartOptions options = options_for(ways, service);
  options.pace = 0;
  EXPECT_THROW(run_virtual_carts(options), std::invalid_argument);
  options = options_for(ways, service);
  options.carts.clear();
  EXPECT_THROW(run_virtual_carts(options), std::invalid_argument);
  options = options_for(ways, service);
  options.report = "/nonexistent-folder/report.json";
  EXPECT_THROW(run_virtual_carts(options), std::runtime_error);
}

TEST(Wire, ReadsTheServicesAddress) {
  const auto full = parse_service_url("ws://127.0.0.1:8080/cart");
  ASSERT_TRUE(full);
  EXPECT_EQ(full->host, "127.0.0.1");
  EXPECT_EQ(full->port, "8080");
  EXPECT_EQ(full->target, "/cart");
  const auto bare = parse_service_url("ws://works");
  ASSERT_TRUE(bare);
  EXPECT_EQ(bare->port, "80");
  EXPECT_EQ(bare->target, "/cart");
  EXPECT_FALSE(bare->tls);
  const auto secure = parse_service_url("wss://works.example");
  ASSERT_TRUE(secure);
  EXPECT_TRUE(secure->tls);
  EXPECT_EQ(secure->host, "works.example");
  EXPECT_EQ(secure->port, "443");
  EXPECT_EQ(parse_service_url("wss://works.example:8443/cart")->port, "8443");
  for (const char* wrong :
       {"", "http://a/cart", "https://a/cart", "wss://", "ws://", "ws://a:0", "ws://a:99999",
        "ws://a:b/cart", "ws://:80/cart", "ws://a b/cart", "ws://u@a/cart"}) {
    EXPECT_FALSE(parse_service_url(wrong)) << wrong;
  }
}

}  // namespace
}  // namespace tagline::sim::test
