// One connection each, asynchronous, on one event loop.
#include "tests/bench/net/job_clients.hpp"

#include <boost/asio/connect.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/http/write.hpp>
#include <memory>
#include <stdexcept>
#include <vector>

namespace tagline::bench {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using asio::ip::tcp;
using beast::error_code;

class JobClient {
 public:
  JobClient(asio::io_context& io, std::uint16_t port, const std::string& body,
            Steady::time_point until, std::size_t& left)
      : socket_(io), until_(until), left_(left) {
    socket_.connect({asio::ip::address_v4::loopback(), port});
    socket_.set_option(tcp::no_delay(true));
    request_.method(http::verb::post);
    request_.target("/api/jobs");
    request_.version(11);
    request_.set(http::field::host, "127.0.0.1");
    request_.set(http::field::content_type, "application/json");
    request_.body() = body;
    request_.prepare_payload();
  }
  void ask() {
    if (left_ == 0) return;
    --left_;
    http::async_write(socket_, request_, [this](const error_code& error, std::size_t) {
      if (error) throw std::runtime_error("posting a job: " + error.message());
      answer_ = {};
      http::async_read(socket_, buffer_, answer_, [this](const error_code& late, std::size_t) {
        if (late) throw std::runtime_error("posting a job: " + late.message());
        if (answer_.result_int() != 201)
          throw std::runtime_error("posting a job: " + std::to_string(answer_.result_int()) + " " +
                                   answer_.body());
        if (Steady::now() < until_) ask();
      });
    });
  }

 private:
  tcp::socket socket_;
  Steady::time_point until_;
  std::size_t& left_;
  http::request<http::string_body> request_;
  http::response<http::string_body> answer_;
  beast::flat_buffer buffer_;
};

}  // namespace

double post_jobs(std::uint16_t port, std::size_t connections, Steady::duration time,
                 std::size_t most, const std::string& body) {
  asio::io_context io{1};
  const auto begin = Steady::now();
  std::vector<std::unique_ptr<JobClient>> clients;
  for (std::size_t k = 0; k < connections; ++k)
    clients.push_back(std::make_unique<JobClient>(io, port, body, begin + time, most));
  for (auto& client : clients) client->ask();
  io.run();
  return seconds_since(begin);
}

}  // namespace tagline::bench
