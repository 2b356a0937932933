// Plain structs to compact bytes and back, field by field in the order they are declared, however
// deep: a struct that gains a field needs nothing here (Boost.PFR lists the fields).
//
//   bool, enum, index   one number        optional      0, or 1 and the value
//   unsigned            LEB128 (DWARF 5, 7.6)             vector        length, then each
//   signed, time        zigzag, LEB128    variant       number of the alternative, then its value
//   string              length, then its bytes          struct        each field
#pragma once

#include <boost/pfr/core.hpp>
#include <boost/pfr/tuple_size.hpp>
#include <cstdint>
#include <limits>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

#include "server/control/view.hpp"
#include "server/floor/ids.hpp"
#include "server/floor/units.hpp"

namespace tagline::replay {

/// Bytes that nothing of ours has written; what() says what about them is wrong.
struct BadBytes : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// FNV-1a, 64 bits (Fowler, Noll and Vo): tells bytes apart that differ by accident.
class Hash {
 public:
  void byte(unsigned char value) { value_ = (value_ ^ value) * 0x100000001b3ULL; }
  void text(std::string_view bytes) {
    for (const char each : bytes) byte(static_cast<unsigned char>(each));
  }
  void word(std::uint64_t value) {
    for (int shift = 0; shift < 64; shift += 8) byte(static_cast<unsigned char>(value >> shift));
  }
  [[nodiscard]] std::uint64_t value() const { return value_; }

 private:
  std::uint64_t value_{0xcbf29ce484222325ULL};
};

/// Where bytes are put that are to be kept.
struct Bytes {
  std::string all;
  void byte(unsigned char value) { all.push_back(static_cast<char>(value)); }
  void text(std::string_view bytes) { all.append(bytes); }
};

/// How many of each thing there are: an index read must be below, or it would point at nothing.
struct Limits {
  std::size_t carts{}, points{}, poses{}, stations{}, segments{}, zones{};
  [[nodiscard]] std::size_t of(CartIx /*kind*/) const { return carts; }
  [[nodiscard]] std::size_t of(PointIx /*kind*/) const { return points; }
  [[nodiscard]] std::size_t of(PoseIx /*kind*/) const { return poses; }
  [[nodiscard]] std::size_t of(StationIx /*kind*/) const { return stations; }
  [[nodiscard]] std::size_t of(SegmentIx /*kind*/) const { return segments; }
  [[nodiscard]] std::size_t of(ZoneIx /*kind*/) const { return zones; }
};

/// Takes bytes one after the other; throws BadBytes where there are too few.
class In {
 public:
  In(std::string_view bytes, const Limits& limits) : left_(bytes), limits_(limits) {}
  unsigned char byte() {
    if (left_.empty()) throw BadBytes("it ends too early");
    const auto value = static_cast<unsigned char>(left_.front());
    left_.remove_prefix(1);
    return value;
  }
  std::uint64_t number() {
    std::uint64_t value = 0;
    for (int shift = 0; shift < 64; shift += 7) {
      const unsigned char next = byte();
      if (shift == 63 && next > 1) break;
      value |= static_cast<std::uint64_t>(next & 0x7fU) << shift;
      if (next < 0x80) return value;
    }
    throw BadBytes("a number in it is too large");
  }
  std::string_view text() {
    const std::uint64_t length = number();
    if (length > left_.size()) throw BadBytes("a text in it ends too early");
    const std::string_view found = left_.substr(0, length);
    left_.remove_prefix(length);
    return found;
  }
  [[nodiscard]] std::size_t left() const { return left_.size(); }
  [[nodiscard]] std::string_view rest() const { return left_; }
  [[nodiscard]] const Limits& limits() const { return limits_; }

