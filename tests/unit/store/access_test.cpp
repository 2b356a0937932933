// Accounts, sessions, tokens and the audit log: what is written is found again, and goes when it is
// too old or the record is put back.
#include <gmock/gmock.h>

#include "server/access/book.hpp"
#include "server/store/backup.hpp"
#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

constexpr std::int64_t one_day = 24LL * 3600 * 1000;

class AccessRows : public testing::Test {
 protected:
  AccessRows() { open(); }
  void open() {
    store.reset();
    store.emplace(folder.data(), works.ways, three_carts);
    (void)store->load(at(0));
  }
  void write(std::vector<access::Change> changes) {
    Batch batch;
    batch.access = std::move(changes);
    store->write(at(0), std::span(&batch, 1));
  }
  void act(std::int64_t ms, const std::string& who) {
    write({access::AuditEntry{0, at(ms), who, "stop_cart", "carts/cart-1", "10.0.0.1", "done"}});
  }
  std::vector<std::string> actors(std::size_t limit, std::optional<std::uint64_t> before = {}) {
    std::vector<std::string> found;
    for (const auto& entry : store->audit(limit, before)) found.push_back(entry.who);
    return found;
  }

  Works works;
  TempFolder folder;
  std::optional<Store> store;
};

TEST_F(AccessRows, ABookIsFoundAgainWholeInEveryField) {
  access::Book book({});
  EXPECT_EQ(book.add_account("Berta", access::Role::builder, "$argon2id$1", at(1)),
            access::Book::Refused::nothing);
  EXPECT_EQ(book.add_account("Otto", access::Role::operating, "$argon2id$2", at(2)),
            access::Book::Refused::nothing);
  book.open_session("berta", access::sha256("s1"), at(3));
  book.open_session("otto", access::sha256("s2"), at(4));
  EXPECT_EQ(book.add_token({"t1", "Robot", access::Role::supervisor, access::sha256("t1"), at(5),
                            at(5 + one_day), std::nullopt}),
            access::Book::Refused::nothing);
  EXPECT_EQ(book.add_token({"t2", "Button", access::Call{"CAST", "KILN"}, access::sha256("t2"),
                            at(6), at(6 + one_day), at(7)}),
            access::Book::Refused::nothing);
  book.device_key(access::RandomBytes{1});
  write(book.take_changes());
  book.seen(access::sha256("s2"), at(one_day / 2));
  book.seen(access::sha256("t1"), at(one_day / 2));
  EXPECT_EQ(book.set_role("otto", access::Role::viewer), access::Book::Refused::nothing);
  write(book.take_changes());
  open();

  const access::Known known = store->known();
  ASSERT_EQ(known.accounts.size(), 2u);
  EXPECT_EQ(known.accounts[0].name, "Berta");
  EXPECT_EQ(known.accounts[0].role, access::Role::builder);
  EXPECT_EQ(known.accounts[0].password_hash, "$argon2id$1");
  EXPECT_EQ(known.accounts[0].created, at(1));
  EXPECT_EQ(known.accounts[0].last_seen, at(3));
  EXPECT_EQ(known.accounts[1].role, access::Role::viewer);
  EXPECT_EQ(known.accounts[1].last_seen, at(one_day / 2));
  ASSERT_EQ(known.sessions.size(), 2u);
  for (const access::Session& session : known.sessions) {
    const bool ottos = session.key == access::sha256("s2");
    EXPECT_EQ(session.account, ottos ? "otto" : "berta");
    EXPECT_EQ(session.began, at(ottos ? 4 : 3));
    EXPECT_EQ(session.last_seen, at(ottos ? one_day / 2 : 3));
  }
  ASSERT_EQ(known.tokens.size(), 2u);
  EXPECT_EQ(known.tokens[0].id, "t1");
  EXPECT_EQ(known.tokens[0].name, "Robot");
  EXPECT_EQ(known.tokens[0].scope, access::Scope(access::Role::supervisor));
  EXPECT_EQ(known.tokens[0].key, access::sha256("t1"));
  EXPECT_EQ(known.tokens[0].last_used, at(one_day / 2));
  EXPECT_EQ(known.tokens[1].scope, (access::Scope(access::Call{"CAST", "KILN"})));
  EXPECT_EQ(known.tokens[1].created, at(6));
  EXPECT_EQ(known.tokens[1].expires, at(6 + one_day));
  EXPECT_EQ(known.tokens[1].last_used, at(7));
  EXPECT_EQ(known.device_key, book.device_key({}));
}

TEST_F(AccessRows, WhoIsTakenOutStaysOut) {
  access::Book book({});
  EXPECT_EQ(book.add_account("Berta", access::Role::builder, "x", at(1)),
            access::Book::Refused::nothing);
  EXPECT_EQ(book.add_account("Otto", access::Role::operating, "x", at(2)),
            access::Book::Refused::nothing);
  book.open_session("otto", access::sha256("s1"), at(3));
  book.open_session("berta", access::sha256("s2"), at(3));
  EXPECT_EQ(book.add_token({"t1", "Robot", access::Role::viewer, access::sha256("t1"), at(5),
                            at(5 + one_day), std::nullopt}),
            access::Book::Refused::nothing);
  write(book.take_changes());
  EXPECT_EQ(book.remove_account("OTTO"), access::Book::Refused::nothing);
  EXPECT_EQ(book.revoke_token("t1"), access::Book::Refused::nothing);
  book.end_session(access::sha256("s2"));
  write(book.take_changes());
  open();
  const access::Known known = store->known();
  ASSERT_EQ(known.accounts.size(), 1u);
  EXPECT_EQ(known.accounts[0].name, "Berta");
  EXPECT_THAT(known.sessions, IsEmpty());
  EXPECT_THAT(known.tokens, IsEmpty());
}

