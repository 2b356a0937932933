// Texts that are no JSON (RFC 8259) and files that can't be read: refused with line, column and a
// remedy, never an exception.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "support.hpp"

namespace tagline::floor::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::StartsWith;

struct Malformed {
  std::string text;
  std::string wrong;
  std::string right;  // a part of it
};

void PrintTo(const Malformed& one, std::ostream* out) {
  *out << Json(one.text).dump(-1, ' ', true, Json::error_handler_t::replace);
}

class MalformedText : public ::testing::TestWithParam<Malformed> {};

TEST_P(MalformedText, IsRefusedWithPlaceAndRemedy) {
  const auto findings = findings_in(GetParam().text);
  ASSERT_THAT(pointers_of(findings), ElementsAre(""));
  EXPECT_EQ(findings[0].wrong, GetParam().wrong);
  EXPECT_THAT(findings[0].right, HasSubstr(GetParam().right));
}

using namespace std::string_literals;

// Grammar: RFC 8259, sections 2 to 7; the numbers of these sections stand beside the cases.
INSTANTIATE_TEST_SUITE_P(
    Rfc8259, MalformedText,
    ::testing::Values(
        // 2: values, structural characters, white space
        Malformed{"", "the file is empty", "tagline-floor/1"},
        Malformed{" \r\n\t", "the file holds only blanks", "tagline-floor/1"},
        Malformed{"{", "line 1, column 2: the end of the file is not expected here", "breaks off"},
        Malformed{"[1\n, 2", "line 2, column 4: the end of the file is not expected here",
                  "breaks off"},
        Malformed{"{} {}", "line 1, column 4: an opening brace '{' is not expected here",
                  "end the file"},
        Malformed{"}", "line 1, column 1: a closing brace '}' is not expected here", "a value"},
        Malformed{"// hi\n{}", "line 1, column 1: JSON has no comments", "take the comment away"},
        Malformed{"{}\0"s, "line 1, column 3: a NUL byte", "UTF-8 text"},
        // 3: literal names
        Malformed{"[True]", "line 1, column 2: this is no JSON value", "true"},
        Malformed{"[nul]", "line 1, column 5: this is no JSON value", "null"},
        Malformed{"[undefined]", "line 1, column 2: this is no JSON value", "null"},
        // 4: objects
        Malformed{"{\"a\":1,}", "line 1, column 8: a closing brace '}' is not expected here",
                  "take away the comma"},
        Malformed{"{\"a\" 1}", "line 1, column 6: a number is not expected here", "a colon"},
        Malformed{"{a:1}", "line 1, column 2: this is no JSON value", "in quotes"},
        Malformed{"{1:2}", "line 1, column 2: a number is not expected here", "a key in double"},
        Malformed{"{\"a\":}", "line 1, column 6: a closing brace '}' is not expected here",
                  "write a value"},
        Malformed{"{\"a\":1\n \"b\":2}", "line 2, column 4: a text in quotes is not expected here",
                  "a comma before the next key"},
        // 5: arrays
        Malformed{"[1,]", "line 1, column 4: a closing bracket ']' is not expected here",
                  "take away the comma"},
        Malformed{"[1 2]", "line 1, column 4: a number is not expected here",
                  "a comma before the next item"},
        Malformed{"[,1]", "line 1, column 2: a comma ',' is not expected here", "a value"},
        Malformed{"[1}", "line 1, column 3: a closing brace '}' is not expected here",
                  "a closing bracket"},
        // 6: numbers
        Malformed{"[NaN]", "line 1, column 2: NaN and Infinity are no JSON numbers", "finite"},
        Malformed{"[1, -Infinity]", "line 1, column 5: NaN and Infinity are no JSON numbers",
                  "finite"},
        Malformed{"[+1]", "line 1, column 2: this is no JSON value", "a number"},
        Malformed{"[.5]", "line 1, column 2: this is no JSON value", "a number"},
        Malformed{"[01]", "line 1, column 3: a number is not expected here", "a comma"},
        Malformed{"[0x10]", "line 1, column 3: this is no JSON value", "a number"},
        Malformed{"[1.]", "line 1, column 4: invalid number; expected digit after '.'", "RFC 8259"},
        Malformed{"[1e]",
                  "line 1, column 4: invalid number; expected '+', '-', or digit after exponent",
                  "RFC 8259"},
        // 7: strings
        Malformed{"['a']", "line 1, column 2: a single quote", "double quotes"},
        Malformed{"[\"abc", "line 1, column 6: invalid string: missing closing quote", "RFC 8259"},
        Malformed{"[\"\\x\"]",
                  "line 1, column 4: invalid string: forbidden character after backslash",
                  "RFC 8259"},
        Malformed{"[\"a\tb\"]",
                  "line 1, column 4: invalid string: control character U+0009 (HT) must be escaped "
                  "to \\u0009 or \\t",
                  "RFC 8259"},
        Malformed{"[\"\\ud800\"]",
                  "line 1, column 9: invalid string: surrogate U+D800..U+DBFF must be followed by "
                  "U+DC00..U+DFFF",
                  "RFC 8259"}));

