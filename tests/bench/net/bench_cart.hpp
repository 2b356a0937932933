// A cart of the load generator: speaks the cart link (protocol/README.md) and passes one point of
// its authority at each of its turns, loads and unloads at once, and times what it is answered. No
// physics: it is as fast as its turns.
#pragma once

#include <deque>
#include <optional>

#include "protocol/codec.hpp"
#include "tests/bench/net/line.hpp"
#include "tests/bench/net/served.hpp"

namespace tagline::bench {

/// What all carts of one run count together.
struct Counted {
  /// From sending a read until it was acknowledged, and until the authority that it brought.
  Times ack, authority;
  std::size_t reads{0};         // of all kinds
  std::size_t passed{0};        // reads that passed a point
  std::size_t read_again{0};    // the last tag once more, having nowhere to go
  std::size_t no_authority{0};  // reads that should have brought authority and did not
  std::size_t handled{0};       // loadings and unloadings
  std::size_t unanswered{0};    // reads not acknowledged yet
};

class BenchCartLine : public Line {
 public:
  struct Ways {
    /// Where it has nowhere to go it reads the last tag again (a cart may: "need not be sent"), so
    /// that the service is asked as often as ever.
    bool reads_again{};
  };
  BenchCartLine(boost::asio::io_context& io, std::uint16_t port, const BenchCart& cart, Ways ways);

  /// Where counts go from now on.
  void count_in(Counted& counted) { counted_ = &counted; }
  [[nodiscard]] bool has_authority() const { return !points_.empty(); }
  [[nodiscard]] bool welcomed() const { return welcomed_; }
  [[nodiscard]] std::size_t unanswered() const { return sent_.size(); }
  /// Loadings and unloadings so far.
  [[nodiscard]] std::size_t handled() const { return handled_; }

 private:
  struct Sent {
    protocol::Seq seq{};
    Steady::time_point at;
    bool brings_authority{};
    bool read{};
    Counted* counted{};
  };
  void on_text(std::string_view text) override;
  void turn() override;
  void take(const protocol::Ack& ack);
  void take(const protocol::Authority& authority);
  void read(const protocol::AuthorityPoint& point, bool again);
  void say(const protocol::CartMessage& message, bool read, bool brings_authority);
  [[nodiscard]] bool handles_at_end() const;

  Ways ways_;
  Counted* counted_{nullptr};
  bool welcomed_{false};
  protocol::Seq seq_{0};
  /// Of the authority held: the point last passed, and those ahead of it.
  std::deque<protocol::AuthorityPoint> points_;
  std::optional<protocol::Step> handled_at_;
  std::size_t handled_{0};
  std::deque<Sent> sent_;         // not yet acknowledged
  Steady::time_point came_;       // the text that is looked at
  std::optional<Sent> awaiting_;  // acknowledged; its authority is to come next
  Steady::time_point next_state_;
};

}  // namespace tagline::bench
