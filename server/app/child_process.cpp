// fork, exec and wait.
#include "server/app/child_process.hpp"

#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <stdexcept>
#include <thread>

#include "server/app/call_words.hpp"

namespace tagline::app {
namespace {

sigset_t ending_signals() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGINT);
  sigaddset(&set, SIGTERM);
  return set;
}

constexpr std::chrono::seconds patience{10};

}  // namespace

ChildProcess::ChildProcess(const std::vector<std::string>& arguments) {
  const CallWords words(arguments);
  const pid_t parent = getpid();
  pid_ = fork();
  if (pid_ < 0) throw std::runtime_error("can't start another process");
  if (pid_ > 0) return;
  prctl(PR_SET_PDEATHSIG, SIGTERM);
  if (getppid() != parent) _exit(1);  // the parent ended before that took hold
  const sigset_t set = ending_signals();
  sigprocmask(SIG_UNBLOCK, &set, nullptr);
  execv("/proc/self/exe", words.argv());
  _exit(127);
}

ChildProcess::~ChildProcess() { end(); }

std::optional<int> ChildProcess::ended() {
  if (code_) return code_;
  int status = 0;
  if (waitpid(pid_, &status, WNOHANG) == pid_)
    code_ = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return code_;
}

int ChildProcess::end() {
  if (!ended()) kill(pid_, SIGTERM);
  const auto deadline = std::chrono::steady_clock::now() + patience;
  while (!ended()) {
    if (std::chrono::steady_clock::now() > deadline) kill(pid_, SIGKILL);
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  return *code_;
}

HeldSignals::HeldSignals() {
  const sigset_t set = ending_signals();
  sigprocmask(SIG_BLOCK, &set, nullptr);
}

bool HeldSignals::came_within(std::chrono::milliseconds time) {
  const sigset_t set = ending_signals();
  const timespec wait{time.count() / 1000, static_cast<long>(time.count() % 1000) * 1'000'000};
  return sigtimedwait(&set, nullptr, &wait) > 0;
}

}  // namespace tagline::app
