// Runs a command of the shell and keeps what it prints.
#pragma once

#include <array>
#include <cstdio>
#include <string>

namespace tagline::test {

struct Ran {
  /// As pclose() gives it: 0 if all went well.
  int status{-1};
  /// Standard output and errors.
  std::string output{};
};

inline Ran run(const std::string& command) {
  Ran ran;
  FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return ran;
  std::array<char, 4096> buffer{};
  std::size_t got = 0;
  while ((got = fread(buffer.data(), 1, buffer.size(), pipe)) > 0) {
    ran.output.append(buffer.data(), got);
  }
  ran.status = pclose(pipe);
  return ran;
}

}  // namespace tagline::test