 private:
  std::string_view left_;
  Limits limits_;
};

// ---- which kind of thing a type is -----------------------------------------------------------

template <class T>
inline constexpr bool is_index = false;
template <class Kind>
inline constexpr bool is_index<Index<Kind>> = true;
template <class T>
inline constexpr bool is_time = false;
template <>
inline constexpr bool is_time<Instant> = true;
template <class T>
inline constexpr bool is_optional = false;
template <class T>
inline constexpr bool is_optional<std::optional<T>> = true;
template <class T>
inline constexpr bool is_list = false;
template <class T>
inline constexpr bool is_list<std::vector<T>> = true;
template <class T>
inline constexpr bool is_variant = false;
template <class... Ts>
inline constexpr bool is_variant<std::variant<Ts...>> = true;

// Enums of which only some numbers mean anything.
inline bool is_known(control::Handling what) { return what <= control::Handling::unload; }
inline bool is_known(control::Act act) { return act <= control::Act::rest; }
template <class Enum>
bool is_known(Enum value) {
  return control::name_of(value) != "?";
}

// ---- writing ---------------------------------------------------------------------------------

template <class Sink>
void put_number(Sink& sink, std::uint64_t value) {
  for (; value >= 0x80; value >>= 7) sink.byte(static_cast<unsigned char>(value | 0x80U));
  sink.byte(static_cast<unsigned char>(value));
}
template <class Sink>
void put_signed(Sink& sink, std::int64_t value) {
  put_number(sink, (static_cast<std::uint64_t>(value) << 1) ^
                       static_cast<std::uint64_t>(value < 0 ? -1 : 0));
}

template <class Sink, class T>
void put(Sink& sink, const T& value) {
  if constexpr (std::is_same_v<T, std::string>) {
    put_number(sink, value.size());
    sink.text(value);
  } else if constexpr (std::is_enum_v<T>) {
    put_number(sink, static_cast<std::uint64_t>(value));
  } else if constexpr (is_index<T>) {
    put_number(sink, value.value);
  } else if constexpr (is_time<T>) {
    put_signed(sink, value.time_since_epoch().count());
  } else if constexpr (std::is_same_v<T, Duration>) {
    put_signed(sink, value.count());
  } else if constexpr (std::is_same_v<T, bool> || std::is_unsigned_v<T>) {
    put_number(sink, value);
  } else if constexpr (std::is_integral_v<T>) {
    put_signed(sink, value);
  } else if constexpr (is_optional<T>) {
    put_number(sink, value.has_value());
    if (value) put(sink, *value);
  } else if constexpr (is_list<T>) {
    put_number(sink, value.size());
    for (const auto& each : value) put(sink, each);
  } else if constexpr (is_variant<T>) {
    put_number(sink, value.index());
    std::visit([&](const auto& what) { put(sink, what); }, value);
  } else {
    boost::pfr::for_each_field(value, [&](const auto& field) { put(sink, field); });
  }
}

// ---- reading ---------------------------------------------------------------------------------

inline std::int64_t get_signed(In& in) {
  const std::uint64_t folded = in.number();
  return static_cast<std::int64_t>((folded >> 1) ^ (~(folded & 1) + 1));
}

template <class T>
void get(In& in, T& value);

template <class... Ts>
void get_alternative(In& in, std::variant<Ts...>& value, std::uint64_t wanted) {
  std::uint64_t at = 0;
  const auto take = [&](auto& what) {
    get(in, what);
    return true;
  };
  const bool taken = ((at++ == wanted && take(value.template emplace<Ts>())) || ...);
  if (!taken) throw BadBytes("it has a choice that there is not");
}

template <class T>
void get(In& in, T& value) {
  if constexpr (std::is_same_v<T, std::string>) {
    value = in.text();
  } else if constexpr (std::is_enum_v<T>) {
    const std::uint64_t number = in.number();
    value = static_cast<T>(number);
    if (number > 255 || !is_known(value)) throw BadBytes("a word in it is not known");
  } else if constexpr (is_index<T>) {
    const std::uint64_t number = in.number();
    if (number >= in.limits().of(T{})) {
      throw BadBytes("it names a cart or place that there is not");
    }
    value = {static_cast<std::uint32_t>(number)};
  } else if constexpr (is_time<T>) {
    value = Instant{Duration{get_signed(in)}};
  } else if constexpr (std::is_same_v<T, Duration>) {
    value = Duration{get_signed(in)};
  } else if constexpr (std::is_same_v<T, bool>) {
    const std::uint64_t number = in.number();
    if (number > 1) throw BadBytes("something in it is neither yes nor no");
    value = number == 1;
  } else if constexpr (std::is_unsigned_v<T>) {
    const std::uint64_t number = in.number();
    if (number > std::numeric_limits<T>::max()) throw BadBytes("a number in it is too large");
    value = static_cast<T>(number);
  } else if constexpr (std::is_integral_v<T>) {
    const std::int64_t number = get_signed(in);
    if (!std::in_range<T>(number)) throw BadBytes("a number in it is too large");
    value = static_cast<T>(number);
  } else if constexpr (is_optional<T>) {
    bool there{};
    get(in, there);
    if (there) {
      get(in, value.emplace());
    } else {
      value.reset();
    }
  } else if constexpr (is_list<T>) {
    const std::uint64_t length = in.number();
    // Each takes a byte at least, so a wrong length can't ask for more memory than there is.
    if (length > in.left()) throw BadBytes("a list in it ends too early");
    value.resize(length);
    for (auto& each : value) get(in, each);
  } else if constexpr (is_variant<T>) {
    get_alternative(in, value, in.number());
  } else {
    boost::pfr::for_each_field(value, [&](auto& field) { get(in, field); });
  }
}

// ---- describing ------------------------------------------------------------------------------

template <class T>
std::string shape_of();

template <class T, std::size_t... I>
std::string shape_of_fields(std::index_sequence<I...> /*all*/) {
  return "(" + (std::string() + ... + shape_of<boost::pfr::tuple_element_t<I, T>>()) + ")";
}

template <class... Ts>
std::string shape_of_choice(const std::variant<Ts...>* /*any*/) {
  return "(" + (std::string() + ... + shape_of<Ts>()) + ")";
}

/// What a type is made of, as far as its bytes depend on it: types of one shape read each other's
/// bytes. b: bool, u: unsigned, i: signed, e: enum, x: index, t: time, s: string, ?: optional,
/// *: list, |(...): variant, (...): struct.
template <class T>
std::string shape_of() {
  if constexpr (std::is_same_v<T, std::string>) {
    return "s";
  } else if constexpr (std::is_enum_v<T>) {
    return "e";
  } else if constexpr (is_index<T>) {
    return "x";
  } else if constexpr (is_time<T> || std::is_same_v<T, Duration>) {
    return "t";
  } else if constexpr (std::is_same_v<T, bool>) {
    return "b";
  } else if constexpr (std::is_integral_v<T>) {
    return std::is_unsigned_v<T> ? "u" : "i";
  } else if constexpr (is_optional<T>) {
    return "?" + shape_of<typename T::value_type>();
  } else if constexpr (is_list<T>) {
    return "*" + shape_of<typename T::value_type>();
  } else if constexpr (is_variant<T>) {
    return "|" + shape_of_choice(static_cast<const T*>(nullptr));
  } else {
    return shape_of_fields<T>(std::make_index_sequence<boost::pfr::tuple_size_v<T>>());
  }
}

}  // namespace tagline::replay
