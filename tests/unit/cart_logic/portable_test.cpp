// The cart-side logic must build for firmware: C++14, without exceptions, RTTI, heap or a C++
// library, and ask nothing of the linker that a microcontroller's C library doesn't have.
#include <gtest/gtest.h>
#include <unistd.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <set>
#include <sstream>
#include <string>

namespace {

struct Ran {
  int status;
  std::string output;
};

Ran run(const std::string& command) {
  Ran ran{-1, ""};
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

const std::string source = TAGLINE_SOURCE_DIR;
const std::string flags =
    " -std=c++14 -Os -Wall -Wextra -Wpedantic -Werror -fno-exceptions -fno-rtti"
    " -fno-threadsafe-statics -I " +
    source + " ";

class Portable : public testing::TestWithParam<const char*> {
 protected:
  std::string object{testing::TempDir() + "tagline_portable_" + std::to_string(getpid()) + "_" +
                     GetParam() + ".o"};
  std::string file{source + "/protocol/cart/" + GetParam() + ".cpp"};
  void TearDown() override { std::remove(object.c_str()); }
};

TEST_P(Portable, BuildsAsCpp14AndNeedsOnlyMemoryFunctions) {
  const Ran built =
      run(std::string{TAGLINE_CXX} + flags + "-fno-stack-protector -c " + file + " -o " + object);
  ASSERT_EQ(built.status, 0) << built.output;
  const Ran symbols = run("nm -u -C " + object);
  ASSERT_EQ(symbols.status, 0) << symbols.output;
  std::istringstream lines{symbols.output};
  std::string kind;
  std::string name;
  while (lines >> kind && std::getline(lines >> std::ws, name)) {
    const bool own = name.rfind("tagline::cart::", 0) == 0;
    const std::set<std::string> memory{"memcmp", "memcpy", "memset", "memmove",
                                       "_GLOBAL_OFFSET_TABLE_"};
    EXPECT_TRUE(own || memory.contains(name)) << "needs " << name;
  }
}

TEST_P(Portable, BuildsForAvr) {
  if (run("avr-g++ --version").status != 0) GTEST_SKIP() << "avr-g++ is not installed";
  const Ran built = run("avr-g++ -mmcu=atmega328p" + flags + "-c " + file + " -o " + object);
  EXPECT_EQ(built.status, 0) << built.output;
}

INSTANTIATE_TEST_SUITE_P(All, Portable, testing::Values("cart_logic", "tag"),
                         [](const auto& unit) { return std::string{unit.param}; });

}  // namespace
