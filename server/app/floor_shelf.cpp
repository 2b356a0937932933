// Reading and writing of floor files.
#include "server/app/floor_shelf.hpp"

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "server/app/whole_file.hpp"

namespace tagline::app {
namespace {

namespace fs = std::filesystem;
using net::FloorDraft;
using net::FloorEdition;
using net::OfficeError;
using nlohmann::json;

constexpr int digits = 6;

std::optional<std::string> text_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) return std::nullopt;
  std::ostringstream text;
  text << in.rdbuf();
  if (!in) throw OfficeError("can't read " + file.string());
  return std::move(text).str();
}

std::optional<json> json_of(const fs::path& file) {
  const auto text = text_of(file);
  if (!text) return std::nullopt;
  json read = json::parse(*text, nullptr, false);
  if (!read.is_object())
    throw OfficeError(file.string() + " can't be read; put it away, then try again");
  return read;
}

std::string edition_text(const std::string& document, const std::string& by,
                         const std::string& at) {
  return json{{"by", by}, {"at", at}, {"document", document}}.dump();
}

void write(const fs::path& file, const std::string& content) {
  try {
    write_whole(file, content);
  } catch (const std::runtime_error& error) {
    throw OfficeError(error.what());
  }
}

/// 12 of "000012.json"; 0 if it is no edition.
std::uint64_t number_of(const fs::path& file) {
  const std::string stem = file.stem().string();
  if (file.extension() != ".json" || stem.size() != digits ||
      !std::ranges::all_of(stem, [](char c) { return c >= '0' && c <= '9'; }))
    return 0;
  return std::stoull(stem);
}

}  // namespace

FloorShelf::FloorShelf(fs::path floor_file, fs::path folder, const std::string& now)
    : floor_file_(std::move(floor_file)), folder_(std::move(folder)) {
  std::error_code error;
  fs::create_directories(folder_, error);
  if (error) throw OfficeError("can't make " + folder_.string() + ": " + error.message());
  const auto text = text_of(floor_file_);
  if (!text) throw OfficeError("can't read " + floor_file_.string());
  in_use_ = *text;
  const fs::path begun = folder_ / "publishing.json";
  const std::uint64_t last = last_number();
  if (const auto published = json_of(begun)) {
    // The power went while it was published: the floor file says whether it had got so far.
    if (published->value("document", "") == in_use_) {
      fs::rename(begun, edition_file(last + 1));
      FloorDraft draft = this->draft();
      if (draft.document == in_use_) {
        draft = {draft.version + 1, std::nullopt, {}, {}};
        write_draft(draft);
      }
      return;
    }
    fs::remove(begun);
  }
  if (last == 0 || edition(last) != in_use_)
    write(edition_file(last + 1), edition_text(in_use_, "", now));
}

bool FloorShelf::changed_by_hand() const { return text_of(floor_file_) != in_use_; }

FloorDraft FloorShelf::draft() const {
  const auto read = json_of(folder_ / "draft.json");
  if (!read) return {};
  FloorDraft draft;
  draft.version = read->value("version", std::uint64_t{0});
  draft.saved_by = read->value("saved_by", "");
  draft.saved_at = read->value("saved_at", "");
  if (const auto document = read->find("document"); document != read->end())
    draft.document = document->get<std::string>();
  return draft;
}

void FloorShelf::write_draft(const FloorDraft& draft) const {
  json text{{"version", draft.version}, {"saved_by", draft.saved_by}, {"saved_at", draft.saved_at}};
  if (draft.document) text["document"] = *draft.document;
  write(folder_ / "draft.json", text.dump());
}

FloorDraft FloorShelf::save(std::string document, std::string by, std::string at) {
  FloorDraft next{draft().version + 1, std::move(document), std::move(by), std::move(at)};
  write_draft(next);
  return next;
}

FloorDraft FloorShelf::publish(const std::string& by, const std::string& at) {
  const FloorDraft now = draft();
  const std::string& document = now.document.value();
  const fs::path begun = folder_ / "publishing.json";
  write(begun, edition_text(document, by, at));
  try {
    write(floor_file_, document);
  } catch (const OfficeError&) {
    fs::remove(begun);
    throw;
  }
  in_use_ = document;
  fs::rename(begun, edition_file(last_number() + 1));
  FloorDraft none{now.version + 1, std::nullopt, {}, {}};
  write_draft(none);
  return none;
}

fs::path FloorShelf::edition_file(std::uint64_t number) const {
  char name[32];
  std::snprintf(name, sizeof name, "%0*llu.json", digits, static_cast<unsigned long long>(number));
  return folder_ / name;
}

std::uint64_t FloorShelf::last_number() const {
  std::uint64_t last = 0;
  for (const auto& entry : fs::directory_iterator(folder_))
    last = std::max(last, number_of(entry.path()));
  return last;
}

std::vector<FloorEdition> FloorShelf::history() const {
  std::vector<FloorEdition> editions;
  for (std::uint64_t number = last_number(); number > 0; --number) {
    const auto read = json_of(edition_file(number));
    if (read) editions.push_back({number, read->value("by", ""), read->value("at", "")});
  }
  return editions;
}

std::optional<std::string> FloorShelf::edition(std::uint64_t number) const {
  if (number == 0 || number > last_number()) return std::nullopt;
  const auto read = json_of(edition_file(number));
  if (!read) return std::nullopt;
  return read->value("document", "");
}

}  // namespace tagline::app