// UTF-8: RFC 3629, section 3 and 4. Columns count characters: the letter before each is 2 bytes.
INSTANTIATE_TEST_SUITE_P(
    Utf8, MalformedText,
    ::testing::Values(
        Malformed{"\xFF{}", "line 1, column 1: byte FF (hex) is not UTF-8", "UTF-8"},
        Malformed{"[\n\"\xC3\xA9\x80\"]", "line 2, column 3: byte 80 (hex) is not UTF-8", "UTF-8"},
        Malformed{"[\"\xC3\"]", "line 1, column 3: byte C3 (hex) is not UTF-8", "UTF-8"},
        Malformed{"[\"\xC0\xAF\"]", "line 1, column 3: byte C0 (hex) is not UTF-8", "UTF-8"},
        Malformed{"[\"\xE0\x80\xAF\"]", "line 1, column 3: byte E0 (hex) is not UTF-8", "UTF-8"},
        Malformed{"[\"\xED\xA0\x80\"]", "line 1, column 3: byte ED (hex) is not UTF-8", "UTF-8"},
        Malformed{"[\"\xF4\x90\x80\x80\"]", "line 1, column 3: byte F4 (hex) is not UTF-8", "UTF"},
        Malformed{"[\"\xF0\x9F\x98\"]", "line 1, column 3: byte F0 (hex) is not UTF-8", "UTF-8"},
        Malformed{"{} \xC3", "line 1, column 4: byte C3 (hex) is not UTF-8", "UTF-8"}));

TEST(Text, NamesInAnyScriptAreTakenUnchanged) {
  Json document = small_floor();
  const std::string name = "T\xC3\xB6pferei \xE7\xAA\xAF \xF0\x9F\x8F\xBA";
  document["name"] = name;
  EXPECT_EQ(floor_in(document.dump()).name, name);
  EXPECT_EQ(floor_in(document.dump(-1, ' ', true)).name, name);  // written as \u escapes
}

TEST(Text, ByteOrderMarkIsSkipped) {  // RFC 8259, 8.1 lets a reader do so
  EXPECT_EQ(floor_in("\xEF\xBB\xBF" + small_floor().dump()).points.size(), 7U);
}

TEST(Text, NumberTooLargeIsFoundInPlace) {
  std::string text = small_floor().dump();
  const std::string x = R"("id":"B","x":4000)";
  text.replace(text.find(x), x.size(), R"("id":"B","x":1e999)");
  const auto findings = findings_in(text);
  ASSERT_THAT(pointers_of(findings), ElementsAre("/points/1/x"));
  EXPECT_THAT(findings[0].wrong, StartsWith("the number 1e999 is too large, at line 1, column "));
  EXPECT_THAT(findings[0].right, HasSubstr("finite"));
}

TEST(Text, WholeNumbersBeyond64BitsAreOutOfRange) {
  std::string text = small_floor().dump();
  const std::string x = R"("id":"B","x":4000)";
  text.replace(text.find(x), x.size(), R"("id":"B","x":123456789012345678901234567890)");
  const auto findings = findings_in(text);
  ASSERT_THAT(pointers_of(findings), ElementsAre("/points/1/x"));
  EXPECT_THAT(findings[0].wrong, HasSubstr("out of range"));
}

TEST(Text, OtherJsonIsNoFloor) {
  for (const char* text : {"null", "true", "17", "\"floor\"", "[]"}) {
    const auto findings = findings_in(text);
    ASSERT_THAT(pointers_of(findings), ElementsAre("")) << text;
    EXPECT_THAT(findings[0].wrong, HasSubstr("instead of a floor"));
  }
}

