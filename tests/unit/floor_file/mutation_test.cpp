// Thousands of damaged demo floors (fixed seed): every one is either a whole floor or refused with
// findings that point into the text. Nothing throws, hangs or crashes.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

#include "support.hpp"
#include "tests/support/effort.hpp"

namespace tagline::floor::testing {
namespace {

/// A whole floor that survives being written, or findings a person can follow.
void expect_sound(const std::string& text, std::size_t& floors, std::size_t& refused) {
  LoadResult result;
  ASSERT_NO_THROW(result = parse_floor(text));
  if (const auto* floor = std::get_if<Floor>(&result)) {
    ++floors;
    expect_whole(*floor);
    expect_same(floor_in(format_floor(*floor)), *floor);
    return;
  }
  ++refused;
  const auto& findings = std::get<std::vector<FileFinding>>(result);
  ASSERT_FALSE(findings.empty());
  const Json document = Json::parse(text, nullptr, false);
  for (const FileFinding& finding : findings) {
    EXPECT_FALSE(finding.wrong.empty());
    EXPECT_FALSE(finding.right.empty());
    if (document.is_discarded()) continue;
    Json::json_pointer pointer;
    ASSERT_NO_THROW(pointer = Json::json_pointer(finding.pointer)) << finding.pointer;
    EXPECT_TRUE(document.contains(pointer)) << finding.pointer << ": " << finding.wrong;
  }
}

std::size_t below(std::mt19937& random, std::size_t limit) {
  return static_cast<std::size_t>(random()) % limit;
}

void damage_bytes(std::string& text, std::mt19937& random) {
  static const std::string likely = "{}[]\",:0123456789eE+-.truefalsn\\/u\n \t";
  const std::size_t at = below(random, text.size());
  switch (below(random, 6)) {
    case 0:
      text[at] = static_cast<char>(below(random, 256));
      break;
    case 1:
      text[at] = likely[below(random, likely.size())];
      break;
    case 2:
      text.erase(at, 1 + below(random, 40));
      break;
    case 3:
      text.insert(at, 1, likely[below(random, likely.size())]);
      break;
    case 4:
      text.insert(at, text.substr(below(random, text.size()), 1 + below(random, 200)));
      break;
    default:
      text.resize(at + 1);
  }
}

void list_nodes(Json& node, std::vector<Json*>& nodes) {
  nodes.push_back(&node);
  if (node.is_structured()) {
    for (auto& child : node) list_nodes(child, nodes);
  }
}

void damage_values(Json& document, std::mt19937& random) {
  static const std::vector<Json> odd{
      nullptr, true,          0,          -1,     1e300,         0.5,  "",    "P1", "B1", "S1",
      "04A",   Json::array(), {{"a", 1}}, {1, 2}, "\xC3\xA9 ~/", 4000, 1e-300};
  std::vector<Json*> nodes;
  list_nodes(document, nodes);
  Json& node = *nodes[1 + below(random, nodes.size() - 1)];
  switch (below(random, 4)) {
    case 0:
      node = Json(odd[below(random, odd.size())]);
      break;
    case 1:
      node = Json(*nodes[1 + below(random, nodes.size() - 1)]);
      break;
    case 2:
      if (node.is_array() && !node.empty()) {
        node.erase(below(random, node.size()));
      } else if (node.is_object() && !node.empty()) {
        auto member = node.begin();
        std::advance(member, static_cast<std::ptrdiff_t>(below(random, node.size())));
        node.erase(member);
      }
      break;
    default:
      if (node.is_array() && !node.empty()) {
        node.push_back(Json(node[below(random, node.size())]));
      } else if (node.is_object()) {
        node["a/b~"] = 1;
      }
  }
}

TEST(Mutations, OfBytes) {
  const std::string demo = read_file("deploy/demo.floor.json");
  std::mt19937 random(20261125);
  std::size_t floors = 0;
  std::size_t refused = 0;
  for (int round = 0; round < 2000 && !HasFatalFailure(); ++round) {
    SCOPED_TRACE(round);
    std::string text = demo;
    const std::size_t times = 1 + below(random, 3);
    for (std::size_t k = 0; k < times; ++k) damage_bytes(text, random);
    expect_sound(text, floors, refused);
  }
  // The damage is real, and some of it is harmless (a digit, a blank): both ways are tried.
  EXPECT_GT(refused, 1000U);
  EXPECT_GT(floors, 20U);
}

TEST(Mutations, OfValues) {
  const Json demo = Json::parse(read_file("deploy/demo.floor.json"));
  std::mt19937 random(20261126);
  std::size_t floors = 0;
  std::size_t refused = 0;
  for (int round = 0; round < test::lighter(1500) && !HasFatalFailure(); ++round) {
    SCOPED_TRACE(round);
    Json document = demo;
    const std::size_t times = 1 + below(random, 3);
    for (std::size_t k = 0; k < times; ++k) damage_values(document, random);
    expect_sound(document.dump(), floors, refused);
  }
  EXPECT_GT(refused, test::lighter(1000U));
  EXPECT_GT(floors, test::lighter(20U));
}

}  // namespace
}  // namespace tagline::floor::testing
