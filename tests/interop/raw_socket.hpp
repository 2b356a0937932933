// A TCP client and a WebSocket client (RFC 6455) written from the standard with nothing but POSIX,
// so that the service's own HTTP library is not what it is checked with. Loopback only.
#pragma once

#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <chrono>
#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

namespace tagline::test {

using Millis = std::chrono::milliseconds;

class RawSocket {
 public:
  /// `from` is an address of the loopback range, 127.0.0.0/8.
  explicit RawSocket(std::uint16_t port, std::uint32_t from = INADDR_LOOPBACK)
      : fd_(::socket(AF_INET, SOCK_STREAM, 0)) {
    sockaddr_in own{};
    own.sin_family = AF_INET;
    own.sin_addr.s_addr = htonl(from);
    if (from != INADDR_LOOPBACK &&
        ::bind(fd_, reinterpret_cast<const sockaddr*>(&own), sizeof own) != 0)
      throw std::runtime_error("can't connect from another loopback address");
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(port);
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (::connect(fd_, reinterpret_cast<const sockaddr*>(&to), sizeof to) != 0)
      throw std::runtime_error("can't connect to port " + std::to_string(port));
  }
  ~RawSocket() { ::close(fd_); }
  RawSocket(const RawSocket&) = delete;
  RawSocket& operator=(const RawSocket&) = delete;

