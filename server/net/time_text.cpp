// RFC 3339 both ways.
#include "server/net/time_text.hpp"

#include <chrono>
#include <cstdio>

namespace tagline::net {
namespace {

using namespace std::chrono;

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// Takes a text apart from its front; once something doesn't fit, nothing more does.
class Scan {
 public:
  explicit Scan(std::string_view text) : rest_(text) {}

  int number(std::size_t digits) {
    int value = 0;
    for (std::size_t k = 0; k < digits; ++k) value = value * 10 + digit();
    return value;
  }
  /// One of these characters, which is returned; '\0' if it isn't.
  char one_of(std::string_view choices) {
    if (rest_.empty() || choices.find(rest_.front()) == std::string_view::npos) {
      good_ = false;
      return '\0';
    }
    const char found = rest_.front();
    rest_.remove_prefix(1);
    return found;
  }
  [[nodiscard]] bool next_is(char c) const { return !rest_.empty() && rest_.front() == c; }
  /// A dot and digits, in milliseconds; at least one digit.
  int milliseconds() {
    one_of(".");
    int value = 0;
    int place = 100;
    bool any = false;
    while (!rest_.empty() && is_digit(rest_.front())) {
      value += digit() * place;
      place /= 10;
      any = true;
    }
    good_ = good_ && any;
    return value;
  }
  [[nodiscard]] bool good() const { return good_; }
  [[nodiscard]] bool at_end() const { return rest_.empty(); }

 private:
  int digit() {
    if (rest_.empty() || !is_digit(rest_.front())) {
      good_ = false;
      return 0;
    }
    const int value = rest_.front() - '0';
    rest_.remove_prefix(1);
    return value;
  }

  std::string_view rest_;
  bool good_{true};
};

}  // namespace

std::string time_text(Instant at) {
  const auto day = std::chrono::floor<days>(at);
  const year_month_day date{day};
  const hh_mm_ss clock{at - day};
  char text[40];
  std::snprintf(
      text, sizeof text, "%04d-%02u-%02uT%02d:%02d:%02d.%03dZ", static_cast<int>(date.year()),
      static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
      static_cast<int>(clock.hours().count()), static_cast<int>(clock.minutes().count()),
      static_cast<int>(clock.seconds().count()), static_cast<int>(clock.subseconds().count()));
  return text;
}

std::optional<Instant> time_from(std::string_view text) {
  Scan scan(text);
  const int y = scan.number(4);
  scan.one_of("-");
  const int m = scan.number(2);
  scan.one_of("-");
  const int d = scan.number(2);
  scan.one_of("Tt");
  const int hour = scan.number(2);
  scan.one_of(":");
  const int minute = scan.number(2);
  scan.one_of(":");
  const int second = scan.number(2);
  const int thousandths = scan.next_is('.') ? scan.milliseconds() : 0;
  minutes offset{0};
  const char sign = scan.one_of("Zz+-");
  if (sign == '+' || sign == '-') {
    const int hours_east = scan.number(2);
    scan.one_of(":");
    const int minutes_east = scan.number(2);
    if (hours_east > 23 || minutes_east > 59) return std::nullopt;
    offset = hours{hours_east} + minutes{minutes_east};
    if (sign == '-') offset = -offset;
  }
  const year_month_day date{year{y}, month{static_cast<unsigned>(m)},
                            day{static_cast<unsigned>(d)}};
  if (!scan.good() || !scan.at_end() || !date.ok()) return std::nullopt;
  if (hour > 23 || minute > 59 || second > 60) return std::nullopt;
  const auto on_the_minute = sys_days{date} + hours{hour} + minutes{minute} - offset;
  // Leap seconds come at the end of a day in UTC, nowhere else (RFC 3339, 5.7).
  if (second == 60 && on_the_minute - std::chrono::floor<days>(on_the_minute) != minutes{1439})
    return std::nullopt;
  const Instant at = on_the_minute + seconds{second} + milliseconds{thousandths};
  if (at < Instant{}) return std::nullopt;
  return at;
}

}  // namespace tagline::net
