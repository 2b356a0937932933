// fork, exec, wait, read.
#include "server/app/side_program.hpp"

#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <thread>

#include "server/app/call_words.hpp"

namespace tagline::app {
namespace {

constexpr int lowest_priority = 19;
constexpr std::chrono::milliseconds look_every{20};

/// In the child, between fork and exec: only what a signal handler may do.
[[noreturn]] void become(const char* program, char* const* argv, int output, int complaints,
                         const SideBounds& most, pid_t parent) {
  prctl(PR_SET_PDEATHSIG, SIGKILL);
  if (getppid() != parent) _exit(127);
  sigset_t none;
  sigemptyset(&none);
  sigprocmask(SIG_SETMASK, &none, nullptr);
  setpriority(PRIO_PROCESS, 0, lowest_priority);
  const auto seconds = static_cast<rlim_t>(most.processor.count());
  const rlimit processor{seconds, seconds};
  setrlimit(RLIMIT_CPU, &processor);
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
  // A sanitizer's shadow alone takes more than any bound.
  const rlimit memory{most.memory, most.memory};
  setrlimit(RLIMIT_AS, &memory);
#endif
  dup2(output, STDOUT_FILENO);
  dup2(complaints, STDERR_FILENO);
  execv(program, argv);
  _exit(127);
}

int wait_for(pid_t child, std::chrono::milliseconds most, const std::atomic<bool>& given_up,
             bool& killed) {
  const auto end = std::chrono::steady_clock::now() + most;
  int status = 0;
  while (waitpid(child, &status, WNOHANG) == 0) {
    if (given_up || std::chrono::steady_clock::now() > end) {
      killed = true;
      kill(child, SIGKILL);
      waitpid(child, &status, 0);
      break;
    }
    std::this_thread::sleep_for(look_every);
  }
  killed = killed ||
           (WIFSIGNALED(status) && (WTERMSIG(status) == SIGXCPU || WTERMSIG(status) == SIGKILL));
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

/// A file for the child to write, and for nobody else to read.
struct Output {
  explicit Output(const std::filesystem::path& file)
      : number(::open(file.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, S_IRUSR | S_IWUSR)) {
    if (number < 0) throw std::runtime_error("can't write " + file.string());
  }
  ~Output() { ::close(number); }
  Output(const Output&) = delete;
  Output& operator=(const Output&) = delete;
  const int number;
};

std::string all_in(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return std::move(text).str();
}

}  // namespace

std::optional<SideRun> run_aside(const std::filesystem::path& program,
                                 const std::vector<std::string>& arguments,
                                 const std::filesystem::path& print_to, const SideBounds& most,
                                 const std::atomic<bool>& given_up) {
  const CallWords words(arguments);
  const std::filesystem::path complain_to = print_to.string() + ".err";
  const Output output(print_to), complaints(complain_to);
  const pid_t parent = getpid();
  const pid_t child = fork();
  if (child == 0)
    become(program.c_str(), words.argv(), output.number, complaints.number, most, parent);
  if (child < 0) throw std::runtime_error("can't start another process");
  bool killed = false;
  SideRun run;
  run.exit_code = wait_for(child, most.time, given_up, killed);
  if (!killed) {
    run.printed = all_in(print_to);
    run.complained = all_in(complain_to);
  }
  std::error_code ignored;
  std::filesystem::remove(print_to, ignored);
  std::filesystem::remove(complain_to, ignored);
  if (killed) return std::nullopt;
  return run;
}

}  // namespace tagline::app
