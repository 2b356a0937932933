// What must wait for the disk with what was decided before it, and what need not.
#include "server/net/precedence.hpp"

#include <gtest/gtest.h>

namespace tagline::net::test {
namespace {

constexpr CartIx one{0}, other{1};

Release to(CartIx cart) {
  Release release;
  release.messages.emplace_back(control::TellAuthority{cart, 1, {}});
  return release;
}

Batch of(control::Record record) {
  Batch batch;
  batch.records.push_back(std::move(record));
  return batch;
}

/// What is kept back by outcomes with such records, one after the other, the last one alone.
KeptBack kept_back_by(const std::vector<control::Record>& records) {
  Precedence precedence;
  KeptBack kept;
  for (const control::Record& record : records) {
    kept = {};
    precedence.add(of(record), {}, kept);
  }
  return kept;
}

control::CartRecord cart_record(bool needs_release, const std::string& doubt) {
  control::CartRecord record;
  record.cart = one;
  record.needs_release = needs_release;
  record.doubt = doubt;
  return record;
}

control::JobRecord job_record() {
  control::Job job;
  job.cart = one;
  return {job};
}

TEST(Precedence, HowAJobGetsOnAndWhereACartGoesKeepsBackThatCartAlone) {
  const control::PathRecord path{one, 1, std::nullopt, {control::PathStep{}}};
  const control::CartRecord clear = cart_record(false, "");
  for (const KeptBack& kept :
       {kept_back_by({path}), kept_back_by({job_record()}), kept_back_by({clear, clear})}) {
    EXPECT_FALSE(may_go_before(kept, to(one)));
    EXPECT_TRUE(may_go_before(kept, to(other)));
  }
}

TEST(Precedence, WhatMakesTrackFreeOrLetsCartsGoKeepsEverybodyBack) {
  const control::PathRecord off_the_floor{one, 1, std::nullopt, {}};
  const control::CartRecord clear = cart_record(false, "");
  const control::CartRecord stopped = cart_record(true, "");
  const control::CartRecord lost = cart_record(false, "pushed by hand");
  for (const std::vector<control::Record>& records :
       std::vector<std::vector<control::Record>>{{off_the_floor},
                                                 {clear},  // nobody knows what was before
                                                 {clear, stopped},
                                                 {clear, stopped, clear},
                                                 {clear, lost},
                                                 {clear, lost, clear},
                                                 {control::FleetRecord{}},
                                                 {control::DowntimeRecord{}},
                                                 {control::ZoneRecord{}}}) {
    EXPECT_FALSE(may_go_before(kept_back_by(records), to(other))) << records.size();
  }
}

TEST(Precedence, MessagesOfACartKeepTheirOrderAndSoDoItsAcknowledgements) {
  Precedence precedence;
  KeptBack kept;
  precedence.add({}, to(one), kept);
  Release acknowledged;
  acknowledged.origin = Origin{one, 7, 3};
  EXPECT_FALSE(may_go_before(kept, to(one)));
  EXPECT_FALSE(may_go_before(kept, acknowledged));
  EXPECT_TRUE(may_go_before(kept, to(other)));

  KeptBack by_acknowledgement;
  precedence.add({}, acknowledged, by_acknowledgement);
  EXPECT_FALSE(may_go_before(by_acknowledgement, to(one)));
}

TEST(Precedence, OneMessageThatMustWaitKeepsBackTheOthersOfItsOutcome) {
  Precedence precedence;
  KeptBack kept;
  precedence.add({}, to(one), kept);
  Release both = to(other);
  both.messages.push_back(to(one).messages.front());
  EXPECT_FALSE(may_go_before(kept, both));
}

TEST(Precedence, AnswersToPeopleWaitForAllBeforeThem) {
  Release answered = to(other);
  answered.answers.push_back({1, control::Accepted{}});
  EXPECT_FALSE(may_go_before({}, answered));
}

}  // namespace
}  // namespace tagline::net::test
