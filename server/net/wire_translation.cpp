// Translation between the core's events and messages and those of the cart link.
#include "server/net/wire_translation.hpp"

#include <stdexcept>
#include <type_traits>

namespace tagline::net {
namespace {

template <class... F>
struct Overloaded : F... {
  using F::operator()...;
};
template <class... F>
Overloaded(F...) -> Overloaded<F...>;

// Switches without a default, so that the compiler points here when a value is added on one side.
protocol::Act to_wire(control::ToldAct act) {
  switch (act) {
    case control::ToldAct::go:
      return protocol::Act::go;
    case control::ToldAct::turn:
      return protocol::Act::turn;
    case control::ToldAct::stop:
      return protocol::Act::stop;
    case control::ToldAct::wait:
      return protocol::Act::wait;
    case control::ToldAct::load:
      return protocol::Act::load;
    case control::ToldAct::unload:
      return protocol::Act::unload;
  }
  throw std::logic_error("no such act");
}

protocol::Branch to_wire(floor::Branch branch) {
  switch (branch) {
    case floor::Branch::left:
      return protocol::Branch::left;
    case floor::Branch::straight:
      return protocol::Branch::straight;
    case floor::Branch::right:
      return protocol::Branch::right;
  }
  throw std::logic_error("no such branch");
}

control::Fault from_wire(protocol::Fault fault) {
  switch (fault) {
    case protocol::Fault::none:
      return control::Fault::none;
    case protocol::Fault::blocked:
      return control::Fault::blocked;
    case protocol::Fault::tape_lost:
      return control::Fault::tape_lost;
    case protocol::Fault::overrun:
      return control::Fault::overrun;
    case protocol::Fault::wrong_tag:
      return control::Fault::wrong_tag;
    case protocol::Fault::battery:
      return control::Fault::battery;
    case protocol::Fault::drive:
      return control::Fault::drive;
    case protocol::Fault::reader:
      return control::Fault::reader;
  }
  throw std::logic_error("no such fault");
}

control::StopCause from_wire(protocol::StopCause cause) {
  switch (cause) {
    case protocol::StopCause::button:
      return control::StopCause::button;
    case protocol::StopCause::bumper:
      return control::StopCause::bumper;
    case protocol::StopCause::scanner:
      return control::StopCause::scanner;
    case protocol::StopCause::service:
      return control::StopCause::service;
  }
  throw std::logic_error("no such cause");
}

protocol::AuthorityPoint to_wire(const floor::Floor& floor, const control::ToldPoint& told) {
  protocol::AuthorityPoint point;
  point.step = told.step;
  point.point = floor[told.point].id;
  point.tags = floor[told.point].tags;
  point.act = to_wire(told.act);
  point.branch = to_wire(told.branch);
  point.gear = told.gear == floor::Gear::back ? protocol::Gear::back : protocol::Gear::forward;
  point.length = told.length.value;
  point.speed = told.speed.value;
  return point;
}

}  // namespace

CartIx addressee(const control::Message& message) {
  return std::visit([](const auto& told) { return told.cart; }, message);
}

protocol::ServiceMessage to_wire(const floor::Floor& floor, const control::Message& message) {
  return std::visit(
      Overloaded{
          [&](const control::TellAuthority& told) -> protocol::ServiceMessage {
            protocol::Authority authority;
            authority.trip = told.trip;
            authority.points.reserve(told.points.size());
            for (const control::ToldPoint& point : told.points)
              authority.points.push_back(to_wire(floor, point));
            return authority;
          },
          [](const control::TellHold& told) -> protocol::ServiceMessage {
            return protocol::Hold{told.reason};
          },
          [](const control::TellStop& told) -> protocol::ServiceMessage {
            return protocol::ServiceStop{told.reason};
          },
          [](const control::TellRelease&) -> protocol::ServiceMessage {
            return protocol::ServiceRelease{};
          },
          [](const control::TellReset&) -> protocol::ServiceMessage { return protocol::Reset{}; },
          [](const control::TellHandled& told) -> protocol::ServiceMessage {
            return protocol::Handled{told.step, told.what == control::Handling::load
                                                    ? protocol::Handling::load
                                                    : protocol::Handling::unload};
          },
      },
      message);
}

bool has_rebooted(const std::optional<std::string>& known_boot, const protocol::Hello& hello) {
  if (known_boot) return *known_boot != hello.boot;
  return hello.until == 0;
}

control::CartGreets to_event(CartIx cart, const protocol::Hello& hello, bool rebooted) {
  control::CartGreets greets;
  greets.cart = cart;
  greets.last_tag = hello.last_tag;
  greets.step = hello.step;
  greets.until = hello.until;
  greets.rebooted = rebooted;
  greets.loaded = hello.loaded;
  greets.battery = hello.battery;
  greets.stopped = hello.stopped;
  return greets;
}

control::Event to_event(CartIx cart, const protocol::CartMessage& message) {
  return std::visit(
      Overloaded{
          [](const protocol::Hello&) -> control::Event {
            throw std::invalid_argument("a Hello becomes an event only with its boot judged");
          },
          [&](const protocol::Read& read) -> control::Event {
            return control::CartReads{cart, read.tag, read.step};
          },
          [&](const protocol::State& state) -> control::Event {
            return control::CartReports{cart, state.battery, state.loaded, state.moving,
                                        from_wire(state.fault)};
          },
          [&](const protocol::Done& done) -> control::Event {
            return control::CartHandled{cart, done.step,
                                        done.what == protocol::Handling::load
                                            ? control::Handling::load
                                            : control::Handling::unload};
          },
          [&](const protocol::Stop& stop) -> control::Event {
            return control::CartStopped{cart, from_wire(stop.cause)};
          },
          [&](const protocol::Release&) -> control::Event { return control::CartReleased{cart}; },
      },
      message);
}

protocol::Seq seq_of(const protocol::CartMessage& message) {
  return std::visit(
      [](const auto& sent) -> protocol::Seq {
        if constexpr (std::is_same_v<std::decay_t<decltype(sent)>, protocol::Hello>) {
          return 0;
        } else {
          return sent.seq;
        }
      },
      message);
}

}  // namespace tagline::net
