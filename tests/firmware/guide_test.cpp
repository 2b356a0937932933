// The sketch in protocol/cart/GUIDE.md must fit the code it is written for.
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "tests/support/command.hpp"

namespace tagline::firmware {
namespace {

/// The only C++ in the guide.
std::string sketch() {
  std::ifstream file{TAGLINE_SOURCE_DIR "/protocol/cart/GUIDE.md"};
  const std::string guide{std::istreambuf_iterator<char>{file}, {}};
  const std::string opening = "```cpp\n";
  const std::size_t begin = guide.find(opening);
  if (begin == std::string::npos) return "";
  const std::size_t from = begin + opening.size();
  const std::size_t end = guide.find("```", from);
  EXPECT_EQ(guide.find(opening, from), std::string::npos) << "a second sketch isn't looked at";
  return guide.substr(from, end - from);
}

class Guide : public testing::Test {
 protected:
  Guide() {
    std::filesystem::create_directories(folder);
    std::ofstream{folder / "sketch.cpp"} << sketch();
  }
  void TearDown() override { std::filesystem::remove_all(folder); }

  [[nodiscard]] test::Ran compile(const std::string& compiler) const {
    return test::run(compiler +
                     " -std=c++14 -Os -Wall -Wextra -Wpedantic -Werror -fno-exceptions -fno-rtti"
                     " -I " TAGLINE_SOURCE_DIR " -c " +
                     (folder / "sketch.cpp").string() + " -o " + (folder / "sketch.o").string());
  }

  const std::filesystem::path folder{std::filesystem::path{testing::TempDir()} /
                                     ("tagline_guide_" + std::to_string(getpid()))};
};

TEST_F(Guide, ItsSketchCompilesHere) {
  ASSERT_NE(sketch().find("logic.step("), std::string::npos);
  const test::Ran ran = compile(TAGLINE_CXX);
  EXPECT_EQ(ran.status, 0) << ran.output;
}

TEST_F(Guide, ItsSketchCompilesForAMicrocontroller) {
  const test::Ran ran = compile(TAGLINE_AVR_CXX " -mmcu=atmega1284p");
  EXPECT_EQ(ran.status, 0) << ran.output;
}

TEST_F(Guide, ItsSketchSaysThatItHasNotRun) {
  EXPECT_EQ(sketch().rfind("// A cart on a Wi-Fi board. NOT RUN ON HARDWARE.\n", 0), 0U);
}

}  // namespace
}  // namespace tagline::firmware
