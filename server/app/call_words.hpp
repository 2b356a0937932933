// The words of a call of this program, in the form that exec(3) takes.
#pragma once

#include <string>
#include <vector>

namespace tagline::app {

/// Made before a fork: the child of a process with threads must not allocate.
class CallWords {
 public:
  explicit CallWords(const std::vector<std::string>& arguments) {
    words_.emplace_back("tagline");
    words_.insert(words_.end(), arguments.begin(), arguments.end());
    for (std::string& word : words_) argv_.push_back(word.data());
    argv_.push_back(nullptr);
  }
  CallWords(const CallWords&) = delete;
  CallWords& operator=(const CallWords&) = delete;

  [[nodiscard]] char* const* argv() const { return argv_.data(); }

 private:
  std::vector<std::string> words_;
  std::vector<char*> argv_;
};

}  // namespace tagline::app
