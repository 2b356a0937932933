// One-shot HTTP client.
#include "server/net/http_client.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/http/write.hpp>

namespace tagline::net {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;

asio::awaitable<ClientResponse> exchange(const std::string& address, std::uint16_t port,
                                         const ClientRequest& request,
                                         std::chrono::milliseconds timeout) {
  beast::tcp_stream stream(co_await asio::this_coro::executor);
  stream.expires_after(timeout);
  const asio::ip::tcp::endpoint endpoint(asio::ip::make_address(address), port);
  co_await stream.async_connect(endpoint, asio::use_awaitable);

  http::request<http::string_body> out;
  out.method_string(request.method);
  out.target(request.target);
  out.version(11);
  out.set(http::field::host, address + ":" + std::to_string(port));
  out.set(http::field::connection, "close");
  for (const auto& [name, value] : request.headers) out.set(name, value);
  if (!request.body.empty()) {
    if (out[http::field::content_type].empty())
      out.set(http::field::content_type, "application/json");
    out.body() = request.body;
  }
  if (!request.body.empty() || request.method == "POST") out.prepare_payload();
  co_await http::async_write(stream, out, asio::use_awaitable);

  beast::flat_buffer buffer;
  http::response_parser<http::string_body> parser;
  parser.body_limit(16u << 20);
  if (request.method == "HEAD") parser.skip(true);
  co_await http::async_read(stream, buffer, parser, asio::use_awaitable);
  ClientResponse response;
  const auto& in = parser.get();
  response.status = in.result_int() > 999 ? 0 : static_cast<int>(in.result_int());
  for (const auto& field : in) response.headers.emplace_back(field.name_string(), field.value());
  response.body = in.body();
  co_return response;
}

}  // namespace

std::string ClientResponse::header(std::string_view name) const {
  for (const auto& [key, value] : headers)
    if (beast::iequals(key, beast::string_view(name.data(), name.size()))) return value;
  return {};
}

ClientResponse ask_http(const std::string& address, std::uint16_t port,
                        const ClientRequest& request, std::chrono::milliseconds timeout) {
  asio::io_context io{1};
  ClientResponse response;
  std::exception_ptr failure;
  asio::co_spawn(io, exchange(address, port, request, timeout),
                 [&](std::exception_ptr error, ClientResponse got) {
                   failure = std::move(error);
                   response = std::move(got);
                 });
  io.run();
  try {
    if (failure) std::rethrow_exception(failure);
  } catch (const std::exception& error) {
    throw ClientError(request.method + " " + request.target + " at " + address + " port " +
                      std::to_string(port) + ": " + error.what());
  }
  return response;
}

}  // namespace tagline::net
