// Line, column and plain words for syntax errors.
#include "server/floor/file_text.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <utility>

namespace tagline::floor {
namespace {

unsigned char byte_at(std::string_view text, std::size_t at) {
  return static_cast<unsigned char>(text[at]);
}

std::string hex_of(unsigned char byte) {
  constexpr std::string_view digits = "0123456789ABCDEF";
  return {digits[byte >> 4U], digits[byte & 0x0FU]};
}

/// Length of the well-formed UTF-8 character at `at`, 0 if there is none. RFC 3629, section 4:
/// no over-long forms, no surrogates, nothing above U+10FFFF.
std::size_t utf8_length(std::string_view text, std::size_t at) {
  struct Form {
    unsigned char first_low, first_high, second_low, second_high;
    std::size_t length;
  };
  static constexpr std::array<Form, 9> forms{{{0x00, 0x7F, 0, 0, 1},
                                              {0xC2, 0xDF, 0x80, 0xBF, 2},
                                              {0xE0, 0xE0, 0xA0, 0xBF, 3},
                                              {0xE1, 0xEC, 0x80, 0xBF, 3},
                                              {0xED, 0xED, 0x80, 0x9F, 3},
                                              {0xEE, 0xEF, 0x80, 0xBF, 3},
                                              {0xF0, 0xF0, 0x90, 0xBF, 4},
                                              {0xF1, 0xF3, 0x80, 0xBF, 4},
                                              {0xF4, 0xF4, 0x80, 0x8F, 4}}};
  const unsigned char first = byte_at(text, at);
  for (const Form& form : forms) {
    if (first < form.first_low || first > form.first_high) continue;
    if (form.length > text.size() - at) return 0;
    for (std::size_t k = 1; k < form.length; ++k) {
      const unsigned char next = byte_at(text, at + k);
      const unsigned char low = k == 1 ? form.second_low : 0x80;
      const unsigned char high = k == 1 ? form.second_high : 0xBF;
      if (next < low || next > high) return 0;
    }
    return form.length;
  }
  return 0;
}

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (std::size_t at = text.find(from); at != std::string::npos;
       at = text.find(from, at + to.size())) {
    text.replace(at, from.size(), to);
  }
}

/// The words the parser uses for what it read or wanted, and ours.
std::string in_plain_words(std::string text) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 13> words{{
      {"'[', '{', or a literal", "a value"},
      {"string literal", "a text in quotes"},
      {"number literal", "a number"},
      {"true literal", "true"},
      {"false literal", "false"},
      {"null literal", "null"},
      {"end of input", "the end of the file"},
      {"'{'", "an opening brace '{'"},
      {"'}'", "a closing brace '}'"},
      {"'['", "an opening bracket '['"},
      {"']'", "a closing bracket ']'"},
      {"':'", "a colon ':'"},
      {"','", "a comma ','"},
  }};
  for (const auto& [theirs, ours] : words) replace_all(text, theirs, ours);
  return text;
}

/// The part of `text` between `before` and `after`; all the rest if `after` is not there.
std::string between(std::string_view text, std::string_view before, std::string_view after) {
  const std::size_t start = text.find(before);
  if (start == std::string_view::npos) return {};
  text.remove_prefix(start + before.size());
  return std::string(text.substr(0, text.find(after)));
}

bool starts_with_any(std::string_view text, std::initializer_list<std::string_view> words) {
  return std::any_of(words.begin(), words.end(),
                     [text](std::string_view word) { return text.substr(0, word.size()) == word; });
}

bool is_any(std::string_view text, std::initializer_list<std::string_view> words) {
  return std::find(words.begin(), words.end(), text) != words.end();
}

constexpr std::string_view ends_a_word = " \t\r\n,:[]{}\"";

/// The start of the word that the byte before `bytes_read` belongs to.
std::size_t word_start(std::string_view text, std::size_t bytes_read) {
  std::size_t at = std::min(bytes_read, text.size());
  if (at > 0) --at;
  while (at > 0 && ends_a_word.find(text[at - 1]) == std::string_view::npos) --at;
  return at;
}

