// Floor files on disk: whatever moment the power goes at, the floor is the old one or the new one,
// and the history agrees with it.
#include "server/app/floor_shelf.hpp"

#include "server/app/whole_file.hpp"
#include "tests/interop/office_floor.hpp"

namespace tagline::test {
namespace {

namespace fs = std::filesystem;
constexpr const char* noon = "2026-03-04T12:00:00.000Z";

/// As if the power had gone in publish(): before the floor file was replaced (1), or after (2).
void published_up_to_step(const OfficeFolder& folder, int step) {
  app::FloorShelf shelf(folder.floor(), folder.shelf(), noon);
  shelf.save("{\"new\":1}", "Berta", noon);
  const std::string text = R"({"by":"Berta","at":"x","document":"{\"new\":1}"})";
  app::write_whole(folder.shelf() / "publishing.json", text);
  if (step > 1) app::write_whole(folder.floor(), "{\"new\":1}");
}

TEST(FloorShelf, PowerGoneBeforeTheFloorFileIsReplaced) {
  const OfficeFolder folder;
  const std::string old = text_in(folder.floor());
  published_up_to_step(folder, 1);
  const app::FloorShelf shelf(folder.floor(), folder.shelf(), noon);
  EXPECT_EQ(shelf.in_use(), old);
  EXPECT_EQ(shelf.history().size(), 1u);
  EXPECT_EQ(shelf.draft().document, "{\"new\":1}");
  EXPECT_FALSE(fs::exists(folder.shelf() / "publishing.json"));
}

TEST(FloorShelf, PowerGoneAfterTheFloorFileIsReplaced) {
  const OfficeFolder folder;
  const std::string old = text_in(folder.floor());
  published_up_to_step(folder, 2);
  const app::FloorShelf shelf(folder.floor(), folder.shelf(), noon);
  EXPECT_EQ(shelf.in_use(), "{\"new\":1}");
  ASSERT_EQ(shelf.history().size(), 2u);
  EXPECT_EQ(shelf.history()[0].by, "Berta");
  EXPECT_EQ(shelf.edition(2), "{\"new\":1}");
  EXPECT_EQ(shelf.edition(1), old);
  EXPECT_EQ(shelf.draft().version, 2u);
  EXPECT_FALSE(shelf.draft().document);
}

TEST(FloorShelf, AFileChangedByHandBetweenTwoStartsIsInTheHistory) {
  const OfficeFolder folder;
  const std::string old = text_in(folder.floor());
  EXPECT_EQ(app::FloorShelf(folder.floor(), folder.shelf(), noon).history().size(), 1u);
  EXPECT_EQ(app::FloorShelf(folder.floor(), folder.shelf(), noon).history().size(), 1u);
  std::ofstream(folder.floor()) << "{}";
  const app::FloorShelf shelf(folder.floor(), folder.shelf(), noon);
  ASSERT_EQ(shelf.history().size(), 2u);
  EXPECT_EQ(shelf.history()[0].by, "");
  EXPECT_EQ(shelf.edition(2), "{}");
  EXPECT_EQ(shelf.edition(1), old);
}

TEST(FloorShelf, WhatCantBeWrittenLeavesTheOldFile) {
  const OfficeFolder folder;
  const std::string old = text_in(folder.floor());
  app::FloorShelf shelf(folder.floor(), folder.shelf(), noon);
  shelf.save("{}", "Berta", noon);
  const fs::path in_the_way = folder.floor().string() + ".new";
  fs::create_directory(in_the_way);
  EXPECT_THROW(shelf.publish("Berta", noon), net::OfficeError);
  fs::remove(in_the_way);
  EXPECT_EQ(text_in(folder.floor()), old);
  EXPECT_EQ(shelf.in_use(), old);
  EXPECT_EQ(shelf.draft().document, "{}");
  EXPECT_FALSE(fs::exists(folder.shelf() / "publishing.json"));
  EXPECT_EQ(shelf.publish("Berta", noon).version, 2u);
}

TEST(FloorShelf, AFileKeepsItsPermissionsAndALinkStaysOne) {
  const OfficeFolder folder;
  const auto readable = fs::perms::owner_read | fs::perms::owner_write | fs::perms::group_read;
  fs::permissions(folder.floor(), readable);
  const fs::path link = folder.path / "link.json";
  fs::create_symlink(folder.floor(), link);
  app::write_whole(link, "new");
  EXPECT_TRUE(fs::is_symlink(link));
  EXPECT_EQ(text_in(folder.floor()), "new");
  EXPECT_EQ(fs::status(folder.floor()).permissions(), readable);
}

}  // namespace
}  // namespace tagline::test
