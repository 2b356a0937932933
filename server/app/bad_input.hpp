// Something the caller gave can't be used: printed line by line, exit code 2.
#pragma once

#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace tagline::app {

class BadInput : public std::runtime_error {
 public:
  explicit BadInput(const std::string& line) : BadInput(std::vector<std::string>{line}) {}
  /// One line per finding; never empty.
  explicit BadInput(std::vector<std::string> lines)
      : std::runtime_error(lines.at(0)), lines_(std::move(lines)) {}
  [[nodiscard]] const std::vector<std::string>& lines() const { return lines_; }

 private:
  std::vector<std::string> lines_;
};

}  // namespace tagline::app
