// Words and decimal numbers.
#include "tests/firmware/bench/lines.hpp"

namespace tagline {
namespace bench {

void Lines::space() {
  if (begun_) put_(context_, ' ');
  begun_ = true;
}

Lines& Lines::word(const char* text) {
  space();
  for (; *text != '\0'; ++text) put_(context_, *text);
  return *this;
}

Lines& Lines::number(int32_t value) {
  space();
  uint32_t rest = static_cast<uint32_t>(value);
  if (value < 0) {
    put_(context_, '-');
    rest = 0u - rest;
  }
  char digits[10];
  uint8_t count = 0;
  do {
    digits[count++] = static_cast<char>('0' + static_cast<char>(rest % 10));
    rest /= 10;
  } while (rest != 0);
  while (count > 0) put_(context_, digits[--count]);
  return *this;
}

void Lines::end() {
  put_(context_, '\n');
  begun_ = false;
}

}  // namespace bench
}  // namespace tagline
