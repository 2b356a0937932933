// Marks of alarms, tied to each alarm's number while it lasts.
#include "server/net/alarm_board.hpp"

#include <algorithm>
#include <utility>

namespace tagline::net {

AlarmBoard::AlarmBoard(const JsonView& view, std::vector<access::SeenAlarm> before) : view_(&view) {
  for (access::SeenAlarm& seen : before) {
    std::string cause = seen.cause;
    unclaimed_.emplace(std::move(cause), std::move(seen));
  }
}

bool AlarmBoard::apply(const std::vector<control::Alarm>& alarms) {
  alarms_ = alarms;
  std::erase_if(seen_, [this](const auto& entry) {
    if (find(entry.first)) return false;
    changes_.emplace_back(access::DropSeenAlarm{entry.second.cause});
    return true;
  });
  for (const control::Alarm& alarm : alarms_) {
    if (unclaimed_.empty()) break;
    auto before = unclaimed_.extract(view_->alarm_cause(alarm));
    if (!before.empty()) seen_.emplace(alarm.id, std::move(before.mapped()));
  }
  return render_all();
}

bool AlarmBoard::render_all() {
  std::string text = "[";
  for (const control::Alarm& alarm : alarms_) {
    if (text.size() > 1) text += ',';
    text += render(alarm);
  }
  text += ']';
  if (text == text_) return false;
  text_ = std::move(text);
  return true;
}

std::string AlarmBoard::render(const control::Alarm& alarm) const {
  const auto seen = seen_.find(alarm.id);
  return view_->alarm(alarm, seen == seen_.end() ? nullptr : &seen->second);
}

const control::Alarm* AlarmBoard::find(std::uint64_t alarm) const {
  const auto found = std::ranges::find(alarms_, alarm, &control::Alarm::id);
  return found == alarms_.end() ? nullptr : &*found;
}

std::optional<std::string> AlarmBoard::cause_of(std::uint64_t alarm, Instant since) const {
  const control::Alarm* found = find(alarm);
  if (!found || found->since != since) return std::nullopt;
  return view_->alarm_cause(*found);
}

std::string AlarmBoard::alarm_text(std::uint64_t alarm) const {
  const control::Alarm* found = find(alarm);
  return found ? render(*found) : std::string();
}

bool AlarmBoard::mark(std::uint64_t alarm, const access::SeenAlarm& seen) {
  if (!find(alarm)) {
    changes_.emplace_back(access::DropSeenAlarm{seen.cause});
    return false;
  }
  if (seen_.emplace(alarm, seen).second) render_all();
  return true;
}

void AlarmBoard::forget_unclaimed() {
  for (const auto& [cause, seen] : unclaimed_) changes_.emplace_back(access::DropSeenAlarm{cause});
  unclaimed_.clear();
}

std::vector<access::Change> AlarmBoard::take_changes() { return std::exchange(changes_, {}); }

}  // namespace tagline::net
