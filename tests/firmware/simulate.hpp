// Runs a firmware on a simulated microcontroller (simavr) and measures it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>

namespace tagline::firmware {

struct Simulated {
  /// What it wrote to serial port 0.
  std::string output;
  /// It went to sleep for good by itself.
  bool finished{false};
  std::uint64_t cycles{0};
  /// Bytes of memory below the stack pointer's start that were written: the deepest the stack was.
  std::size_t deepest_stack{0};
};

/// Runs `elf` on an ATmega1284P at 16 MHz until it sleeps with interrupts off, crashes, or
/// `most_cycles` have passed. Throws std::runtime_error if it can't be loaded.
Simulated simulate(const std::string& elf, std::uint64_t most_cycles);

}  // namespace tagline::firmware
