// One word for each kind of event, as traces, journals and reports have it. A word once given
// stays, because files keep it.
#pragma once

#include <string_view>
#include <variant>

#include "server/control/events.hpp"

namespace tagline::control {

/// "reads", "job", ... A kind without a word does not compile where words are asked for.
template <class Kind>
std::string_view event_name() = delete;

template <>
inline std::string_view event_name<CartGreets>() {
  return "greets";
}
template <>
inline std::string_view event_name<CartReads>() {
  return "reads";
}
template <>
inline std::string_view event_name<CartReports>() {
  return "reports";
}
template <>
inline std::string_view event_name<CartHandled>() {
  return "handled";
}
template <>
inline std::string_view event_name<CartStopped>() {
  return "stopped";
}
template <>
inline std::string_view event_name<CartReleased>() {
  return "released";
}
template <>
inline std::string_view event_name<CartLinkLost>() {
  return "link_lost";
}
template <>
inline std::string_view event_name<AskJob>() {
  return "job";
}
template <>
inline std::string_view event_name<AskCancelJob>() {
  return "cancel";
}
template <>
inline std::string_view event_name<AskSayHandled>() {
  return "say_handled";
}
template <>
inline std::string_view event_name<AskPlaceCart>() {
  return "place";
}
template <>
inline std::string_view event_name<AskRemoveCart>() {
  return "remove";
}
template <>
inline std::string_view event_name<AskStopCart>() {
  return "stop";
}
template <>
inline std::string_view event_name<AskReleaseCart>() {
  return "release";
}
template <>
inline std::string_view event_name<AskStopAll>() {
  return "stop_all";
}
template <>
inline std::string_view event_name<AskReleaseAll>() {
  return "release_all";
}
template <>
inline std::string_view event_name<AskCountLoads>() {
  return "loads";
}
template <>
inline std::string_view event_name<AskTakeDown>() {
  return "take_down";
}
template <>
inline std::string_view event_name<AskBringUp>() {
  return "bring_up";
}
template <>
inline std::string_view event_name<AskStopZone>() {
  return "stop_zone";
}
template <>
inline std::string_view event_name<AskReleaseZone>() {
  return "release_zone";
}
template <>
inline std::string_view event_name<Tick>() {
  return "tick";
}

inline std::string_view name_of(const Event& event) {
  return std::visit([](const auto& what) { return event_name<std::decay_t<decltype(what)>>(); },
                    event);
}

}  // namespace tagline::control
