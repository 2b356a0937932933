// Digests against published values, and the secrets made of random bytes.
#include "server/access/secret.hpp"

#include <gtest/gtest.h>

#include <set>

namespace tagline::access::test {
namespace {

std::span<const std::uint8_t> bytes(std::string_view text) {
  return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

RandomBytes random(std::uint8_t first) {
  RandomBytes out{};
  for (std::size_t k = 0; k < out.size(); ++k) out[k] = static_cast<std::uint8_t>(first + 37 * k);
  return out;
}

TEST(Secret, DigestsAreThoseOfTheStandards) {
  // FIPS 180-2, appendix B.1.
  EXPECT_EQ(hex(sha256("abc").bytes),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  // RFC 4231, 4.3.
  EXPECT_EQ(hex(sealed("Jefe", "what do ya want for nothing?").bytes),
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
}

TEST(Secret, ADigestIsReadBackFromHexAndNothingElseIs) {
  const Digest digest = sha256("abc");
  EXPECT_EQ(digest_from_hex(hex(digest.bytes)), digest);
  EXPECT_EQ(digest_from_hex("BA7816BF8F01CFEA414140DE5DAE2223B00361A396177A9CB410FF61F20015AD"),
            digest);
  EXPECT_FALSE(digest_from_hex(""));
  EXPECT_FALSE(digest_from_hex(hex(digest.bytes).substr(1)));
  EXPECT_FALSE(digest_from_hex(hex(digest.bytes) + "0"));
  EXPECT_FALSE(digest_from_hex("g" + hex(digest.bytes).substr(1)));
  EXPECT_TRUE(same(digest, sha256("abc")));
  EXPECT_FALSE(same(digest, sha256("abd")));
}

TEST(Secret, ACartsKeyCanBeTypedAndUsesAllItsLetters) {
  const std::string key = cart_key(random(1));
  ASSERT_EQ(key.size(), 34u);
  for (std::size_t k = 0; k < key.size(); ++k) EXPECT_EQ(key[k] == '-', k % 5 == 4) << key;
  for (char alike : {'I', 'L', 'O', 'U'}) EXPECT_EQ(key.find(alike), std::string::npos) << key;
  // Each of its letters hangs on a random byte of its own.
  for (std::size_t k = 0; k < 28; ++k) {
    RandomBytes other = random(1);
    other[k] ^= 1;
    const std::string differs = cart_key(other);
    int places = 0;
    for (std::size_t n = 0; n < key.size(); ++n) places += key[n] == differs[n] ? 0 : 1;
    EXPECT_EQ(places, 1) << k;
  }
}

TEST(Secret, Base64UrlIsThatOfRfc4648) {
  // RFC 4648, 10, without its padding.
  EXPECT_EQ(base64url(bytes("")), "");
  EXPECT_EQ(base64url(bytes("f")), "Zg");
  EXPECT_EQ(base64url(bytes("fo")), "Zm8");
  EXPECT_EQ(base64url(bytes("foo")), "Zm9v");
  EXPECT_EQ(base64url(bytes("foob")), "Zm9vYg");
  EXPECT_EQ(base64url(bytes("fooba")), "Zm9vYmE");
  EXPECT_EQ(base64url(bytes("foobar")), "Zm9vYmFy");
  EXPECT_EQ(base64url(bytes("\xFB\xFF\xBF")), "-_-_");  // 62 and 63 are safe in a URL and a cookie
}

TEST(Secret, SessionAndCsrfBelongTogetherAndSayNothingOfEachOther) {
  const std::string one = session_secret(random(1)), two = session_secret(random(2));
  EXPECT_EQ(one.size(), 43u);
  EXPECT_NE(one, two);
  EXPECT_EQ(csrf_of(one), csrf_of(one));
  EXPECT_NE(csrf_of(one), csrf_of(two));
  EXPECT_NE(csrf_of(one), one);
}

TEST(Secret, ATokenSaysWhatItIs) {
  EXPECT_TRUE(token_secret(random(1)).starts_with("tagline_"));
  EXPECT_EQ(token_secret(random(1)).size(), 8u + 43u);
}

TEST(Secret, SameComparesWholeTexts) {
  EXPECT_TRUE(same("", ""));
  EXPECT_TRUE(same("abc", "abc"));
  EXPECT_FALSE(same("abc", "abd"));
  EXPECT_FALSE(same("abc", "abcd"));
  EXPECT_FALSE(same("", "a"));
}

TEST(Secret, TheSetupCodeIsForgivingOfHowItIsTypedAndOfNothingElse) {
  const std::string code = setup_code(random(9));
  ASSERT_EQ(code.size(), 19u) << code;
  EXPECT_EQ(code[4], '-');
  std::string typed;
  for (const char c : code)
    if (c != '-') typed += static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  EXPECT_TRUE(is_setup_code(code, code));
  EXPECT_TRUE(is_setup_code(" " + typed + " ", code));
  std::string wrong = code;
  wrong.back() = wrong.back() == '7' ? '8' : '7';
  EXPECT_FALSE(is_setup_code(wrong, code));
  EXPECT_FALSE(is_setup_code("", code));
  EXPECT_FALSE(is_setup_code(code.substr(0, 14), code));
  std::set<std::string> codes;
  for (std::uint8_t k = 0; k < 200; ++k) codes.insert(setup_code(random(k)));
  EXPECT_GT(codes.size(), 30u);
}

TEST(Secret, ADevicePassIsGoodForOneAccountOfOneService) {
  const std::string pass = device_pass("key", "anna", random(3));
  const auto device = device_of("key", "anna", pass);
  ASSERT_TRUE(device);
  EXPECT_EQ(device->size(), 32u);
  EXPECT_FALSE(device_of("key", "bert", pass));
  EXPECT_FALSE(device_of("other key", "anna", pass));
  EXPECT_FALSE(device_of("key", "anna", ""));
  EXPECT_FALSE(device_of("key", "anna", *device));
  EXPECT_FALSE(device_of("key", "anna", *device + "."));
  EXPECT_FALSE(device_of("key", "anna", pass.substr(0, pass.size() - 1)));
  std::string other = pass;
  other[0] = other[0] == '0' ? '1' : '0';
  EXPECT_FALSE(device_of("key", "anna", other));
}

}  // namespace
}  // namespace tagline::access::test
