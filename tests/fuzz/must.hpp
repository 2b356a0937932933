// What a harness says when a promise is broken: libFuzzer keeps the input of a program that aborts.
#pragma once

#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>

namespace tagline::fuzz {

inline void must(bool kept, std::string_view promise, std::string_view seen = {}) {
  if (kept) return;
  std::fprintf(stderr, "broken promise: %s\n%s\n", std::string(promise).c_str(),
               std::string(seen).c_str());
  std::abort();
}

}  // namespace tagline::fuzz
