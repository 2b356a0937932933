// The command line of a benchmark: names of parts, and --smoke for a run of seconds that judges no
// time.
#pragma once

#include <algorithm>
#include <cstdio>
#include <string_view>
#include <vector>

namespace tagline::bench {

class Arguments {
 public:
  Arguments(int argc, char** argv) {
    std::setvbuf(stdout, nullptr, _IOLBF, 0);  // each line when it is known
    for (int k = 1; k < argc; ++k) {
      if (std::string_view(argv[k]) == "--smoke") {
        smoke_ = true;
      } else {
        parts_.emplace_back(argv[k]);
      }
    }
  }
  [[nodiscard]] bool smoke() const { return smoke_; }
  [[nodiscard]] bool wanted(std::string_view part) const {
    return parts_.empty() || std::ranges::find(parts_, part) != parts_.end();
  }

 private:
  bool smoke_{false};
  std::vector<std::string_view> parts_;
};

}  // namespace tagline::bench
