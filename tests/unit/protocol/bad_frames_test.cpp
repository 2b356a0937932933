// Bad frames are refused whole, with the place and what would be right.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "protocol/codec.hpp"

namespace tagline::protocol::test {
namespace {

struct Bad {
  std::string frame;
  std::string pointer;
  std::string wrong;  // part of it
  std::string right;  // part of it
};

std::string hello(const std::string& with, const std::string& instead) {
  std::string text =
      R"({"type":"hello","cart":"cart-1","key":"secret","boot":"b1","last_tag":"04A1B2C3","step":3,"until":5,"loaded":false,"battery":80,"stopped":false})";
  const auto at = text.find(with);
  EXPECT_NE(at, std::string::npos) << with;
  return text.replace(at, with.size(), instead);
}

std::string authority(const std::string& with, const std::string& instead) {
  std::string text =
      R"({"type":"authority","trip":2,"points":[{"step":7,"point":"P1","tags":["04A1B2C3"],"act":"go"},)"
      R"({"step":8,"point":"P2","tags":["04A1B2C4"],"act":"go","branch":"left","gear":"back","length":900,"speed":200},)"
      R"({"step":9,"point":"P3","tags":[],"act":"wait","branch":"left","gear":"back","length":900,"speed":200}]})";
  const auto at = text.find(with);
  EXPECT_NE(at, std::string::npos) << with;
  return text.replace(at, with.size(), instead);
}

template <class Result>
void expect_refused(const Result& result, const Bad& bad) {
  const auto* error = std::get_if<DecodeError>(&result);
  ASSERT_NE(error, nullptr) << "taken: " << bad.frame.substr(0, 300);
  EXPECT_EQ(error->pointer, bad.pointer) << bad.frame.substr(0, 300);
  EXPECT_THAT(error->wrong, testing::HasSubstr(bad.wrong)) << bad.frame.substr(0, 300);
  EXPECT_THAT(error->right, testing::HasSubstr(bad.right)) << bad.frame.substr(0, 300);
}

TEST(BadFrames, TheFramesTheyAreMadeFromAreGood) {
  EXPECT_TRUE(std::holds_alternative<CartMessage>(decode_cart_message(hello("", ""))));
  EXPECT_TRUE(std::holds_alternative<ServiceMessage>(decode_service_message(authority("", ""))));
}

TEST(BadFrames, FromCartsAreRefused) {
  const std::string id = "A-Z a-z 0-9 - _", number = "9007199254740991", digits = "0-9 A-F";
  const std::vector<Bad> table{
      // no JSON, or not one object
      {"", "", "no JSON", "RFC 8259"},
      {"hello", "", "no JSON", "RFC 8259"},
      {R"({"type":"release","seq":1)", "", "no JSON", "RFC 8259"},
      {R"({"type":"release","seq":1}})", "", "no JSON", "RFC 8259"},
      {R"({"type":"release","seq":1,})", "", "no JSON", "RFC 8259"},
      {R"({"type":"release","seq":NaN})", "", "no JSON", "RFC 8259"},
      {R"({"type":"release","seq":01})", "", "no JSON", "RFC 8259"},
      {R"({"type":"release","seq":1e999})", "", "no JSON", "RFC 8259"},
      {"{\"type\":\"rel\xFF\",\"seq\":1}", "", "no JSON", "UTF-8"},
      {"{\"type\":\"rel\xC0\xAE\",\"seq\":1}", "", "no JSON", "UTF-8"},
      {R"({"type":"\ud800","seq":1})", "", "no JSON", "UTF-8"},
      {R"([{"type":"release","seq":1}])", "", "no object", "one JSON object"},
      {"null", "", "no object", "one JSON object"},
      {std::string(max_frame_bytes + 1, ' '), "", "65537 bytes", "65536"},
      {R"({"type":"release","seq":1,"seq":2})", "/seq", "twice", "once"},
      {R"({"type":"release","type":"release","seq":1})", "/type", "twice", "once"},
      {R"({"type":"release","seq":{"a":{"b":1,"b":2}}})", "/seq/a/b", "twice", "once"},
      {R"({"type":"release","seq":[[[[1]]]]})", "/seq/0/0/0", "nested", "as the message asks"},
      // type
      {R"({"seq":1})", "/type", "missing", "hello, read, state, done, stop, release"},
      {R"({"type":7})", "/type", "no text", "one of hello"},
      {R"({"type":"Hello"})", "/type", "\"Hello\"", "one of hello"},
      {R"({"type":"welcome","seq":1,"time_ms":1})", "/type", "\"welcome\"", "one of hello"},
      // keys
      {R"({"type":"release","seq":1,"extra":1})", "/extra", "no such key", "type, seq"},
      {R"({"type":"release","seq":1,"a/b~c":1})", "/a~1b~0c", "no such key", "type, seq"},
      {R"({"type":"release","seq":1,"tags/0":1})", "/tags~10", "no such key", "type, seq"},
      {R"({"type":"release","Seq":1})", "/Seq", "no such key", "type, seq"},
      {R"({"type":"release"})", "/seq", "missing", "must be there"},
      // numbers
      {R"({"type":"release","seq":0})", "/seq", "0", "from 1 to " + number},
      {R"({"type":"release","seq":-1})", "/seq", "-1", "from 1 to " + number},
      {R"({"type":"release","seq":1.0})", "/seq", "1.0", "whole number"},
      {R"({"type":"release","seq":1.5})", "/seq", "1.5", "whole number"},
      {R"({"type":"release","seq":"1"})", "/seq", "\"1\"", "whole number"},
      {R"({"type":"release","seq":null})", "/seq", "null", "whole number"},
      {R"({"type":"release","seq":true})", "/seq", "true", "whole number"},
      {R"({"type":"release","seq":9007199254740992})", "/seq", "9007199254740992", number},
      {R"({"type":"release","seq":99999999999999999999})", "/seq", "1e+20", number},
      {R"({"type":"read","seq":1,"tag":"04A1B2C3","step":-4})", "/step", "-4", "from 0"},
      {R"({"type":"done","seq":1,"step":0,"what":"load"})", "/step", "0", "from 1"},
      // hello
      {hello(R"("cart-1")", R"("")"), "/cart", "\"\"", id},
      {hello(R"("cart-1")", R"("cart 1")"), "/cart", "\"cart 1\"", id},
      {hello(R"("cart-1")", '"' + std::string(33, 'c') + '"'), "/cart", "ccc", "1 to 32"},
      {hello(R"("cart-1")", "1"), "/cart", "1", id},
      {hello(R"("secret")", R"("")"), "/key", "not such a text", "1 to 64"},
      {hello(R"("secret")", R"("se cret")"), "/key", "not such a text", "without spaces"},
      {hello(R"("secret")", R"("sécret")"), "/key", "not such a text", "ASCII"},
      {hello(R"("secret")", '"' + std::string(65, 'k') + '"'), "/key", "not such", "1 to 64"},
      {hello(R"("b1")", R"("b.1")"), "/boot", "\"b.1\"", id},
      {hello(R"("boot":"b1",)", ""), "/boot", "missing", "must be there"},
      {hello("04A1B2C3", "04a1b2c3"), "/last_tag", "\"04a1b2c3\"", "or \"\" for none"},
      {hello(R"("step":3)", R"("step":6)"), "/until", "5 is before step", "0 for both"},
      {hello(R"("loaded":false)", R"("loaded":0)"), "/loaded", "0", "true or false"},
      {hello(R"("loaded":false,)", ""), "/loaded", "missing", "must be there"},
      {hello("80", "101"), "/battery", "101", "from 0 to 100"},
      {hello("80", "-1"), "/battery", "-1", "from 0 to 100"},
      {hello("80", "79.5"), "/battery", "79.5", "whole number"},
      {hello(R"("stopped":false)", R"("stopped":"no")"), "/stopped", "\"no\"", "true or false"},
      // read: 4, 5, 7, 8 or 10 bytes in upper-case hex
      {R"({"type":"read","seq":1,"tag":"","step":1})", "/tag", "\"\"", digits},
      {R"({"type":"read","seq":1,"tag":"04A1B2","step":1})", "/tag", "04A1B2", digits},
      {R"({"type":"read","seq":1,"tag":"04A1B2C3D4E5","step":1})", "/tag", "04A1B2C3D4E5", digits},
      {R"({"type":"read","seq":1,"tag":"04A1B2C","step":1})", "/tag", "04A1B2C", digits},
      {R"({"type":"read","seq":1,"tag":"04A1B2CG","step":1})", "/tag", "04A1B2CG", digits},
      {R"({"type":"read","seq":1,"tag":"04A1B2C3D4E5F60718293A","step":1})", "/tag", "04A1",
       digits},
      {R"({"type":"read","seq":1,"tag":["04A1B2C3"],"step":1})", "/tag", "an array of 1", digits},
      // words
      {R"({"type":"state","seq":1,"battery":5,"loaded":true,"moving":true,"fault":"tired"})",
       "/fault", "\"tired\"",
       "none, blocked, tape_lost, overrun, wrong_tag, battery, drive, reader"},
      {R"({"type":"state","seq":1,"battery":5,"loaded":true,"moving":1})", "/moving", "1",
       "true or false"},
      {R"({"type":"done","seq":1,"step":1,"what":"Load"})", "/what", "\"Load\"", "load, unload"},
      {R"({"type":"done","seq":1,"step":1})", "/what", "missing", "must be there"},
      {R"({"type":"stop","seq":1,"cause":"mood"})", "/cause", "\"mood\"",
       "button, bumper, scanner, service"},
      {R"({"type":"stop","seq":1,"cause":null})", "/cause", "null", "button"},
  };
  for (const Bad& bad : table) expect_refused(decode_cart_message(bad.frame), bad);
}

TEST(BadFrames, FromTheServiceAreRefused) {
  std::string many = R"({"type":"authority","trip":1,"points":[)";
  for (int i = 0; i < 257; ++i) many += i == 0 ? "1" : ",1";
  std::string tags = "[";
  for (int i = 0; i < 17; ++i) tags += (i == 0 ? "\"" : ",\"") + std::to_string(10000000 + i) + '"';
  const std::vector<Bad> table{
      {R"({"type":"hello"})", "/type", "\"hello\"",
       "welcome, ack, authority, hold, stop, release, reset, handled"},
      {R"({"type":"welcome","seq":0})", "/time_ms", "missing", "must be there"},
      {R"({"type":"welcome","seq":-1,"time_ms":0})", "/seq", "-1", "from 0"},
      {R"({"type":"ack","seq":0})", "/seq", "0", "from 1"},
      {R"({"type":"release","seq":1})", "/seq", "no such key", "type"},
      {R"({"type":"reset","why":""})", "/why", "no such key", "type"},
      {R"({"type":"hold","reason":5})", "/reason", "5", "at most 500 bytes"},
      {R"({"type":"stop","reason":")" + std::string(501, 'x') + "\"}", "/reason", "501 bytes",
       "at most 500 bytes"},
      {authority(R"("trip":2)", R"("trip":-2)"), "/trip", "-2", "from 0"},
      {R"({"type":"authority","trip":1})", "/points", "missing", "must be there"},
      {R"({"type":"authority","trip":1,"points":[]})", "/points", "an array of 0", "1 to 256"},
      {R"({"type":"authority","trip":1,"points":{}})", "/points", "an object", "1 to 256"},
      {many + "]}", "/points", "an array of 257", "1 to 256"},
      {R"({"type":"authority","trip":1,"points":["P1"]})", "/points/0", "\"P1\"", "an object"},
      {authority(R"("step":7)", R"("step":0)"), "/points/0/step", "0", "from 1"},
      {authority(R"("step":8)", R"("step":9)"), "/points/1/step", "9", "8: steps grow by one"},
      {authority(R"("step":9)", R"("step":8)"), "/points/2/step", "8", "9: steps grow by one"},
      {authority(R"("P2")", R"("P 2")"), "/points/1/point", "\"P 2\"", "1 to 32"},
      {authority(R"("act":"go"},)", R"("act":"go","way":1},)"), "/points/0/way", "no such key",
       "step, point, tags, act, branch, gear, length, speed"},
      {authority(R"("act":"go"},)", R"("act":"go","length":5},)"), "/points/0/length",
       "first point", "leave it out"},
      {authority(R"("act":"go"},)", R"("act":"go","branch":"left"},)"), "/points/0/branch",
       "first point", "leave it out"},
      {authority(R"(["04A1B2C4"])", R"("04A1B2C4")"), "/points/1/tags", "04A1B2C4", "an array"},
      {authority(R"(["04A1B2C4"])", R"(["04A1B2C4","x"])"), "/points/1/tags/1", "\"x\"", "0-9 A-F"},
      {authority(R"(["04A1B2C4"])", R"(["04A1B2C4","04A1B2C4"])"), "/points/1/tags/1", "twice",
       "once"},
      {authority(R"(["04A1B2C4"])", tags + "]"), "/points/1/tags", "an array of 17", "0 to 16"},
      {authority(R"("go","branch")", R"("load","branch")"), "/points/1/act",
       "before the last point", "go or turn"},
      {authority(R"("wait")", R"("go")"), "/points/2/act", "at the last point",
       "wait, stop, load or unload"},
      {authority(R"("wait")", R"("turn")"), "/points/2/act", "at the last point", "wait"},
      {authority(R"("wait")", R"("halt")"), "/points/2/act", "\"halt\"",
       "go, turn, stop, wait, load, unload"},
      {authority(R"("left")", R"("up")"), "/points/1/branch", "\"up\"", "left, straight, right"},
      {authority(R"("back")", R"("reverse")"), "/points/1/gear", "\"reverse\"", "forward, back"},
      {authority("900", "0"), "/points/1/length", "0", "from 1 to 1000000"},
      {authority("900", "1000001"), "/points/1/length", "1000001", "from 1 to 1000000"},
      {authority(R"("length":900,)", ""), "/points/1/length", "missing", "must be there"},
      {authority("200", "0"), "/points/1/speed", "0", "from 1 to 10000"},
      {authority("200", "10001"), "/points/1/speed", "10001", "from 1 to 10000"},
  };
  for (const Bad& bad : table) expect_refused(decode_service_message(bad.frame), bad);
}

TEST(BadFrames, NeverShowAKeyAgain) {
  const auto result = decode_cart_message(hello(R"("secret")", R"("top secret")"));
  ASSERT_TRUE(std::holds_alternative<DecodeError>(result));
  EXPECT_THAT(close_reason(std::get<DecodeError>(result)), testing::Not(testing::HasSubstr("top")));
}

TEST(BadFrames, AFrameOfTheLargestSizeIsTaken) {
  std::string text = R"({"type":"release","seq":1})";
  text.resize(max_frame_bytes, ' ');
  EXPECT_TRUE(std::holds_alternative<CartMessage>(decode_cart_message(text)));
}

TEST(CloseReason, SaysPlaceWrongAndRight) {
  EXPECT_EQ(close_reason({"/seq", "missing", "this key must be there"}),
            "/seq: missing; this key must be there");
  EXPECT_EQ(close_reason({"", "no object", "one JSON object"}), "no object; one JSON object");
}

/// RFC 6455, 5.5: a control frame carries at most 125 bytes, two of them the code; 5.5.1: UTF-8.
TEST(CloseReason, IsCutAtACharacterWithin123Bytes) {
  EXPECT_EQ(close_reason({"", std::string(200, 'x'), ""}), std::string(123, 'x'));
  EXPECT_EQ(close_reason({"", std::string(122, 'x') + "üü", ""}), std::string(122, 'x'));
  EXPECT_EQ(close_reason({"", std::string(121, 'x') + "üü", ""}), std::string(121, 'x') + "ü");
  EXPECT_EQ(close_reason({"", std::string(120, 'x') + "🛒", ""}), std::string(120, 'x'));
  EXPECT_EQ(close_reason({"", std::string(119, 'x') + "🛒!", ""}),
            std::string(119, 'x') + "🛒");
}

TEST(CloseReason, IsOneLineOfUtf8WhateverWasSent) {
  EXPECT_EQ(close_reason({"/a\nb", "x\x01y\x7f", "z"}), "/a b: x y ; z");
  // Not UTF-8 (RFC 3629): a lone follower, overlong, a surrogate, beyond U+10FFFF, cut off.
  EXPECT_EQ(close_reason({"", "\x80|\xC0\xAF|\xED\xA0\x80|\xF4\x90\x80\x80|\xE2\x82", ""}),
            "?|??|???|????|??");
}

}  // namespace
}  // namespace tagline::protocol::test