TEST(Text, DeepNestingIsRefusedEarly) {
  // Depth alone must neither exhaust the stack nor the memory.
  const std::size_t deep = 8 * 1024 * 1024;
  const auto lists = findings_in(std::string(deep, '['));
  ASSERT_EQ(lists.size(), 1U);
  EXPECT_THAT(lists[0].wrong, HasSubstr("more than 32 lists or objects inside one another"));
  std::string objects;
  for (int k = 0; k < 100'000; ++k) objects += R"({"a":)";
  EXPECT_EQ(findings_in(objects)[0].pointer.substr(0, 6), "/a/a/a");
}

TEST(Text, TooManyValuesOrKeysAreRefused) {
  std::string zeros = "[0";
  for (int k = 0; k < 2'000'001; ++k) zeros += ",0";
  const auto values = findings_in(zeros + "]");
  ASSERT_THAT(pointers_of(values), ElementsAre(""));
  EXPECT_EQ(values[0].wrong, "more than 2000000 values in the file");
  std::string keys = "{\"k\":0";
  for (int k = 0; k < 200'000; ++k) keys += ",\"k" + std::to_string(k) + "\":0";
  const auto many = findings_in(keys + "}");
  ASSERT_EQ(many.size(), 1U);
  EXPECT_EQ(many[0].wrong, "more than 100 keys in one object");
}

TEST(Text, SizeLimitIs16MiB) {
  std::string text = small_floor().dump();
  text.resize(std::size_t{16} * 1024 * 1024, ' ');
  EXPECT_EQ(floor_in(text).points.size(), 7U);
  text += ' ';
  const auto findings = findings_in(text);
  ASSERT_THAT(pointers_of(findings), ElementsAre(""));
  EXPECT_THAT(findings[0].wrong, HasSubstr("16777217 bytes"));
}

class Files : public ::testing::Test {
 protected:
  void SetUp() override { std::filesystem::create_directories(folder_); }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::filesystem::path write(const std::string& text) {
    const auto path = folder_ / "a.floor.json";
    std::ofstream(path, std::ios::binary) << text;
    return path;
  }
  static std::string only_wrong(const LoadResult& result) {
    const auto* findings = std::get_if<std::vector<FileFinding>>(&result);
    if (!findings || findings->size() != 1 || !findings->front().pointer.empty()) return "?";
    return findings->front().wrong;
  }

  std::filesystem::path folder_ =
      std::filesystem::temp_directory_path() /
      ("tagline-floor-file-" +
       std::string(::testing::UnitTest::GetInstance()->current_test_info()->name()));
};

TEST_F(Files, AGoodOneLoads) {
  const auto result = load_floor(write(small_floor().dump(2)));
  ASSERT_TRUE(std::holds_alternative<Floor>(result));
  EXPECT_EQ(std::get<Floor>(result).name, "Small works");
}

TEST_F(Files, ABrokenOneNamesLineAndColumn) {
  EXPECT_EQ(only_wrong(load_floor(TAGLINE_SOURCE_DIR "/tests/data/bad-syntax.floor.json")),
            "line 6, column 32: a closing brace '}' is not expected here");
}

TEST_F(Files, UnreadableOnesSayWhy) {
  EXPECT_EQ(only_wrong(load_floor(folder_ / "none.json")), "there is no such file");
  EXPECT_EQ(only_wrong(load_floor("")), "there is no such file");
  EXPECT_EQ(only_wrong(load_floor(folder_)), "this is a folder");
  EXPECT_EQ(only_wrong(load_floor(write(""))), "the file is empty");
  EXPECT_EQ(only_wrong(load_floor(folder_ / "a.floor.json" / "below")), "there is no such file");
}

TEST_F(Files, EndlessOnesAreNotReadToTheEnd) {
  EXPECT_EQ(only_wrong(load_floor("/dev/zero")), "the file has more than 16 MiB");
  const auto path = write("{}");
  std::filesystem::resize_file(path, std::uintmax_t{1} << 40U);  // sparse
  EXPECT_EQ(only_wrong(load_floor(path)), "the file has more than 16 MiB");
}

}  // namespace
}  // namespace tagline::floor::testing
