// The floor drawn to scale with its findings, as SVG (W3C, Scalable Vector Graphics 1.1).
#pragma once

#include <string>

#include "server/app/check_result.hpp"

namespace tagline::app {

/// Tape with its direction, points, stations, sidings and chargers; where bodies foul each other
/// before merges and crossings, and where to wait; findings numbered as in the report, with a
/// legend. Nothing is told by colour alone.
std::string check_drawing(const floor::Track& track, const CheckResult& result);

}  // namespace tagline::app
