// See print.hpp.
#include "server/app/print.hpp"

#include <cstdarg>
#include <cstdio>

namespace tagline::app {

std::string print(const char* format, ...) {
  char text[400];
  va_list values;
  va_start(values, format);
  std::vsnprintf(text, sizeof text, format, values);
  va_end(values);
  return text;
}

}  // namespace tagline::app
