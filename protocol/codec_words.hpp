// The words that stand for enum values on the wire; one table each, used both ways.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>

#include "protocol/messages.hpp"

namespace tagline::protocol::words {

template <class Enum>
struct Word {
  Enum value;
  std::string_view word;
};

inline constexpr std::array handling{Word{Handling::load, "load"},
                                     Word{Handling::unload, "unload"}};
inline constexpr std::array cause{
    Word{StopCause::button, "button"}, Word{StopCause::bumper, "bumper"},
    Word{StopCause::scanner, "scanner"}, Word{StopCause::service, "service"}};
inline constexpr std::array fault{
    Word{Fault::none, "none"},           Word{Fault::blocked, "blocked"},
    Word{Fault::tape_lost, "tape_lost"}, Word{Fault::overrun, "overrun"},
    Word{Fault::wrong_tag, "wrong_tag"}, Word{Fault::battery, "battery"},
    Word{Fault::drive, "drive"},         Word{Fault::reader, "reader"}};
inline constexpr std::array branch{Word{Branch::left, "left"}, Word{Branch::straight, "straight"},
                                   Word{Branch::right, "right"}};
inline constexpr std::array gear{Word{Gear::forward, "forward"}, Word{Gear::back, "back"}};
inline constexpr std::array act{Word{Act::go, "go"},     Word{Act::turn, "turn"},
                                Word{Act::stop, "stop"}, Word{Act::wait, "wait"},
                                Word{Act::load, "load"}, Word{Act::unload, "unload"}};

template <class Enum, std::size_t count>
constexpr std::string_view word_of(const std::array<Word<Enum>, count>& table, Enum value) {
  for (const auto& entry : table) {
    if (entry.value == value) return entry.word;
  }
  return "";  // only for a value that is none of the enum's
}

template <class Enum, std::size_t count>
constexpr std::optional<Enum> value_of(const std::array<Word<Enum>, count>& table,
                                       std::string_view word) {
  for (const auto& entry : table) {
    if (entry.word == word) return entry.value;
  }
  return std::nullopt;
}

template <class Enum, std::size_t count>
std::string list(const std::array<Word<Enum>, count>& table) {
  std::string all;
  for (const auto& entry : table) {
    if (!all.empty()) all += ", ";
    all += entry.word;
  }
  return all;
}

}  // namespace tagline::protocol::words
