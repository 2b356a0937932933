// The simulator, its serial port and its memory: see simulate.hpp.
#include "simulate.hpp"

#include <algorithm>
#include <cstdarg>
#include <cstdlib>
#include <memory>
#include <stdexcept>

extern "C" {
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_irq.h>
}

// Asked by the leak sanitizer, where there is one: the simulator has no call that frees the tables
// of a firmware and of its chip.
// NOLINTBEGIN(bugprone-reserved-identifier): the sanitizer's name
extern "C" const char* __lsan_default_suppressions();
extern "C" const char* __lsan_default_suppressions() { return "leak:libsimavr"; }
// NOLINTEND(bugprone-reserved-identifier)

namespace tagline::firmware {
namespace {

constexpr const char* chip = "atmega1284p";
constexpr std::uint32_t frequency = 16'000'000;
/// Where its memory begins, below that are registers.
constexpr std::size_t memory_start = 0x100;
/// What memory is filled with before the run. A stack that happens to end in bytes of this value
/// would be measured those few bytes too short.
constexpr std::uint8_t untouched = 0xA5;

struct Terminate {
  void operator()(avr_t* avr) const {
    avr_terminate(avr);
    std::free(avr);
  }
};

void take_byte(avr_irq_t*, std::uint32_t value, void* output) {
  static_cast<std::string*>(output)->push_back(static_cast<char>(value));
}

}  // namespace

Simulated simulate(const std::string& elf, std::uint64_t most_cycles) {
  // It says what it loads; a test's output is no place for that.
  avr_global_logger_set([](avr_t*, int, const char*, std::va_list) {});
  elf_firmware_t firmware{};
  if (elf_read_firmware(elf.c_str(), &firmware) != 0) {
    throw std::runtime_error{elf + ": not a firmware"};
  }
  const std::unique_ptr<avr_t, Terminate> avr{avr_make_mcu_by_name(chip)};
  if (!avr) throw std::runtime_error{std::string{"the simulator knows no "} + chip};
  avr_init(avr.get());
  firmware.frequency = frequency;
  avr_load_firmware(avr.get(), &firmware);

  Simulated run;
  std::uint32_t flags = 0;
  avr_ioctl(avr.get(), AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
  flags &= ~static_cast<std::uint32_t>(AVR_UART_FLAG_STDIO);
  avr_ioctl(avr.get(), AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
  avr_irq_register_notify(avr_io_getirq(avr.get(), AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT),
                          take_byte, &run.output);

  std::uint8_t* const end = avr->data + avr->ramend + 1;
  std::uint8_t* const free_memory = avr->data + memory_start + firmware.datasize + firmware.bsssize;
  std::fill(free_memory, end, untouched);
  int state = cpu_Running;
  while (state != cpu_Done && state != cpu_Crashed && avr->cycle < most_cycles) {
    state = avr_run(avr.get());
  }
  run.finished = state == cpu_Done;
  run.cycles = avr->cycle;
  run.deepest_stack = static_cast<std::size_t>(
      end - std::find_if(free_memory, end, [](std::uint8_t b) { return b != untouched; }));
  return run;
}

}  // namespace tagline::firmware