TEST_F(AccessRows, NoSecretIsInTheFile) {
  access::Book book({});
  EXPECT_EQ(book.add_account("Berta", access::Role::builder, "x", at(1)),
            access::Book::Refused::nothing);
  book.open_session("berta", access::sha256("session secret"), at(3));
  write(book.take_changes());
  EXPECT_THAT(query(folder.database(), "SELECT hex(secret) FROM sessions"),
              ElementsAre("94636D5FF369611A8A9C003B0669BB75A900A050282C5C5EFA1290B972825B18"));
}

TEST_F(AccessRows, TheAuditLogIsReadFromItsEndInPages) {
  for (int k = 1; k <= 5; ++k) act(k, "person " + std::to_string(k));
  open();
  EXPECT_THAT(actors(2), ElementsAre("person 5", "person 4"));
  EXPECT_THAT(actors(2, 4), ElementsAre("person 3", "person 2"));
  EXPECT_THAT(actors(9, 2), ElementsAre("person 1"));
  EXPECT_THAT(actors(9, 1), IsEmpty());
  EXPECT_EQ(actors(9, ~std::uint64_t{0}).size(), 5u);
  const access::AuditEntry last = store->audit(1, {}).at(0);
  EXPECT_EQ(last.id, 5u);
  EXPECT_EQ(last.at, at(5));
  EXPECT_EQ(last.what, "stop_cart");
  EXPECT_EQ(last.about, "carts/cart-1");
  EXPECT_EQ(last.from_address, "10.0.0.1");
  EXPECT_EQ(last.outcome, "done");
}

TEST_F(AccessRows, OldEntriesGoAndNoIdIsGivenTwice) {
  act(0, "old");
  act(20 * one_day, "young");
  store->tidy(at(25 * one_day), Duration{10 * one_day});
  EXPECT_THAT(actors(9), ElementsAre("young"));
  store->tidy(at(99 * one_day), Duration{10 * one_day});
  EXPECT_THAT(actors(9), IsEmpty());
  act(99 * one_day, "new");
  EXPECT_EQ(store->audit(1, {}).at(0).id, 3u);
}

TEST_F(AccessRows, ARowThatNobodyWroteLetsNobodyIn) {
  store.reset();
  run_sql(folder.database(),
          "INSERT INTO accounts VALUES ('x', 'X', 'owner', 'h', 1, NULL);"
          "INSERT INTO sessions VALUES (x'00', 'x', 1, 1);"
          "INSERT INTO tokens VALUES ('t', 'T', NULL, NULL, NULL, zeroblob(32), 1, 9, NULL);"
          "INSERT INTO tokens VALUES ('u', 'U', 'owner', NULL, NULL, x'00', 1, 9, NULL)");
  open();
  const access::Known known = store->known();
  EXPECT_THAT(known.accounts, IsEmpty());
  EXPECT_THAT(known.sessions, IsEmpty());
  EXPECT_THAT(known.tokens, IsEmpty());
}

TEST_F(AccessRows, SeenAlarmsAreKeptUntilTheyEnd) {
  write({access::PutSeenAlarm{{"fault cart-1 drive", "Otto", at(5)}},
         access::PutSeenAlarm{{"all_stopped", "Sam", at(6)}}});
  write({access::PutSeenAlarm{{"all_stopped", "Otto", at(7)}}});
  open();
  auto seen = store->known().seen_alarms;
  ASSERT_EQ(seen.size(), 2u);
  EXPECT_EQ(seen[0].cause, "all_stopped");
  EXPECT_EQ(seen[0].who, "Sam") << "who was first stays";
  EXPECT_EQ(seen[0].at, at(6));
  EXPECT_EQ(seen[1].who, "Otto");
  write({access::DropSeenAlarm{"all_stopped"}});
  write({access::PutSeenAlarm{{"all_stopped", "Otto", at(9)}}});
  open();
  seen = store->known().seen_alarms;
  ASSERT_EQ(seen.size(), 2u);
  EXPECT_EQ(seen[0].who, "Otto") << "it had ended, and came again";
}

TEST_F(AccessRows, APutBackRecordSignsEverybodyOut) {
  access::Book book({});
  EXPECT_EQ(book.add_account("Berta", access::Role::builder, "x", at(1)),
            access::Book::Refused::nothing);
  book.open_session("berta", access::sha256("s1"), at(3));
  write(book.take_changes());
  write({access::PutSeenAlarm{{"all_stopped", "Sam", at(6)}}});
  const auto copy = folder.path() / "copy.db";
  (void)back_up(folder.data(), copy);
  store.reset();
  (void)restore(folder.data(), copy, at(50));
  open();
  const access::Known known = store->known();
  EXPECT_EQ(known.accounts.size(), 1u);
  EXPECT_THAT(known.sessions, IsEmpty());
  EXPECT_THAT(known.seen_alarms, IsEmpty()) << "such an alarm may have ended since";
}

}  // namespace
}  // namespace tagline::store::test
