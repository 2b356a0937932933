// Reading and writing, in the clear and through TLS; small writes that go out together.
#include "server/net/stream.hpp"

#include <boost/asio/post.hpp>
#include <boost/asio/write.hpp>

namespace tagline::net {

namespace asio = boost::asio;

namespace {

/// What is done is gone on with on the stream's own executor: the network's one thread.
auto here(auto done) {
  return [done = std::move(done)](const Stream::Error& error, std::size_t size) mutable {
    std::move(done)(error, size);
  };
}

}  // namespace

void Stream::read_some(const Into& into, Done done) {
  if (Tls* through = tls())
    through->async_read_some(into, here(std::move(done)));
  else
    tcp().async_read_some(into, here(std::move(done)));
}

void Stream::write_some(const From& from, Done done) {
  if (held_->gathering || !held_->gathered.empty())
    write_gathered(from, std::move(done));
  else if (Tls* through = tls())
    through->async_write_some(from, here(std::move(done)));
  else
    tcp().async_write_some(from, here(std::move(done)));
}

void Stream::write_gathered(const From& from, Done done) {
  const std::size_t size = asio::buffer_size(from);
  auto& gathered = held_->gathered;
  const std::size_t before = gathered.size();
  gathered.resize(before + size);
  asio::buffer_copy(asio::buffer(gathered) + before, from);
  if (held_->gathering) {
    asio::post(get_executor(),
               [done = std::move(done), size]() mutable { std::move(done)(Error{}, size); });
    return;
  }
  write_whole(std::exchange(gathered, {}),
              [done = std::move(done), size](const Error& error) mutable {
                std::move(done)(error, error ? 0 : size);
              });
}

template <class Then>
void Stream::write_whole(std::vector<unsigned char> bytes, Then then) {
  auto kept = std::make_shared<const std::vector<unsigned char>>(std::move(bytes));
  const auto whole = asio::buffer(*kept);
  auto wrote = [then = std::move(then), kept = std::move(kept)](
                   const Error& error, std::size_t) mutable { std::move(then)(error); };
  if (Tls* through = tls())
    asio::async_write(*through, whole, std::move(wrote));
  else
    asio::async_write(tcp(), whole, std::move(wrote));
}

void Stream::end(boost::beast::role_type role, Ended ended) {
  held_->gathering = false;
  if (!held_->gathered.empty()) {
    // Whoever waits for the end holds the stream. A write that fails changes nothing about it.
    write_whole(std::exchange(held_->gathered, {}),
                [this, role, ended = std::move(ended)](const Error&) mutable {
                  end(role, std::move(ended));
                });
    return;
  }
  auto over = [ended = std::move(ended)](const Error& error) mutable { std::move(ended)(error); };
  if (Tls* through = tls()) {
    tcp().expires_after(longest_goodbye);
    through->async_shutdown(std::move(over));
  } else {
    boost::beast::websocket::async_teardown(role, tcp().socket(), std::move(over));
  }
}

}  // namespace tagline::net
