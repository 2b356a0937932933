// Values at random for any of the core's plain structs, within given limits.
#pragma once

#include <boost/pfr/core.hpp>
#include <random>

#include "server/replay/bytes.hpp"

namespace tagline::replay::test {

class RandomValues {
 public:
  RandomValues(std::uint64_t seed, Limits limits) : random_(seed), limits_(limits) {}

  std::uint64_t below(std::uint64_t n) { return random_() % n; }

  template <class T>
  T make() {
    T value{};
    fill(value);
    return value;
  }

  template <class T>
  void fill(T& value) {
    if constexpr (std::is_same_v<T, std::string>) {
      value.resize(below(4) == 0 ? 0 : below(25));
      for (char& each : value) each = static_cast<char>('0' + below(70));
    } else if constexpr (std::is_enum_v<T>) {
      do value = static_cast<T>(below(10));
      while (!is_known(value));
    } else if constexpr (is_index<T>) {
      value = {static_cast<std::uint32_t>(below(limits_.of(T{})))};
    } else if constexpr (is_time<T>) {
      value = Instant{Duration{1'800'000'000'000 + static_cast<std::int64_t>(below(1ULL << 40U))}};
    } else if constexpr (std::is_same_v<T, Duration>) {
      value = Duration{static_cast<std::int64_t>(below(10'000))};
    } else if constexpr (std::is_same_v<T, bool>) {
      value = below(2) == 1;
    } else if constexpr (std::is_integral_v<T>) {
      // Of any size, so that every length of a number comes.
      value = static_cast<T>(random_() >> below(64));
      if (std::is_signed_v<T> && below(2) == 0) value = static_cast<T>(-(value / 2));
    } else if constexpr (is_optional<T>) {
      if (below(2) == 1) fill(value.emplace());
    } else if constexpr (is_variant<T>) {
      value = variant<T>(below(std::variant_size_v<T>),
                         std::make_index_sequence<std::variant_size_v<T>>());
    } else if constexpr (is_list<T>) {
      value.resize(below(4));
      for (auto& each : value) fill(each);
    } else {
      boost::pfr::for_each_field(value, [&](auto& field) { fill(field); });
    }
  }

  /// Of that place in the variant V.
  template <class V, std::size_t... I>
  V variant(std::size_t place, std::index_sequence<I...> /*all*/) {
    V value;
    ((place == I ? fill(value.template emplace<I>()) : void()), ...);
    return value;
  }
  control::Event event(std::size_t place) {
    return variant<control::Event>(place,
                                   std::make_index_sequence<std::variant_size_v<control::Event>>());
  }
  control::Event any_event() { return event(below(std::variant_size_v<control::Event>)); }

 private:
  std::mt19937_64 random_;
  Limits limits_;
};

}  // namespace tagline::replay::test
