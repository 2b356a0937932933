// The words that stand for enum values on the wire; one table each, used both ways.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>

#include "protocol/messages.hpp"

namespace tagline::protocol::words {

/// One value and its word.
template <class Enum>
struct Word {
  Enum value;
  std::string_view word;
};

inline constexpr auto handling =
    std::to_array<Word<Handling>>({{Handling::load, "load"}, {Handling::unload, "unload"}});
inline constexpr auto cause = std::to_array<Word<StopCause>>({{StopCause::button, "button"},
                                                              {StopCause::bumper, "bumper"},
                                                              {StopCause::scanner, "scanner"},
                                                              {StopCause::service, "service"}});
inline constexpr auto fault = std::to_array<Word<Fault>>({{Fault::none, "none"},
                                                          {Fault::blocked, "blocked"},
                                                          {Fault::tape_lost, "tape_lost"},
                                                          {Fault::overrun, "overrun"},
                                                          {Fault::wrong_tag, "wrong_tag"},
                                                          {Fault::battery, "battery"},
                                                          {Fault::drive, "drive"},
                                                          {Fault::reader, "reader"}});
inline constexpr auto branch = std::to_array<Word<Branch>>(
    {{Branch::left, "left"}, {Branch::straight, "straight"}, {Branch::right, "right"}});
inline constexpr auto gear =
    std::to_array<Word<Gear>>({{Gear::forward, "forward"}, {Gear::back, "back"}});
inline constexpr auto act = std::to_array<Word<Act>>({{Act::go, "go"},
                                                      {Act::turn, "turn"},
                                                      {Act::stop, "stop"},
                                                      {Act::wait, "wait"},
                                                      {Act::load, "load"},
                                                      {Act::unload, "unload"}});

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
