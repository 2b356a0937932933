// What the core lets be seen, as the JSON texts of API.md. Strings, not JSON objects, so that no
// other header has to know the JSON library.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/access/change.hpp"
#include "server/control/core.hpp"
#include "server/control/view.hpp"
#include "server/floor/track.hpp"
#include "server/net/reason_view.hpp"
#include "server/net/time_text.hpp"

namespace tagline::net {

/// A JSON string literal, quotes included. Bytes that are no UTF-8 become U+FFFD.
std::string json_quote(std::string_view text);

/// Turns indices into ids while writing. Keeps references; all three must outlive it.
class JsonView {
 public:
  JsonView(const floor::Track& track, const std::vector<std::string>& cart_names)
      : track_(&track), cart_names_(&cart_names), reasons_(track, cart_names) {}

  /// `loads` of each station, by StationIx; nothing for one that has none counted.
  [[nodiscard]] std::string floor(int pace, const control::LiveLimit& limit,
                                  const std::vector<std::optional<int>>& loads) const;
  [[nodiscard]] std::string station(StationIx station, std::optional<int> loads) const;
  /// The chain that says why something stands; see cart() and job().
  [[nodiscard]] std::string why(const std::vector<control::Reason>& reasons) const {
    return reasons_.chain(reasons);
  }
  /// `why` as made above.
  [[nodiscard]] std::string cart(const control::CartView& view, std::string_view why) const;
  /// `{"id",...}` with those members alone that differ from what was told, "" if none does. Where
  /// nothing but passed steps has gone from the path, `path_from` tells the step that it begins
  /// with now: paths are most of what there is to tell, and every read of a tag shortens one.
  [[nodiscard]] std::string cart_change(const control::CartView& told, std::string_view told_why,
                                        const control::CartView& now, std::string_view why) const;
  [[nodiscard]] std::string job(const control::Job& job, std::string_view why,
                                const std::optional<control::Expected>& expected) const;
  /// `seen`: who has seen it, if anybody has.
  [[nodiscard]] std::string alarm(const control::Alarm& alarm, const access::SeenAlarm* seen) const;
  /// "[...]", where nobody knows who has seen which.
  [[nodiscard]] std::string alarms(const std::vector<control::Alarm>& alarms) const;
  /// "fault cart-1 drive": what tells it from all others, in ids, so that it means the same after a
  /// restart.
  [[nodiscard]] std::string alarm_cause(const control::Alarm& alarm) const;
  /// "[...]"
  [[nodiscard]] std::string downtimes(const std::vector<control::DowntimeView>& downtimes) const;
  /// "[...]": every zone of the floor.
  [[nodiscard]] std::string zones(const std::vector<ZoneIx>& stopped) const;
  [[nodiscard]] std::string zone(ZoneIx zone, bool stopped) const;

 private:
  const floor::Track* track_;
  const std::vector<std::string>* cart_names_;
  ReasonView reasons_;
};

}  // namespace tagline::net