  /// False if the other side has gone.
  bool send(std::string_view bytes) {
    while (!bytes.empty()) {
      const ssize_t sent = ::send(fd_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
      if (sent <= 0) return false;
      bytes.remove_prefix(static_cast<std::size_t>(sent));
    }
    return true;
  }

  /// Exactly so many bytes; fewer if the other side closes or the time is up.
  std::string take(std::size_t count, Millis time = Millis(8'000)) {
    fill(time, [&] { return buffer_.size() >= count; });
    return cut(std::min(count, buffer_.size()));
  }
  /// Up to and with `mark`; whatever there is if it doesn't come.
  std::string take_until(std::string_view mark, Millis time = Millis(8'000)) {
    fill(time, [&] { return buffer_.find(mark) != std::string::npos; });
    const std::size_t at = buffer_.find(mark);
    return cut(at == std::string::npos ? buffer_.size() : at + mark.size());
  }
  /// Everything until the other side closes.
  std::string take_all(Millis time = Millis(8'000)) {
    fill(time, [] { return false; });
    return cut(buffer_.size());
  }
  [[nodiscard]] bool closed() const { return closed_; }
  /// Bytes that came together with what was taken last.
  [[nodiscard]] std::size_t more() const { return buffer_.size(); }

 private:
  template <class Enough>
  void fill(Millis time, const Enough& enough) {
    const auto until = std::chrono::steady_clock::now() + time;
    while (!enough() && !closed_) {
      const auto left =
          std::chrono::duration_cast<Millis>(until - std::chrono::steady_clock::now());
      pollfd wait{fd_, POLLIN, 0};
      if (left.count() <= 0 || ::poll(&wait, 1, static_cast<int>(left.count())) <= 0) return;
      char bytes[4096];
      const ssize_t got = ::recv(fd_, bytes, sizeof bytes, 0);
      if (got <= 0)
        closed_ = true;
      else
        buffer_.append(bytes, static_cast<std::size_t>(got));
    }
  }
  std::string cut(std::size_t count) {
    std::string out = buffer_.substr(0, count);
    buffer_.erase(0, count);
    return out;
  }

  int fd_;
  std::string buffer_;
  bool closed_{false};
};

enum class Opcode : unsigned { more = 0, text = 1, binary = 2, close = 8, ping = 9, pong = 10 };

struct Frame {
  Opcode opcode{};
  std::string payload;
};

class RawWebSocket {
 public:
  /// RFC 6455, 1.3: this key must be answered with this accept value.
  static constexpr std::string_view key = "dGhlIHNhbXBsZSBub25jZQ==";
  static constexpr std::string_view accept = "s3pPLMBiTxaQ9kYGzzhZRbK+xOo=";

  RawWebSocket(std::uint16_t port, const std::string& path, const std::string& subprotocol,
               const std::string& more_headers = {}, std::uint32_t from = INADDR_LOOPBACK)
      : socket_(port, from) {
    socket_.send("GET " + path + " HTTP/1.1\r\nHost: 127.0.0.1:" + std::to_string(port) +
                 "\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Key: " +
                 std::string(key) + "\r\nSec-WebSocket-Version: 13\r\n" +
                 (subprotocol.empty() ? "" : "Sec-WebSocket-Protocol: " + subprotocol + "\r\n") +
                 more_headers + "\r\n");
    head_ = socket_.take_until("\r\n\r\n");
  }

  [[nodiscard]] const std::string& head() const { return head_; }
  [[nodiscard]] bool open() const { return head_.starts_with("HTTP/1.1 101"); }
  /// What follows the head of a refusal.
  std::string rest() { return socket_.take_all(); }
  RawSocket& socket() { return socket_; }

  bool send_frame(Opcode opcode, std::string_view payload, bool last = true, bool masked = true) {
    return socket_.send(frame(opcode, payload, last, masked));
  }

  /// The bytes of a frame (RFC 6455, 5.2); `reserved` are RSV1 to RSV3 as 4, 2 and 1.
  static std::string frame(Opcode opcode, std::string_view payload, bool last = true,
                           bool masked = true, unsigned reserved = 0) {
    std::string frame;
    frame += static_cast<char>((last ? 0x80u : 0u) | reserved << 4 | static_cast<unsigned>(opcode));
    const unsigned mask_bit = masked ? 0x80u : 0u;
    if (payload.size() < 126) {
      frame += static_cast<char>(mask_bit | payload.size());
    } else if (payload.size() < 65'536) {
      frame += static_cast<char>(mask_bit | 126u);
      frame += static_cast<char>(payload.size() >> 8);
      frame += static_cast<char>(payload.size() & 0xFFu);
    } else {
      frame += static_cast<char>(mask_bit | 127u);
      for (int shift = 56; shift >= 0; shift -= 8)
        frame += static_cast<char>((payload.size() >> shift) & 0xFFu);
    }
    static constexpr unsigned char mask[4] = {0x37, 0xFA, 0x21, 0x3D};  // as in RFC 6455, 5.7
    if (masked) frame.append(reinterpret_cast<const char*>(mask), 4);
    for (std::size_t k = 0; k < payload.size(); ++k)
      frame += masked ? static_cast<char>(static_cast<unsigned char>(payload[k]) ^ mask[k % 4])
                      : payload[k];
    return frame;
  }
  bool send_text(std::string_view text) { return send_frame(Opcode::text, text); }

  /// The next frame, pings included; nothing if none comes.
  std::optional<Frame> next_frame(Millis time = Millis(8'000)) {
    const std::string head = socket_.take(2, time);
    if (head.size() < 2) return std::nullopt;
    Frame frame;
    frame.opcode = static_cast<Opcode>(static_cast<unsigned char>(head[0]) & 0x0Fu);
    if (static_cast<unsigned char>(head[1]) & 0x80u)
      throw std::runtime_error("a frame of the service is masked (RFC 6455, 5.1 forbids it)");
    std::uint64_t size = static_cast<unsigned char>(head[1]);
    if (size >= 126) {
      const std::string longer = socket_.take(size == 126 ? 2 : 8, time);
      size = 0;
      for (const char byte : longer) size = size << 8 | static_cast<unsigned char>(byte);
    }
    frame.payload = socket_.take(size, time);
    return frame;
  }

  /// The next text; pings are answered on the way. Nothing if the link closes or the time is up.
  std::optional<std::string> next_text(Millis time = Millis(8'000)) {
    while (auto frame = next_frame(time)) {
      if (frame->opcode == Opcode::text) return frame->payload;
      if (frame->opcode == Opcode::ping) send_frame(Opcode::pong, frame->payload);
      if (frame->opcode == Opcode::close) {
        closed_with_ = frame->payload;
        return std::nullopt;
      }
    }
    return std::nullopt;
  }

  /// Code and reason of the close frame, reading past all else; 0 if none comes.
  std::pair<int, std::string> next_close(Millis time = Millis(8'000)) {
    while (closed_with_.empty() && next_text(time)) {
    }
    if (closed_with_.size() < 2) return {0, ""};
    return {static_cast<unsigned char>(closed_with_[0]) << 8 |
                static_cast<unsigned char>(closed_with_[1]),
            closed_with_.substr(2)};
  }

 private:
  RawSocket socket_;
  std::string head_;
  std::string closed_with_;
};

}  // namespace tagline::test
