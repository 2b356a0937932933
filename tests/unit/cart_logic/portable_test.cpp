// The cart-side logic must build for firmware: C++14, without exceptions, RTTI, heap or a C++
// library, and ask nothing of the linker that a microcontroller's C library doesn't have. (For a
// real microcontroller it is built and weighed in tests/firmware.)
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "tests/support/command.hpp"

namespace tagline::cart {
namespace {

using tagline::test::Ran;
using tagline::test::run;

const std::string source = TAGLINE_SOURCE_DIR;
const std::string flags =
    " -std=c++14 -Os -Wall -Wextra -Wpedantic -Werror -fno-exceptions -fno-rtti"
    " -fno-threadsafe-statics -I " +
    source + " ";

/// Every source of the cart's side, without its ending.
std::vector<std::string> units() {
  std::vector<std::string> found;
  for (const auto& entry : std::filesystem::directory_iterator{source + "/protocol/cart"}) {
    if (entry.path().extension() == ".cpp") found.push_back(entry.path().stem().string());
  }
  std::sort(found.begin(), found.end());
  return found;
}

class Portable : public testing::TestWithParam<std::string> {
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

INSTANTIATE_TEST_SUITE_P(All, Portable, testing::ValuesIn(units()),
                         [](const auto& unit) { return unit.param; });

}  // namespace
}  // namespace tagline::cart