/// What would be right when the parser met something it did not expect inside `context`.
std::string remedy(const std::string& context, const std::string& read, const std::string& wanted) {
  const bool ends_early = read == "end of input";
  if (ends_early) return "the file breaks off: write the rest of it";
  if (wanted == "end of input") return "end the file after its one object";
  if (wanted == "']'") return "write a comma before the next item, or a closing bracket ']'";
  if (wanted == "'}'") return "write a comma before the next key, or a closing brace '}'";
  if (wanted == "string literal") {
    return read == "'}'" ? "take away the comma before it" : "write a key in double quotes";
  }
  if (wanted == "':'") return "write a colon ':' between the key and its value";
  if (read == "']'" && context == "value") return "write a value, or take away the comma before it";
  return wanted.empty() ? "write a value" : "write " + in_plain_words(wanted);
}

}  // namespace

std::optional<SyntaxError> check_bytes(std::string_view text) {
  if (text.find_first_not_of(" \t\r\n") == std::string_view::npos) {
    return SyntaxError{text.empty() ? "the file is empty" : "the file holds only blanks",
                       "write one object with \"format\": \"tagline-floor/1\""};
  }
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = utf8_length(text, at);
    if (length == 0) {
      return SyntaxError{place_in(text.substr(0, at + 1), at + 1) + ": byte " +
                             hex_of(byte_at(text, at)) + " (hex) is not UTF-8",
                         "save the file in UTF-8"};
    }
    if (text[at] == '\0') {
      return SyntaxError{place_in(text, at + 1) + ": a NUL byte", "save the file as UTF-8 text"};
    }
    at += length;
  }
  return std::nullopt;
}

std::string place_in(std::string_view text, std::size_t bytes_read) {
  const std::size_t last = std::min(bytes_read, text.size() + 1);
  const std::string_view before = text.substr(0, last > 0 ? last - 1 : 0);
  const auto line = 1 + std::count(before.begin(), before.end(), '\n');
  const std::size_t line_start = before.rfind('\n');
  const std::string_view on_line =
      line_start == std::string_view::npos ? before : before.substr(line_start + 1);
  const auto column = 1 + std::count_if(on_line.begin(), on_line.end(), [](char c) {
                        return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
                      });
  return "line " + std::to_string(line) + ", column " + std::to_string(column);
}

SyntaxError explain_syntax(std::string_view text, std::size_t bytes_read,
                           std::string_view parser_message) {
  const std::size_t start = word_start(text, bytes_read);
  const std::string_view word = text.substr(std::min(start, text.size()));
  const std::string_view whole_word = word.substr(0, word.find_first_of(ends_a_word));
  if (is_any(whole_word, {"NaN", "nan", "-NaN", "Infinity", "-Infinity", "inf", "-inf", "Inf"})) {
    return {place_in(text, start + 1) + ": NaN and Infinity are no JSON numbers",
            "give a finite number"};
  }
  if (starts_with_any(word, {"//", "/*", "#"})) {
    return {place_in(text, start + 1) + ": JSON has no comments", "take the comment away"};
  }
  if (starts_with_any(word, {"'"})) {
    return {place_in(text, start + 1) + ": a single quote", "use double quotes"};
  }
  const std::string place = place_in(text, bytes_read) + ": ";
  const std::string context = between(parser_message, "while parsing ", " - ");
  const std::string read = between(parser_message, " - unexpected ", ";");
  if (!read.empty()) {
    const std::string wanted = between(parser_message, "; expected ", ";");
    return {place + in_plain_words(read) + " is not expected here", remedy(context, read, wanted)};
  }
  // A broken word: "invalid number; expected digit after '-'", "invalid string: missing ...".
  std::string problem = between(parser_message, " - ", "; last read");
  if (problem.empty()) problem = "this is not JSON";
  if (problem == "invalid literal") {
    return {place + "this is no JSON value", "write a number, true, false, null or text in quotes"};
  }
  return {place + problem, "see RFC 8259 for how numbers and texts are written"};
}

}  // namespace tagline::floor
