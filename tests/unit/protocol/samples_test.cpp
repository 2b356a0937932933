// The sample exchanges are true: every frame is a message and is written again the same, every
// kind of message is shown, and the written contract shows these very lines.
#include <map>
#include <set>

#include "protocol/codec.hpp"
#include "sample_files.hpp"

namespace tagline::protocol::test {
namespace {

using nlohmann::json;

/// "" if `frame` decodes and encodes to equal JSON, else what went wrong.
std::string trouble_with(const std::string& from, const json& frame) {
  std::string again;
  const auto check = [&](const auto& result) {
    if (const auto* error = std::get_if<DecodeError>(&result)) return close_reason(*error);
    again = encode(std::get<0>(result));
    return json::parse(again) == frame ? std::string() : "encodes as " + again;
  };
  return from == "cart" ? check(decode_cart_message(frame.dump()))
                        : check(decode_service_message(frame.dump()));
}

TEST(Samples, EveryFrameIsAMessageAndIsWrittenAgainTheSame) {
  std::size_t frames = 0;
  for (const auto& file : sample_files()) {
    for (const Line& line : sample_lines(file)) {
      if (!line.json.contains("frame")) continue;
      ++frames;
      EXPECT_EQ(trouble_with(line.json.at("from"), line.json.at("frame")), "") << line.where;
    }
  }
  EXPECT_GT(frames, 100u);
}

TEST(Samples, ShowEveryKindOfMessage) {
  std::map<std::string, std::set<std::string>> seen;
  for (const auto& file : sample_files()) {
    for (const Line& line : sample_lines(file)) {
      if (line.json.contains("frame")) {
        seen[line.json.at("from")].insert(line.json.at("frame").at("type").get<std::string>());
      }
    }
  }
  EXPECT_EQ(seen["cart"],
            (std::set<std::string>{"hello", "read", "state", "done", "stop", "release"}));
  EXPECT_EQ(seen["service"], (std::set<std::string>{"welcome", "ack", "authority", "hold", "stop",
                                                    "release", "reset", "handled"}));
}

TEST(Samples, ARefusedFrameIsFollowedByItsCloseReason) {
  std::size_t refused = 0;
  for (const auto& file : sample_files()) {
    const auto lines = sample_lines(file);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      if (!lines[i].json.contains("raw")) continue;
      ++refused;
      const auto result = decode_cart_message(lines[i].json.at("raw").get<std::string>());
      const auto* error = std::get_if<DecodeError>(&result);
      ASSERT_NE(error, nullptr) << lines[i].where;
      ASSERT_LT(i + 1, lines.size());
      EXPECT_EQ(lines[i + 1].json.at("close"), static_cast<int>(CloseCode::malformed));
      EXPECT_EQ(lines[i + 1].json.at("reason"), close_reason(*error)) << lines[i].where;
    }
  }
  EXPECT_GE(refused, 3u);
}

/// What the contract itself asks of an exchange, told by a cart that keeps its rules.
TEST(Samples, KeepTheRulesOfSeqAckAndAuthority) {
  for (const auto& file : sample_files()) {
    if (file.filename() == "errors.jsonl") continue;
    std::uint64_t seq = 0, acked = 0, step = 0, until = 0;
    std::string end;
    for (const Line& line : sample_lines(file)) {
      if (!line.json.contains("frame")) continue;
      const json& frame = line.json.at("frame");
      const std::string type = frame.at("type");
      if (line.json.at("from") == "cart") {
        if (type == "hello") {
          seq = acked;  // what is not acknowledged is sent again
          step = frame.at("step");
          until = frame.at("until");
          continue;
        }
        EXPECT_EQ(frame.at("seq"), seq + 1) << line.where;
        seq = frame.at("seq");
        if (type == "read") step = std::max(step, frame.at("step").get<std::uint64_t>());
        EXPECT_LE(step, until) << line.where << ": beyond its authority";
        if (type == "done") {
          EXPECT_EQ(frame.at("step"), until) << line.where;
          EXPECT_EQ(frame.at("what"), end) << line.where;
        }
        if (type == "state" && frame.at("moving") == true) {
          EXPECT_LT(step, until) << line.where;
        }
      } else if (type == "ack") {
        EXPECT_LE(frame.at("seq"), seq) << line.where;
        acked = frame.at("seq");
      } else if (type == "reset") {
        step = until = 0;
      } else if (type == "authority") {
        const json& points = frame.at("points");
        const std::uint64_t first = points.front().at("step");
        if (step == 0) step = first;
        EXPECT_LE(first, step) << line.where;
        EXPECT_GE(points.back().at("step"), until) << line.where << ": shrinks";
        until = points.back().at("step");
        end = points.back().at("act");
      }
    }
    EXPECT_EQ(acked, seq) << file;
  }
}

/// The fenced block after "<!-- samples/NAME -->".
std::string fenced(const std::string& readme, const std::string& name) {
  const auto mark = readme.find("<!-- samples/" + name + " -->");
  if (mark == std::string::npos) return "no mark";
  const std::string opening = "```json\n";
  const auto start = readme.find(opening, mark);
  const auto stop = readme.find("```\n", start + opening.size());
  if (start == std::string::npos || stop == std::string::npos) return "no fence";
  return readme.substr(start + opening.size(), stop - start - opening.size());
}

TEST(Samples, AreShownWordForWordInTheContract) {
  const std::string readme = text_of(folder / "README.md");
  for (const auto& file : sample_files()) {
    EXPECT_EQ(fenced(readme, file.filename().string()), text_of(file)) << file;
  }
}

}  // namespace
}  // namespace tagline::protocol::test
