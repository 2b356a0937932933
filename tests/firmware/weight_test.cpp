// What the cart logic weighs on an 8-bit microcontroller, and that it needs no heap, exceptions or
// RTTI there. The goals are those set for the project: 24 KiB of flash and 1.5 KiB of RAM.
#include <gtest/gtest.h>

#include <array>
#include <iostream>
#include <sstream>
#include <string>
#include <vector>

#include "simulate.hpp"
#include "tests/support/command.hpp"

namespace tagline::firmware {
namespace {

constexpr std::size_t most_flash = 24 * 1024;
constexpr std::size_t most_ram = 1536;

std::string elf(const std::string& name) {
  return std::string{TAGLINE_FIRMWARE "/"} + name + ".elf";
}

struct Sections {
  std::size_t text{0};
  std::size_t data{0};
  std::size_t bss{0};
};

/// From the second line of `avr-size`: text, data, bss.
Sections sections_of(const std::string& file) {
  const test::Ran ran = test::run(TAGLINE_AVR_SIZE " " + file);
  std::istringstream lines{ran.output};
  std::string head;
  std::getline(lines, head);
  Sections sections;
  lines >> sections.text >> sections.data >> sections.bss;
  EXPECT_TRUE(ran.status == 0 && lines) << ran.output;
  return sections;
}

/// Symbols of heap, exceptions and RTTI among those that `nm -C` lists, one a line.
std::vector<std::string> forbidden_in(const std::string& symbols) {
  const std::array<std::string, 12> signs{
      "alloc",    "free",        "sbrk",     "operator new", "operator delete", "__cxa_",
      "_Unwind_", "personality", "typeinfo", "eh_frame",     "__dynamic_cast",  "terminate"};
  std::vector<std::string> found;
  std::istringstream lines{symbols};
  for (std::string line; std::getline(lines, line);) {
    for (const std::string& sign : signs) {
      if (line.find(sign) != std::string::npos) {
        found.push_back(line);
        break;
      }
    }
  }
  return found;
}

std::string symbols_of(const std::string& file) {
  const test::Ran ran = test::run(TAGLINE_AVR_NM " -C " + file);
  EXPECT_EQ(ran.status, 0) << ran.output;
  return ran.output;
}

// Flash: code, constants, start-up code and vectors of a program with nothing but one cart logic.
// RAM: that program's data and bss, and the deepest that the stack was on the whole trip, with what
// the bench program itself puts there. Both count a little more than the logic alone.
TEST(Weight, LogicFitsASmallMicrocontroller) {
  const Sections sections = sections_of(elf("logic_only"));
  const Simulated trip = simulate(elf("trip"), 2'000'000'000);
  ASSERT_TRUE(trip.finished);
  ASSERT_GT(trip.deepest_stack, std::size_t{0});

  const std::size_t flash = sections.text + sections.data;
  const std::size_t fixed = sections.data + sections.bss;
  const std::size_t ram = fixed + trip.deepest_stack;
  std::cout << "cart logic on an ATmega1284P: flash " << flash << " of " << most_flash
            << " bytes; RAM " << ram << " of " << most_ram << " bytes (" << fixed
            << " fixed, stack " << trip.deepest_stack << ")\n";
  EXPECT_GT(fixed, std::size_t{500}) << "the logic with its tables can't be that small";
  EXPECT_LE(flash, most_flash);
  EXPECT_LE(ram, most_ram);
}

TEST(Weight, LogicLinksNoHeapExceptionsOrRtti) {
  const std::string symbols = symbols_of(elf("logic_only"));
  EXPECT_NE(symbols.find("tagline::cart::CartLogic::step"), std::string::npos);
  EXPECT_EQ(forbidden_in(symbols), std::vector<std::string>{});
  EXPECT_EQ(forbidden_in(symbols_of(elf("trip"))), std::vector<std::string>{});
}

TEST(Weight, TheCheckSeesAHeapThatIsThere) {
  EXPECT_FALSE(forbidden_in(symbols_of(elf("heap_user"))).empty());
}

// Firmware with these doesn't even link here: the AVR has no C++ library. Their names are the
// ABI's.
TEST(Weight, TheCheckKnowsTheNamesOfTheRest) {
  for (const char* line :
       {"00000a10 T operator new(unsigned int)", "00000a10 T operator delete(void*)",
        "00000a10 T __cxa_throw", "00000a10 T __cxa_guard_acquire", "         U _Unwind_Resume",
        "00000a10 T __gxx_personality_v0", "00000a10 V typeinfo for tagline::cart::Tag",
        "00000a10 T __dynamic_cast"}) {
    EXPECT_EQ(forbidden_in(line).size(), 1U) << line;
  }
  EXPECT_TRUE(forbidden_in("00000a10 T tagline::cart::Reckoning::travelled() const").empty());
}

// 100 bytes; return addresses of main and the function, 2 bytes each; a saved pair of registers or
// two.
TEST(Weight, AKnownStackIsMeasured) {
  const Simulated known = simulate(elf("known_stack"), 1'000'000);
  EXPECT_TRUE(known.finished);
  EXPECT_GE(known.deepest_stack, std::size_t{104});
  EXPECT_LE(known.deepest_stack, std::size_t{112});
}

}  // namespace
}  // namespace tagline::firmware
