// Argon2id against RFC 9106 and its authors' own test, and what a password must be.
#include "server/access/password.hpp"

#include <argon2.h>
#include <gtest/gtest.h>

#include "server/access/secret.hpp"

namespace tagline::access::test {
namespace {

constexpr HashCost cheap{64, 1, 1};

Salt salt_of(std::uint8_t value) {
  Salt salt;
  salt.fill(value);
  return salt;
}

/// RFC 9106, 5.3. It has a secret and associated data, which only the library's own call takes:
/// this says that the library, on this machine, is Argon2id.
TEST(Argon2id, TheLibraryGivesTheTagOfRfc9106) {
  std::array<std::uint8_t, 32> tag{}, password{};
  std::array<std::uint8_t, 16> salt{};
  std::array<std::uint8_t, 8> secret{};
  std::array<std::uint8_t, 12> data{};
  password.fill(1);
  salt.fill(2);
  secret.fill(3);
  data.fill(4);
  argon2_context context{};
  context.out = tag.data();
  context.outlen = tag.size();
  context.pwd = password.data();
  context.pwdlen = password.size();
  context.salt = salt.data();
  context.saltlen = salt.size();
  context.secret = secret.data();
  context.secretlen = secret.size();
  context.ad = data.data();
  context.adlen = data.size();
  context.t_cost = 3;
  context.m_cost = 32;
  context.lanes = context.threads = 4;
  context.version = ARGON2_VERSION_13;
  ASSERT_EQ(argon2id_ctx(&context), ARGON2_OK);
  EXPECT_EQ(hex(tag), "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659");
}

/// Encoded by others: the test file of the reference implementation (P-H-C, src/test.c), 64 MiB,
/// two passes. From memory.
TEST(Argon2id, TakesWhatTheReferenceWrote) {
  const std::string reference =
      "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc";
  EXPECT_TRUE(is_password("password", reference));
  EXPECT_FALSE(is_password("passwore", reference));
}

TEST(Argon2id, AHashIsTakenByItsPasswordOnly) {
  const std::string hash = hash_password("correct horse", salt_of(1), cheap);
  EXPECT_TRUE(hash.starts_with("$argon2id$v=19$m=64,t=1,p=1$")) << hash;
  EXPECT_TRUE(is_password("correct horse", hash));
  EXPECT_FALSE(is_password("correct horsf", hash));
  EXPECT_FALSE(is_password("", hash));
  EXPECT_NE(hash, hash_password("correct horse", salt_of(2), cheap));
}

TEST(Argon2id, TheUsualCostIsAtLeastThatOfOwasp) {
  // OWASP, password storage cheat sheet (from memory): 19 MiB, 2 passes, 1 lane.
  EXPECT_GE(usual_cost.memory_kib, 19u * 1024);
  EXPECT_GE(usual_cost.passes, 2u);
  const std::string hash = hash_password("correct horse", salt_of(1), usual_cost);
  EXPECT_TRUE(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$")) << hash;
}

TEST(Argon2id, NobodysHashIsAWholeOneThatNoPasswordFits) {
  const std::string nobody = hash_of_nobody(cheap);
  EXPECT_FALSE(is_password("", nobody));
  EXPECT_FALSE(is_password("correct horse", nobody));
  // It is looked at like any other, not refused unread: that would take no time at all.
  EXPECT_EQ(argon2id_verify(nobody.c_str(), "x", 1), ARGON2_VERIFY_MISMATCH);
}

TEST(Argon2id, WhatIsNoHashHasNoPassword) {
  for (const char* bad : {"", "x", "$argon2id$", "$argon2i$v=19$m=64,t=1,p=1$c29tc2FsdA$AAAA"})
    EXPECT_FALSE(is_password("", bad)) << bad;
}

TEST(Password, LengthIsWhatCounts) {
  EXPECT_TRUE(fault_of_password("elevenchars", "anna"));
  EXPECT_FALSE(fault_of_password("twelve chars", "anna"));
  EXPECT_TRUE(fault_of_password(std::string(20, 'a'), "anna"));
  std::string long_one = "ab";
  while (long_one.size() < 128) long_one += 'c';
  EXPECT_FALSE(fault_of_password(long_one, "anna"));
  EXPECT_TRUE(fault_of_password(long_one + "d", "anna"));
  // Characters, not bytes: twelve of two bytes will do, eleven won't.
  std::string umlauts = "x";
  for (int k = 0; k < 10; ++k) umlauts += "\xC3\xA4";
  EXPECT_TRUE(fault_of_password(umlauts, "anna"));
  EXPECT_FALSE(fault_of_password(umlauts + "\xC3\xA4", "anna"));
  EXPECT_TRUE(fault_of_password("Kiln Builder 1", "kiln builder 1"));
}

}  // namespace
}  // namespace tagline::access::test
