// A run's events as text, so that a run that broke something can be looked at again: one header
// line, then one line for each event the core took (JSON lines, RFC 8259), then a line that says
// what broke.
#pragma once

#include <iosfwd>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>

#include "server/sim/fleet_run.hpp"

namespace tagline::sim {

/// `{"format":"tagline-trace/1","carts":5,"seed":7,"hours":2,...,"floor":{...}}`, no line end.
/// `floor_document`: the floor as a floor file, JSON.
std::string trace_header(const FleetRunOptions& options, const std::string& floor_document);
/// An event without its time: `{"event":"reads","cart":0,"tag":"04A1","step":3}`.
std::string event_json(const control::Event& event);
/// `{"t":1000,"event":"reads","cart":0,"tag":"04A1","step":3}`, `t` in ms since the run began.
std::string trace_line(Instant now, const control::Event& event);
/// `{"t":1000,"broken":"..."}`
std::string trace_end(double seconds, const std::string& broken);

/// The file is no trace; says where and why.
class BadTrace : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

struct TraceHeader {
  FleetRunOptions options;
  std::string floor_document;
};
TraceHeader read_trace_header(const std::string& line);
struct TraceLine {
  Instant now;
  /// Nothing: the last line, which says what broke.
  std::optional<control::Event> event;
  std::string broken;
};
TraceLine read_trace_line(const std::string& line);

}  // namespace tagline::sim
