// How much of a long search a test does: less with sanitizers, which make it some ten times slower.
#pragma once

#include <cstddef>

namespace tagline::test {

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
inline constexpr bool sanitized = true;
#else
inline constexpr bool sanitized = false;
#endif

/// A quarter of `usual` with sanitizers, at least 1. What the test expects must hold for both.
template <class Number>
constexpr Number lighter(Number usual) {
  return !sanitized ? usual : usual < Number{4} ? Number{1} : usual / Number{4};
}

}  // namespace tagline::test
