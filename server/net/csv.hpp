// Tables as CSV (RFC 4180), for people's spreadsheets.
#pragma once

#include <concepts>
#include <string>
#include <string_view>
#include <vector>

namespace tagline::net {

/// One field. Quoted where it must be. One that begins with = + - @, a tab or a carriage return
/// gets an apostrophe before it, because spreadsheets take such for formulas and would run them
/// (common practice; OWASP, "CSV injection"): a station's name must not do anything on somebody's
/// desk.
std::string csv_field(std::string_view text);

/// Lines end with CR LF, the last one too.
class CsvTable {
 public:
  explicit CsvTable(const std::vector<std::string_view>& columns) { line(columns); }
  template <class... Fields>
  void row(const Fields&... fields) {
    const std::vector<std::string> texts{text_of(fields)...};
    line(std::vector<std::string_view>(texts.begin(), texts.end()));
  }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  static std::string text_of(std::string_view text) { return std::string(text); }
  template <class Number>
  requires std::integral<Number>
  static std::string text_of(Number number) { return std::to_string(number); }
  void line(const std::vector<std::string_view>& fields);

  std::string text_;
};

}  // namespace tagline::net
