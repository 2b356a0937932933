// What the cart logic weighs on an 8-bit microcontroller, and that it needs no heap, exceptions or
// RTTI there. The goals are those set for the project: 24 KiB of flash and 1.5 KiB of RAM.
#include <gtest/gtest.h>

#include <array>
#include <fstream>
#include <iostream>
#include <iterator>
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

struct Weight {
  std::size_t flash{0};
  /// Variables.
  std::size_t fixed{0};
  std::size_t stack{0};
  [[nodiscard]] std::size_t ram() const { return fixed + stack; }
};

// Flash: code, constants, start-up code and vectors of a program with nothing but one cart logic
// and its outbox. RAM: that program's data and bss, and the deepest that the stack was on the whole
// trip, with what the bench program itself puts there. Both count a little more than the logic
// alone.
Weight weigh() {
  const Sections sections = sections_of(elf("logic_only"));
  const Simulated trip = simulate(elf("trip"), 2'000'000'000);
  EXPECT_TRUE(trip.finished);
  EXPECT_GT(trip.deepest_stack, std::size_t{0});
  return {sections.text + sections.data, sections.data + sections.bss, trip.deepest_stack};
}

TEST(FirmwareWeight, LogicFitsASmallMicrocontroller) {
  const Weight weight = weigh();
  std::cout << "cart logic on an ATmega1284P: flash " << weight.flash << " of " << most_flash
            << " bytes; RAM " << weight.ram() << " of " << most_ram << " bytes (" << weight.fixed
            << " fixed, stack " << weight.stack << ")\n";
  EXPECT_GT(weight.fixed, std::size_t{500}) << "the logic with its tables can't be that small";
  EXPECT_LE(weight.flash, most_flash);
  EXPECT_LE(weight.ram(), most_ram);
}

/// The number that stands before these words, written with a comma at the thousands; 0 if there is
/// none.
std::size_t number_before(const std::string& words, const std::string& text) {
  const std::size_t end = text.find(words);
  if (end == std::string::npos) return 0;
  std::size_t number = 0;
  const std::size_t before = text.find_last_not_of("0123456789,", end - 1);
  for (std::size_t i = before + 1; i < end; ++i) {
    if (text[i] != ',') number = 10 * number + static_cast<std::size_t>(text[i] - '0');
  }
  return number;
}

// protocol/cart/GUIDE.md names round figures: not less than measured, and not 5 % more.
TEST(FirmwareWeight, TheGuideSaysHowMuchItIs) {
  std::ifstream file{TAGLINE_SOURCE_DIR "/protocol/cart/GUIDE.md"};
  const std::string guide{std::istreambuf_iterator<char>{file}, {}};
  const std::size_t flash = number_before(" bytes of flash and ", guide);
  const std::size_t ram = number_before(" bytes of RAM", guide);
  const Weight weight = weigh();
  EXPECT_GE(flash, weight.flash);
  EXPECT_LE(flash, weight.flash + weight.flash / 20);
  EXPECT_GE(ram, weight.ram());
  EXPECT_LE(ram, weight.ram() + weight.ram() / 20);
}

TEST(FirmwareWeight, LogicLinksNoHeapExceptionsOrRtti) {
  const std::string symbols = symbols_of(elf("logic_only"));
  EXPECT_NE(symbols.find("tagline::cart::CartLogic::step"), std::string::npos);
  EXPECT_EQ(forbidden_in(symbols), std::vector<std::string>{});
  EXPECT_EQ(forbidden_in(symbols_of(elf("trip"))), std::vector<std::string>{});
}

TEST(FirmwareWeight, TheCheckSeesAHeapThatIsThere) {
  EXPECT_FALSE(forbidden_in(symbols_of(elf("heap_user"))).empty());
}

// Firmware with these doesn't even link here: the AVR has no C++ library. Their names are the
// ABI's.
TEST(FirmwareWeight, TheCheckKnowsTheNamesOfTheRest) {
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
TEST(FirmwareWeight, AKnownStackIsMeasured) {
  const Simulated known = simulate(elf("known_stack"), 1'000'000);
  EXPECT_TRUE(known.finished);
  EXPECT_GE(known.deepest_stack, std::size_t{104});
  EXPECT_LE(known.deepest_stack, std::size_t{112});
}

}  // namespace
}  // namespace tagline::firmware
