// The past for pages (net/past.hpp): the journal of runs in the data folder, read over a connection
// of its own that can't write, and the run that somebody looks at, worked out again with the same
// core.
#pragma once

#include <chrono>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "server/app/past_run.hpp"
#include "server/net/past.hpp"
#include "server/store/runs.hpp"

namespace tagline::app {

class StorePast : public net::Past {
 public:
  /// A data folder that has been opened by the service. Nothing is read before somebody asks.
  explicit StorePast(std::filesystem::path folder) : folder_(std::move(folder)) {}

  std::string spans() override;
  std::string boards(const net::PastAsked& asked, const GiveUp& give_up) override;
  std::string floor(std::int64_t run) override;
  void rest() override;

 private:
  const store::Runs& runs();
  PastRun& at_run(std::int64_t run);

  std::filesystem::path folder_;
  std::unique_ptr<store::Runs> runs_;
  std::unique_ptr<PastRun> run_;
  /// A way that somebody has been told to wait for, and when he asked last: nobody else's question
  /// about another run may undo it meanwhile.
  struct UnderWay {
    std::int64_t run;
    std::chrono::steady_clock::time_point asked;
  };
  std::optional<UnderWay> under_way_;
};

}  // namespace tagline::app
