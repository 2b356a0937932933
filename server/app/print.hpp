// Text from a format, for the tables that commands print.
#pragma once

#include <string>

namespace tagline::app {

/// As std::snprintf; longer than 399 bytes is cut off.
std::string print(const char* format, ...) __attribute__((format(printf, 1, 2)));

}  // namespace tagline::app
