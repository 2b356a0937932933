// The written contract names everything that can be on the wire.
#include <gmock/gmock.h>

#include <set>

#include "protocol/codec.hpp"
#include "protocol/codec_words.hpp"
#include "random_messages.hpp"
#include "sample_files.hpp"

namespace tagline::protocol::test {
namespace {

using nlohmann::json;

void collect_keys(const json& value, std::set<std::string>& keys) {
  if (value.is_object()) {
    for (const auto& member : value.items()) keys.insert(member.key());
  }
  for (const json& part : value) {
    if (part.is_structured()) collect_keys(part, keys);
  }
}

template <class Table>
void collect_words(const Table& table, std::set<std::string>& words) {
  for (const auto& entry : table) words.insert(std::string(entry.word));
}

class Contract : public testing::Test {
 protected:
  void expect_named(const std::set<std::string>& names) const {
    for (const std::string& name : names) {
      EXPECT_THAT(readme_, testing::HasSubstr('`' + name + '`')) << name;
    }
  }
  /// Without the sample exchanges: they show, they don't explain.
  const std::string readme_ = [] {
    const std::string whole = text_of(folder / "README.md");
    return whole.substr(0, whole.find("<!-- samples/"));
  }();
};

TEST_F(Contract, NamesEveryKeyAndMessage) {
  RandomMessages random(99);
  std::set<std::string> keys, types;
  for (int i = 0; i < 500; ++i) {
    for (const std::string& text : {encode(random.cart()), encode(random.service())}) {
      const json frame = json::parse(text);
      collect_keys(frame, keys);
      types.insert(frame.at("type").get<std::string>());
    }
  }
  EXPECT_EQ(types.size(), 12u);  // stop and release go both ways
  EXPECT_GE(keys.size(), 25u);
  expect_named(keys);
  expect_named(types);
}

TEST_F(Contract, NamesEveryWord) {
  std::set<std::string> all;
  collect_words(words::handling, all);
  collect_words(words::cause, all);
  collect_words(words::fault, all);
  collect_words(words::branch, all);
  collect_words(words::gear, all);
  collect_words(words::act, all);
  expect_named(all);
}

TEST_F(Contract, StatesTheLimitsThatTheCodecKeeps) {
  const auto n = [](auto limit) { return std::to_string(limit); };
  for (const std::string& said :
       {n(max_frame_bytes) + " bytes; more closes", n(max_number) + " (2^53 - 1",
        "1 to " + n(max_id_bytes) + " of A-Z", "1 to " + n(max_key_bytes) + " printable ASCII",
        n(max_reason_bytes) + " bytes of UTF-8", "1 to " + n(max_authority_points) + " points",
        "0 to " + n(max_tags_per_point) + " different tags", "1 to " + n(max_length_mm) + ", mm",
        "1 to " + n(max_speed_mm_s) + ", mm/s"}) {
    EXPECT_THAT(readme_, testing::HasSubstr(said));
  }
  EXPECT_THAT(readme_, testing::HasSubstr(std::string(cart_subprotocol)));
}

TEST_F(Contract, ListsEveryCloseCode) {
  for (const CloseCode code :
       {CloseCode::malformed, CloseCode::wrong_key, CloseCode::too_slow, CloseCode::duplicate,
        CloseCode::out_of_order, CloseCode::shutting_down}) {
    EXPECT_THAT(readme_, testing::HasSubstr("| " + std::to_string(static_cast<int>(code)) + " |"));
  }
}

}  // namespace
}  // namespace tagline::protocol::test
