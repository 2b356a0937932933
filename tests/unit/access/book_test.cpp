// Accounts, sessions and tokens: what is refused, what ends what, and what the store is told.
#include "server/access/book.hpp"

#include <gtest/gtest.h>

namespace tagline::access::test {
namespace {

using namespace std::chrono_literals;

constexpr Instant opened{Duration{1'800'000'000'000}};

Digest digest(int number) { return sha256(std::to_string(number)); }

Book with_builder() {
  Book book({});
  EXPECT_EQ(book.add_account("Berta", Role::builder, "hash", opened), Book::Refused::nothing);
  return book;
}

/// The book that a store would give back after these changes.
Book reloaded(const std::vector<Change>& changes, Known known = {}) {
  const auto drop = [](auto& from, const auto& which) { std::erase_if(from, which); };
  for (const Change& change : changes) {
    if (const auto* one = std::get_if<PutAccount>(&change)) {
      drop(known.accounts, [&](auto& old) { return old.name == one->account.name; });
      known.accounts.push_back(one->account);
    } else if (const auto* gone = std::get_if<DropAccount>(&change)) {
      drop(known.accounts, [&](auto& old) { return old.name == gone->name; });
    } else if (const auto* session = std::get_if<PutSession>(&change)) {
      drop(known.sessions, [&](auto& old) { return old.key == session->session.key; });
      known.sessions.push_back(session->session);
    } else if (const auto* ended = std::get_if<DropSession>(&change)) {
      drop(known.sessions, [&](auto& old) { return old.key == ended->key; });
    } else if (const auto* token = std::get_if<PutToken>(&change)) {
      drop(known.tokens, [&](auto& old) { return old.id == token->token.id; });
      known.tokens.push_back(token->token);
    } else if (const auto* revoked = std::get_if<DropToken>(&change)) {
      drop(known.tokens, [&](auto& old) { return old.id == revoked->id; });
    } else if (const auto* key = std::get_if<PutDeviceKey>(&change)) {
      known.device_key = key->key;
    }
  }
  return Book(std::move(known));
}

TEST(Book, NamesAreOneWhateverTheirCapitals) {
  Book book = with_builder();
  EXPECT_EQ(book.add_account("BERTA", Role::viewer, "x", opened), Book::Refused::taken);
  ASSERT_NE(book.account("berta"), nullptr);
  EXPECT_EQ(book.account("berta")->name, "Berta");
  EXPECT_EQ(book.account("berta "), nullptr);
}

TEST(Book, NamesThatCouldBeMistakenAreRefused) {
  for (const char* bad : {"", " anna", "anna ", "token:x", "a/b", "?", "demo", "Demo", ".", "..",
                          "12345678901234567890123456789012345678901"})
    EXPECT_TRUE(fault_of_name(bad)) << bad;
  for (const char* good :
       {"Anna", "kiln 2", "J\xC3\xBCrgen", "1234567890123456789012345678901234567890"})
    EXPECT_FALSE(fault_of_name(good)) << good;
}

TEST(Book, TheLastBuilderStays) {
  Book book = with_builder();
  ASSERT_EQ(book.add_account("Sam", Role::supervisor, "x", opened), Book::Refused::nothing);
  EXPECT_EQ(book.remove_account("Berta"), Book::Refused::last_builder);
  EXPECT_EQ(book.set_role("Berta", Role::supervisor), Book::Refused::last_builder);
  EXPECT_EQ(book.set_role("Berta", Role::builder), Book::Refused::nothing);
  EXPECT_EQ(book.account("Berta")->role, Role::builder);
  ASSERT_EQ(book.set_role("Sam", Role::builder), Book::Refused::nothing);
  EXPECT_EQ(book.remove_account("berta"), Book::Refused::nothing);
  EXPECT_EQ(book.remove_account("Sam"), Book::Refused::last_builder);
  EXPECT_EQ(book.remove_account("Berta"), Book::Refused::unknown);
  EXPECT_EQ(book.set_role("Berta", Role::viewer), Book::Refused::unknown);
  EXPECT_EQ(book.set_password("Berta", "x"), Book::Refused::unknown);
}

TEST(Book, ASessionHoldsUntilItIsIdleTooLongOrTooOld) {
  Book book = with_builder();
  book.open_session("berta", digest(1), opened);
  ASSERT_NE(book.signed_in(digest(1), opened), nullptr);
  EXPECT_EQ(book.signed_in(digest(1), opened)->name, "Berta");
  EXPECT_EQ(book.signed_in(digest(2), opened), nullptr);
  EXPECT_NE(book.signed_in(digest(1), opened + Book::idle_time - 1ms), nullptr);
  EXPECT_EQ(book.signed_in(digest(1), opened + Book::idle_time), nullptr);
  // Used every day it lasts its longest time, and no longer.
  for (Instant at = opened; at < opened + Book::longest_session; at += 24h)
    book.seen(digest(1), at);
  EXPECT_NE(book.signed_in(digest(1), opened + Book::longest_session - 1ms), nullptr);
  EXPECT_EQ(book.signed_in(digest(1), opened + Book::longest_session), nullptr);
}

TEST(Book, WhatEndsAPersonsSessions) {
  Book book = with_builder();
  ASSERT_EQ(book.add_account("Vera", Role::viewer, "x", opened), Book::Refused::nothing);
  const auto open = [&] {
    for (int k = 1; k <= 2; ++k) book.open_session("vera", digest(k), opened);
    book.open_session("berta", digest(3), opened);
  };
  const auto open_ones = [&] {
    int count = 0;
    for (int k = 1; k <= 3; ++k) count += book.signed_in(digest(k), opened) != nullptr ? 1 : 0;
    return count;
  };
  open();
  book.end_session(digest(1));
  EXPECT_EQ(open_ones(), 2);
  open();
  ASSERT_EQ(book.set_password("Vera", "y"), Book::Refused::nothing);
  EXPECT_EQ(open_ones(), 1);
  open();
  // A role is not the session's: it holds at once, and the session stays.
  ASSERT_EQ(book.set_role("Vera", Role::operating), Book::Refused::nothing);
  EXPECT_EQ(open_ones(), 3);
  EXPECT_EQ(book.signed_in(digest(1), opened)->role, Role::operating);
  ASSERT_EQ(book.remove_account("Vera"), Book::Refused::nothing);
  EXPECT_EQ(open_ones(), 1);
  // Somebody of the same name later is somebody else.
  ASSERT_EQ(book.add_account("Vera", Role::builder, "x", opened), Book::Refused::nothing);
  EXPECT_EQ(book.signed_in(digest(1), opened), nullptr);
}

TEST(Book, TooManySessionsEndTheOneNotUsedForLongest) {
  Book book = with_builder();
  const int most = static_cast<int>(Book::most_sessions);
  for (int k = 0; k < most; ++k) book.open_session("berta", digest(k), opened + k * 1s);
  book.seen(digest(0), opened + 1h);
  book.open_session("berta", digest(most), opened + 2h);
  EXPECT_NE(book.signed_in(digest(0), opened + 2h), nullptr);
  EXPECT_EQ(book.signed_in(digest(1), opened + 2h), nullptr);
  EXPECT_NE(book.signed_in(digest(2), opened + 2h), nullptr);
  EXPECT_NE(book.signed_in(digest(most), opened + 2h), nullptr);
}

TEST(Book, ATokenHoldsUntilItExpiresOrIsRevoked) {
  Book book({});
  const Token token{"t1", "Button", Call{"CAST", "DRY"}, digest(1), opened, opened + 24h, {}};
  ASSERT_EQ(book.add_token(token), Book::Refused::nothing);
  Token same_name = token;
  same_name.id = "t2";
  same_name.name = "button";
  same_name.key = digest(2);
  EXPECT_EQ(book.add_token(same_name), Book::Refused::taken);
  EXPECT_NE(book.token(digest(1), opened + 24h - 1ms), nullptr);
  EXPECT_EQ(book.token(digest(1), opened + 24h), nullptr);
  EXPECT_EQ(book.token(digest(2), opened), nullptr);
  EXPECT_EQ(book.revoke_token("t9"), Book::Refused::unknown);
  EXPECT_EQ(book.revoke_token("t1"), Book::Refused::nothing);
  EXPECT_EQ(book.token(digest(1), opened), nullptr);
  EXPECT_EQ(book.revoke_token("t1"), Book::Refused::unknown);
}

TEST(Book, WhenSomebodyWasSeenIsWrittenNowAndThen) {
  Book book = with_builder();
  book.open_session("berta", digest(1), opened);
  ASSERT_EQ(book.add_token({"t1", "Robot", Role::viewer, digest(2), opened, opened + 24h, {}}),
            Book::Refused::nothing);
  (void)book.take_changes();
  for (Instant at = opened; at < opened + 1h; at += 1s) book.seen(digest(1), at);
  EXPECT_EQ(book.take_changes().size(), 2u * 5) << "session and account, every 10 minutes";
  for (Instant at = opened; at < opened + 1h; at += 1s) book.seen(digest(2), at);
  EXPECT_EQ(book.take_changes().size(), 6u);
  book.seen(digest(3), opened + 2h);
  EXPECT_TRUE(book.take_changes().empty());
}

TEST(Book, WhatHasExpiredIsTakenOut) {
  Book book = with_builder();
  book.open_session("berta", digest(1), opened);
  book.open_session("berta", digest(2), opened + 24h);
  ASSERT_EQ(book.add_token({"t1", "Robot", Role::viewer, digest(3), opened, opened + 24h, {}}),
            Book::Refused::nothing);
  (void)book.take_changes();
  book.tidy(opened + Book::idle_time);
  const auto changes = book.take_changes();
  ASSERT_EQ(changes.size(), 2u);
  EXPECT_EQ(std::get<DropSession>(changes[0]).key, digest(1));
  EXPECT_EQ(std::get<DropToken>(changes[1]).id, "t1");
}

TEST(Book, ItsChangesMakeTheSameBook) {
  Book book = with_builder();
  EXPECT_EQ(book.add_account("Vera", Role::viewer, "v", opened), Book::Refused::nothing);
  EXPECT_EQ(book.add_account("Otto", Role::operating, "o", opened), Book::Refused::nothing);
  book.open_session("vera", digest(1), opened);
  book.open_session("otto", digest(2), opened);
  book.open_session("berta", digest(3), opened);
  EXPECT_EQ(book.set_role("otto", Role::supervisor), Book::Refused::nothing);
  EXPECT_EQ(book.remove_account("vera"), Book::Refused::nothing);
  book.end_session(digest(3));
  EXPECT_EQ(book.add_token({"t1", "Robot", Role::viewer, digest(4), opened, opened + 24h, {}}),
            Book::Refused::nothing);
  EXPECT_EQ(book.add_token({"t2", "Lamp", Role::viewer, digest(5), opened, opened + 24h, {}}),
            Book::Refused::nothing);
  EXPECT_EQ(book.revoke_token("t2"), Book::Refused::nothing);
  const std::string key = book.device_key(RandomBytes{7});
  Book again = reloaded(book.take_changes());
  EXPECT_EQ(again.accounts().size(), 2u);
  EXPECT_EQ(again.account("otto")->role, Role::supervisor);
  EXPECT_EQ(again.signed_in(digest(1), opened), nullptr);
  EXPECT_NE(again.signed_in(digest(2), opened), nullptr);
  EXPECT_EQ(again.signed_in(digest(3), opened), nullptr);
  EXPECT_NE(again.token(digest(4), opened), nullptr);
  EXPECT_EQ(again.token(digest(5), opened), nullptr);
  EXPECT_EQ(again.device_key(RandomBytes{8}), key);
  EXPECT_TRUE(again.take_changes().empty());
  EXPECT_TRUE(book.take_changes().empty());
}

}  // namespace
}  // namespace tagline::access::test
