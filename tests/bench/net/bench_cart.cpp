// Driving by authority, and the clock on it.
#include "tests/bench/net/bench_cart.hpp"

#include <cstdlib>
#include <variant>

namespace tagline::bench {
namespace {

constexpr auto state_every = std::chrono::seconds(5);

}  // namespace

BenchCartLine::BenchCartLine(boost::asio::io_context& io, std::uint16_t port, const BenchCart& cart,
                             Ways ways)
    : Line(io, port, "/cart", std::string(protocol::cart_subprotocol)), ways_(ways) {
  send(protocol::encode(protocol::CartMessage{protocol::Hello{.cart = cart.id,
                                                              .key = cart.key,
                                                              .boot = "bench",
                                                              .last_tag = "",
                                                              .step = 0,
                                                              .until = 0,
                                                              .loaded = false,
                                                              .battery = 100,
                                                              .stopped = false}}));
}

void BenchCartLine::on_text(std::string_view text) {
  came_ = Steady::now();
  const auto decoded = protocol::decode_service_message(text);
  if (const auto* error = std::get_if<protocol::DecodeError>(&decoded)) {
    std::fprintf(stderr, "bench: a frame from the service is wrong: %s\n", error->wrong.c_str());
    std::exit(1);
  }
  const auto& message = std::get<protocol::ServiceMessage>(decoded);
  if (std::holds_alternative<protocol::Welcome>(message)) welcomed_ = true;
  if (std::holds_alternative<protocol::Reset>(message)) points_.clear();
  if (const auto* stop = std::get_if<protocol::ServiceStop>(&message)) {
    std::fprintf(stderr, "bench: a cart was told to stop: %s\n", stop->reason.c_str());
    std::exit(1);
  }
  if (const auto* ack = std::get_if<protocol::Ack>(&message)) take(*ack);
  if (const auto* authority = std::get_if<protocol::Authority>(&message)) take(*authority);
}

void BenchCartLine::take(const protocol::Ack& ack) {
  if (awaiting_ && awaiting_->counted) ++awaiting_->counted->no_authority;
  awaiting_.reset();
  while (!sent_.empty() && sent_.front().seq <= ack.seq) {
    const Sent sent = sent_.front();
    sent_.pop_front();
    if (sent.read && sent.counted) sent.counted->ack.add(came_ - sent.at);
    if (sent.brings_authority) awaiting_ = sent;
  }
}

void BenchCartLine::take(const protocol::Authority& authority) {
  if (awaiting_) {
    if (awaiting_->counted) awaiting_->counted->authority.add(came_ - awaiting_->at);
    awaiting_.reset();
  }
  const auto& points = authority.points;
  const protocol::Step here = points_.empty() ? points.front().step : points_.front().step;
  if (points.front().step > here || points.back().step < here) return;
  points_.assign(points.begin() + static_cast<std::ptrdiff_t>(here - points.front().step),
                 points.end());
}

bool BenchCartLine::handles_at_end() const {
  const protocol::Act act = points_.back().act;
  return (act == protocol::Act::load || act == protocol::Act::unload) &&
         handled_at_ != points_.back().step;
}

void BenchCartLine::turn() {
  const auto now = Steady::now();
  if (now >= next_state_) {
    next_state_ = now + state_every;
    say(protocol::State{++seq_, 100, false, points_.size() > 1, protocol::Fault::none}, false,
        false);
  }
  if (points_.empty()) return;
  if (points_.size() > 1) {
    points_.pop_front();
    read(points_.front(), false);
  } else if (handles_at_end()) {
    handled_at_ = points_.back().step;
    ++handled_;
    if (counted_) ++counted_->handled;
    const bool load = points_.back().act == protocol::Act::load;
    say(protocol::Done{++seq_, points_.back().step,
                       load ? protocol::Handling::load : protocol::Handling::unload},
        false, false);
  } else if (ways_.reads_again) {
    read(points_.front(), true);
  }
}

void BenchCartLine::read(const protocol::AuthorityPoint& point, bool again) {
  if (counted_) {
    ++counted_->reads;
    ++(again ? counted_->read_again : counted_->passed);
  }
  // While its authority ends in `wait` the way goes on, and on a free way with even spaces each
  // read brings one point more.
  const bool brings = !again && points_.back().act == protocol::Act::wait;
  say(protocol::Read{++seq_, point.tags.front(), point.step}, true, brings);
}

void BenchCartLine::say(const protocol::CartMessage& message, bool is_read, bool brings_authority) {
  std::string text = protocol::encode(message);
  sent_.push_back({seq_, Steady::now(), brings_authority, is_read, counted_});
  send(std::move(text));
}

}  // namespace tagline::bench
