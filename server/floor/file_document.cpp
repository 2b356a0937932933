// JSON text -> values by the event interface of nlohmann::json: it neither recurses nor builds its
// own tree, so depth, size and doubled keys can be watched while the text is read.
#include "server/floor/file_document.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <utility>

#include "server/floor/file_limits.hpp"
#include "server/floor/file_text.hpp"

namespace tagline::floor {

void Findings::add(std::string pointer, std::string wrong, std::string right) {
  if (list_.size() == limits::findings) {
    ++left_out_;
    return;
  }
  list_.push_back({std::move(pointer), std::move(wrong), std::move(right)});
}

std::vector<FileFinding> Findings::take() {
  if (left_out_ > 0) {
    list_.push_back({"", std::to_string(left_out_) + " more findings are not listed",
                     "put the ones above right first"});
    left_out_ = 0;
  }
  return std::exchange(list_, {});
}

std::string below(const std::string& pointer, std::string_view key) {
  std::string deeper = pointer + "/";
  for (const char c : key) {
    if (c == '~') {
      deeper += "~0";
    } else if (c == '/') {
      deeper += "~1";
    } else {
      deeper += c;
    }
  }
  return deeper;
}

std::string below(const std::string& pointer, std::size_t index) {
  return pointer + "/" + std::to_string(index);
}

std::string in_quotes(std::string_view text) {
  constexpr std::size_t longest = 60;
  const bool cut = text.size() > longest;
  // A character cut in half is no UTF-8: leave out the bytes of the last, incomplete one.
  std::size_t end = cut ? longest : text.size();
  while (cut && end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
  return nlohmann::json(std::string(text.substr(0, end)))
             .dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) +
         (cut ? "..." : "");
}

std::string number_text(double value) {
  constexpr double exactly_whole = 1e15;
  if (std::abs(value) < exactly_whole && value == std::floor(value)) {
    return std::to_string(static_cast<std::int64_t>(value));
  }
  return nlohmann::json(value).dump();
}

std::string found(const JsonValue& value) {
  struct Words {
    std::string operator()(std::monostate) const { return "null"; }
    std::string operator()(bool is_true) const { return is_true ? "true" : "false"; }
    std::string operator()(double number) const { return "the number " + number_text(number); }
    std::string operator()(const std::string& text) const { return "the text " + in_quotes(text); }
    std::string operator()(const JsonValue::List& list) const {
      return list.empty() ? "an empty list" : "a list of " + std::to_string(list.size());
    }
    std::string operator()(const JsonValue::Object&) const { return "an object"; }
  };
  return std::visit(Words{}, value.data);
}

namespace {

/// Receives the parser's events and grows the tree. A handler that returns false ends the parse.
class TreeBuilder {
 public:
  TreeBuilder(std::string_view text, Findings& findings) : text_(text), findings_(findings) {}

  std::optional<JsonValue> take() { return std::move(root_); }

  bool null() { return put(JsonValue{}); }
  bool boolean(bool value) { return put(JsonValue{value}); }
  bool number_integer(std::int64_t value) { return put(JsonValue{static_cast<double>(value)}); }
  bool number_unsigned(std::uint64_t value) { return put(JsonValue{static_cast<double>(value)}); }
  bool number_float(double value, const std::string&) { return put(JsonValue{value}); }
  bool string(std::string& value) { return put(JsonValue{std::move(value)}); }
  bool binary(nlohmann::json::binary_t&) { return false; }  // never an event of JSON text
  bool start_object(std::size_t) { return open(JsonValue{JsonValue::Object{}}); }
  bool start_array(std::size_t) { return open(JsonValue{JsonValue::List{}}); }
  bool end_object() { return close(); }
  bool end_array() { return close(); }
  bool key(std::string& name) {
    open_.back().key = std::move(name);
    return true;
  }

  bool parse_error(std::size_t position, const std::string& token,
                   const nlohmann::json::exception& error) {
    constexpr int number_overflow = 406;
    if (error.id == number_overflow) {
      findings_.add(here(),
                    "the number " + token + " is too large, at " + place_in(text_, position),
                    "give a finite number of sane size");
    } else {
      const SyntaxError syntax = explain_syntax(text_, position, error.what());
      findings_.add("", syntax.wrong, syntax.right);
    }
    return false;
  }

 private:
  struct Open {
    JsonValue value;
    std::string key;  // of the member being read; objects only
  };

  /// Pointer to the value being read now.
  std::string here() const {
    std::string pointer;
    for (const Open& container : open_) {
      const auto* list = std::get_if<JsonValue::List>(&container.value.data);
      pointer = list ? below(pointer, list->size()) : below(pointer, container.key);
    }
    return pointer;
  }

  bool count() {
    if (++values_ <= limits::values) return true;
    findings_.add("", "more than " + std::to_string(limits::values) + " values in the file",
                  "describe a smaller floor");
    return false;
  }

  bool open(JsonValue container) {
    if (!count()) return false;
    if (open_.size() == limits::nesting) {
      findings_.add(
          here(),
          "more than " + std::to_string(limits::nesting) + " lists or objects inside one another",
          "nest no deeper; a floor file needs 5");
      return false;
    }
    open_.push_back({std::move(container), {}});
    return true;
  }

  bool close() {
    JsonValue done = std::move(open_.back().value);
    open_.pop_back();
    return attach(std::move(done));
  }

  bool put(JsonValue value) { return count() && attach(std::move(value)); }

  bool attach(JsonValue value) {
    if (open_.empty()) {
      root_ = std::move(value);
      return true;
    }
    Open& parent = open_.back();
    if (auto* list = std::get_if<JsonValue::List>(&parent.value.data)) {
      list->push_back(std::move(value));
      return true;
    }
    auto& members = std::get<JsonValue::Object>(parent.value.data);
    if (is_doubled(members, parent.key)) {
      findings_.add(here(), "key " + in_quotes(parent.key) + " is given twice in one object",
                    "keep one of the two");
      return true;
    }
    if (members.size() == limits::members) {
      findings_.add(here(), "more than " + std::to_string(limits::members) + " keys in one object",
                    "leave out the keys that a floor file does not have");
      return false;
    }
    members.push_back({parent.key, std::move(value)});
    return true;
  }

  static bool is_doubled(const JsonValue::Object& members, const std::string& key) {
    return std::any_of(members.begin(), members.end(),
                       [&key](const JsonMember& member) { return member.key == key; });
  }

  std::string_view text_;
  Findings& findings_;
  std::vector<Open> open_;
  std::optional<JsonValue> root_;
  std::size_t values_{};
};

}  // namespace

std::optional<JsonValue> read_document(std::string_view text, Findings& findings) {
  if (const auto problem = check_bytes(text)) {
    findings.add("", problem->wrong, problem->right);
    return std::nullopt;
  }
  TreeBuilder builder(text, findings);
  if (!nlohmann::json::sax_parse(text.begin(), text.end(), &builder)) return std::nullopt;
  return builder.take();
}

}  // namespace tagline::floor
