// Clients that post one job after another over kept HTTP connections (RFC 9112).
#pragma once

#include <cstdint>
#include <string>

#include "tests/bench/net/figures.hpp"

namespace tagline::bench {

/// `connections` clients on one thread post `body` to /api/jobs, each as soon as its last answer is
/// there, until `time` is over or `most` were posted; returns the seconds until the last answer.
/// Throws std::runtime_error for an answer other than 201.
double post_jobs(std::uint16_t port, std::size_t connections, Steady::duration time,
                 std::size_t most, const std::string& body);

}  // namespace tagline::bench
