// Messages survive the wire, and no bytes whatever bring the codec down.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "protocol/codec.hpp"
#include "random_messages.hpp"

namespace tagline::protocol::test {
namespace {

TEST(RoundTrip, RandomMessagesComeBackEqual) {
  RandomMessages random(20261125);
  std::vector<int> cart_kinds(std::variant_size_v<CartMessage>);
  std::vector<int> service_kinds(std::variant_size_v<ServiceMessage>);
  for (int i = 0; i < 5000; ++i) {
    const CartMessage sent = random.cart();
    ++cart_kinds[sent.index()];
    const auto back = decode_cart_message(encode(sent));
    ASSERT_TRUE(std::holds_alternative<CartMessage>(back))
        << close_reason(std::get<DecodeError>(back)) << '\n'
        << encode(sent);
    EXPECT_TRUE(std::get<CartMessage>(back) == sent) << encode(sent);
  }
  for (int i = 0; i < 5000; ++i) {
    const ServiceMessage sent = random.service();
    ++service_kinds[sent.index()];
    const auto back = decode_service_message(encode(sent));
    ASSERT_TRUE(std::holds_alternative<ServiceMessage>(back))
        << close_reason(std::get<DecodeError>(back)) << '\n'
        << encode(sent);
    EXPECT_TRUE(std::get<ServiceMessage>(back) == sent) << encode(sent);
  }
  for (const int count : cart_kinds) EXPECT_GT(count, 500);
  for (const int count : service_kinds) EXPECT_GT(count, 500);
}

TEST(RoundTrip, ALongReasonIsCutAtACharacter) {
  std::string reason(max_reason_bytes - 1, 'x');
  reason += "ü";  // its second byte would be one too many
  const auto back = decode_service_message(encode(ServiceMessage{Hold{reason}}));
  ASSERT_TRUE(std::holds_alternative<ServiceMessage>(back));
  EXPECT_EQ(std::get<Hold>(std::get<ServiceMessage>(back)).reason,
            std::string(max_reason_bytes - 1, 'x'));
}

TEST(RoundTrip, AReasonThatIsNoUtf8BecomesReadable) {
  const auto back = decode_service_message(encode(ServiceMessage{ServiceStop{"a\xFF\xC3"}}));
  ASSERT_TRUE(std::holds_alternative<ServiceMessage>(back));
  EXPECT_EQ(std::get<ServiceStop>(std::get<ServiceMessage>(back)).reason, "a??");
}

TEST(RoundTrip, KeysLeftOutHaveTheirDefaults) {
  const auto hello = decode_cart_message(
      R"({"type":"hello","cart":"c","key":"k","boot":"b","loaded":false,"battery":1,"stopped":false})");
  ASSERT_TRUE(std::holds_alternative<CartMessage>(hello));
  EXPECT_TRUE(std::get<CartMessage>(hello) ==
              CartMessage(Hello{"c", "k", "b", "", 0, 0, false, 1, false}));
  const auto read = decode_cart_message(R"({"type":"read","seq":4,"tag":"04A10003"})");
  ASSERT_TRUE(std::holds_alternative<CartMessage>(read));
  EXPECT_TRUE(std::get<CartMessage>(read) == CartMessage(Read{4, "04A10003", 0}));
  const auto state =
      decode_cart_message(R"({"type":"state","seq":4,"battery":0,"loaded":true,"moving":true})");
  ASSERT_TRUE(std::holds_alternative<CartMessage>(state));
  EXPECT_TRUE(std::get<CartMessage>(state) == CartMessage(State{4, 0, true, true, Fault::none}));
  const auto authority = decode_service_message(
      R"({"type":"authority","trip":1,"points":[{"step":1,"point":"A","tags":[],"act":"go"},)"
      R"({"step":2,"point":"B","tags":[],"act":"stop","length":5,"speed":6}]})");
  ASSERT_TRUE(std::holds_alternative<ServiceMessage>(authority));
  const auto& second = std::get<Authority>(std::get<ServiceMessage>(authority)).points.at(1);
  EXPECT_EQ(second.branch, Branch::straight);
  EXPECT_EQ(second.gear, Gear::forward);
  const auto hold = decode_service_message(R"({"type":"hold"})");
  ASSERT_TRUE(std::holds_alternative<ServiceMessage>(hold));
  EXPECT_TRUE(std::get<ServiceMessage>(hold) == ServiceMessage(Hold{""}));
}

/// A valid frame with a few bytes flipped, cut out, doubled or replaced by JSON's own signs.
std::string damaged(std::string text, RandomMessages& random) {
  constexpr std::string_view signs = "{}[]\",:\\/0-9.eEtfnu \x00\x7f\x80\xC3\xED\xF4\xFF";
  for (std::uint64_t times = 1 + random.below(4); times > 0 && !text.empty(); --times) {
    const std::size_t at = random.below(text.size());
    const std::size_t size = 1 + random.below(std::min<std::size_t>(8, text.size() - at));
    switch (random.below(5)) {
      case 0:
        text[at] = static_cast<char>(random.below(256));
        break;
      case 1:
        text.erase(at, size);
        break;
      case 2:
        text.insert(random.below(text.size()), text.substr(at, size));
        break;
      case 3:
        text[at] = signs[random.below(signs.size())];
        break;
      default:
        text.resize(at);
    }
  }
  return text;
}

template <class Decode>
void stays_calm(RandomMessages& random, std::string start, Decode decode, int& refused,
                int& taken) {
  const std::string text = damaged(std::move(start), random);
  const auto result = decode(text);
  if (const auto* error = std::get_if<DecodeError>(&result)) {
    ++refused;
    EXPECT_FALSE(error->wrong.empty());
    EXPECT_FALSE(error->right.empty());
    EXPECT_LE(close_reason(*error).size(), 123u);
    return;
  }
  ++taken;
  // What is taken must mean the same when it is passed on.
  const auto again = decode(encode(std::get<0>(result)));
  ASSERT_TRUE(std::holds_alternative<std::decay_t<decltype(std::get<0>(result))>>(again)) << text;
  EXPECT_TRUE(std::get<0>(again) == std::get<0>(result)) << text;
}

TEST(Fuzz, DamagedFramesAreTakenOrRefusedButNeverThrow) {
  RandomMessages random(4711);
  int refused = 0, taken = 0;
  for (int i = 0; i < 20'000; ++i) {
    ASSERT_NO_THROW(stays_calm(random, encode(random.cart()), decode_cart_message, refused, taken));
    ASSERT_NO_THROW(
        stays_calm(random, encode(random.service()), decode_service_message, refused, taken));
  }
  EXPECT_GT(refused, 20'000);
  EXPECT_GT(taken, 500);
  RecordProperty("refused", refused);
  RecordProperty("taken", taken);
}

TEST(Fuzz, RandomBytesNeverThrow) {
  RandomMessages random(815);
  for (int i = 0; i < 20'000; ++i) {
    std::string text;
    for (std::uint64_t size = random.below(64); size > 0; --size) {
      text += static_cast<char>(random.below(256));
    }
    ASSERT_NO_THROW({
      EXPECT_TRUE(std::holds_alternative<DecodeError>(decode_cart_message(text)));
      EXPECT_TRUE(std::holds_alternative<DecodeError>(decode_service_message(text)));
    });
  }
}

TEST(Fuzz, DeepNestingIsRefusedWithoutDeepRecursion) {
  std::string text = R"({"type":)" + std::string(60'000, '[');
  const auto result = decode_cart_message(text);
  ASSERT_TRUE(std::holds_alternative<DecodeError>(result));
  EXPECT_THAT(std::get<DecodeError>(result).wrong, testing::HasSubstr("nested deeper"));
}

}  // namespace
}  // namespace tagline::protocol::test
