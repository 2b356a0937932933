// The table of rights, every action with every scope, against a table written by hand.
#include <gtest/gtest.h>

#include "server/access/action.hpp"

namespace tagline::access::test {
namespace {

/// For viewer, operator, supervisor, builder as a person; then the same with a token; then with a
/// call button's token. '+' may, '-' may not.
struct Row {
  Action action;
  const char* persons;
  const char* tokens;
  char call;
};
constexpr Row rows[] = {
    {Action::look, "++++", "++++", '-'},          {Action::use_own_account, "++++", "++++", '-'},
    {Action::ask_job, "-+++", "-+++", '-'},       {Action::cancel_job, "-+++", "-+++", '-'},
    {Action::say_handled, "-+++", "-+++", '-'},   {Action::count_loads, "-+++", "-+++", '-'},
    {Action::see_alarm, "-+++", "-+++", '-'},     {Action::stop, "-+++", "-+++", '-'},
    {Action::place_cart, "--++", "--++", '-'},    {Action::remove_cart, "--++", "--++", '-'},
    {Action::release, "--++", "--++", '-'},       {Action::change_service, "--++", "--++", '-'},
    {Action::read_audit, "--++", "--++", '-'},    {Action::manage_accounts, "---+", "----", '-'},
    {Action::manage_tokens, "---+", "----", '-'}, {Action::draw_floor, "---+", "---+", '-'},
    {Action::publish_floor, "---+", "----", '-'}, {Action::manage_fleet, "---+", "----", '-'},
    {Action::call, "----", "----", '+'},
};

TEST(Rights, EveryActionWithEveryScope) {
  ASSERT_EQ(std::size(rows), rights.size()) << "an action is missing here";
  for (const Row& row : rows) {
    SCOPED_TRACE(static_cast<int>(row.action));
    for (std::size_t k = 0; k < all_roles.size(); ++k) {
      EXPECT_EQ(refuse(all_roles[k], true, row.action) == Refused::nothing, row.persons[k] == '+')
          << word(all_roles[k]);
      EXPECT_EQ(refuse(all_roles[k], false, row.action) == Refused::nothing, row.tokens[k] == '+')
          << word(all_roles[k]) << "'s token";
    }
    EXPECT_EQ(refuse(Call{"A", "B"}, false, row.action) == Refused::nothing, row.call == '+');
  }
}

TEST(Rights, WhyNotIsTold) {
  EXPECT_EQ(refuse(Role::viewer, true, Action::ask_job), Refused::role_too_low);
  EXPECT_EQ(refuse(Role::builder, false, Action::manage_tokens), Refused::persons_only);
  EXPECT_EQ(refuse(Role::builder, true, Action::call), Refused::call_only);
  EXPECT_EQ(refuse(Call{}, false, Action::look), Refused::only_calls);
}

TEST(Roles, WordsGoBothWays) {
  for (const Role role : all_roles) EXPECT_EQ(role_from(word(role)), role);
  EXPECT_FALSE(role_from("Viewer"));
  EXPECT_FALSE(role_from("viewers"));
  EXPECT_FALSE(role_from("view"));
  EXPECT_FALSE(role_from(""));
  EXPECT_FALSE(role_from("call"));
}

}  // namespace
}  // namespace tagline::access::test
