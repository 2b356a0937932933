// The bytes of one connection: what is gathered waits, goes out whole and in order, and is never
// left behind.
#include "server/net/stream.hpp"

#include <gtest/gtest.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <string>

namespace tagline::net::test {
namespace {

namespace asio = boost::asio;
using tcp = asio::ip::tcp;

class StreamTest : public ::testing::Test {
 protected:
  StreamTest() {
    tcp::acceptor acceptor(io, {asio::ip::address_v4::loopback(), 0});
    peer.connect(acceptor.local_endpoint());
    stream.emplace(acceptor.accept());
    peer.non_blocking(true);
  }

  /// Runs until it is done; what the stream says of it.
  std::size_t write(const std::string& text) {
    std::size_t wrote = 0;
    stream->async_write_some(asio::buffer(text), [&](const Stream::Error& error, std::size_t size) {
      EXPECT_FALSE(error) << error.message();
      wrote = size;
    });
    io.restart();
    io.run();
    return wrote;
  }
  /// What has come so far. On loopback what was sent is there.
  std::string come() {
    std::string bytes(1'000, ' ');
    boost::system::error_code error;
    bytes.resize(peer.read_some(asio::buffer(bytes), error));
    ended = error == asio::error::eof;
    return bytes;
  }

  asio::io_context io{1};
  tcp::socket peer{io};
  std::optional<Stream> stream;
  bool ended{false};
};

TEST_F(StreamTest, WhatGathersGoesOutWithWhatComesAfter) {
  EXPECT_EQ(write("one "), 4u);
  EXPECT_EQ(come(), "one ");
  stream->gather(true);
  EXPECT_EQ(write("two "), 4u);
  EXPECT_EQ(write("three "), 6u);
  EXPECT_EQ(come(), "");
  EXPECT_EQ(stream->gathered(), 10u);
  stream->gather(false);
  EXPECT_EQ(write("four"), 4u);
  EXPECT_EQ(come(), "two three four");
  EXPECT_EQ(stream->gathered(), 0u);
  EXPECT_EQ(write("five"), 4u);
  EXPECT_EQ(come(), "five");
}

TEST_F(StreamTest, NothingGatheredIsLeftBehindAtTheEnd) {
  stream->gather(true);
  write("the last words");
  EXPECT_EQ(come(), "");
  bool over = false;
  async_teardown(boost::beast::role_type::server, *stream,
                 [&](const Stream::Error&) { over = true; });
  io.restart();
  io.poll();
  EXPECT_EQ(come(), "the last words");
  EXPECT_EQ(come(), "");
  EXPECT_TRUE(ended);
  peer.close();
  io.restart();
  io.run();
  EXPECT_TRUE(over);
}

}  // namespace
}  // namespace tagline::net::test
