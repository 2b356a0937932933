// The alarms as they are shown, and who has seen which. That an alarm was seen is a matter between
// people: it ends no alarm and moves nothing, so the core knows nothing of it.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "server/access/change.hpp"
#include "server/net/json_view.hpp"

namespace tagline::net {

/// All on the network thread.
class AlarmBoard {
 public:
  /// `view` must outlive it. `before`: what had been seen when the service last ran. After a start
  /// alarms come up one by one (a cart's fault when the cart has greeted); each that is among them
  /// takes its mark up again.
  AlarmBoard(const JsonView& view, std::vector<access::SeenAlarm> before);

  /// The alarms are these now. One that is gone loses its mark: if it comes again it is new. True
  /// if the text is another.
  bool apply(const std::vector<control::Alarm>& alarms);
  /// "[Alarm,...]"
  [[nodiscard]] const std::string& text() const { return text_; }

  /// What tells this alarm from all others; nothing if there is no such alarm (any more). `since`:
  /// as it was shown, because numbers begin anew when the service is started.
  [[nodiscard]] std::optional<std::string> cause_of(std::uint64_t alarm, Instant since) const;
  [[nodiscard]] bool is_seen(std::uint64_t alarm) const { return seen_.contains(alarm); }
  /// "Alarm"; "" if there is none.
  [[nodiscard]] std::string alarm_text(std::uint64_t alarm) const;
  /// It is on disk that somebody has seen it; who was first stays. False if it has ended meanwhile.
  bool mark(std::uint64_t alarm, const access::SeenAlarm& seen);

  /// Marks that no alarm has taken up again by now are for alarms that ended while nobody looked.
  void forget_unclaimed();
  /// What the store should forget.
  [[nodiscard]] std::vector<access::Change> take_changes();

 private:
  [[nodiscard]] const control::Alarm* find(std::uint64_t alarm) const;
  [[nodiscard]] std::string render(const control::Alarm& alarm) const;
  bool render_all();

  const JsonView* view_;
  std::vector<control::Alarm> alarms_;
  std::string text_{"[]"};
  std::map<std::uint64_t, access::SeenAlarm> seen_;     // by the alarm's id
  std::map<std::string, access::SeenAlarm> unclaimed_;  // by cause
  std::vector<access::Change> changes_;
};

}  // namespace tagline::net
