// Text of the bench program, byte by byte to wherever it runs: a serial line or a string. C++14 for
// firmware: no heap, no library.
#pragma once

#include <stdint.h>

namespace tagline {
namespace bench {

class Lines {
 public:
  /// Takes one byte; `context` is what the constructor was given.
  typedef void (*Put)(void* context, char byte);

  Lines(Put put, void* context) : put_(put), context_(context) {}

  /// Words and numbers of one line, with a space between them; end() closes it.
  Lines& word(const char* text);
  Lines& number(int32_t value);
  void end();

 private:
  void space();

  Put put_;
  void* context_;
  bool begun_ = false;
};

}  // namespace bench
}  // namespace tagline
