// A builder's office over the sample floor in a folder of its own, and the service of people that
// has it.
#pragma once

#include <cstdlib>
#include <fstream>
#include <sstream>

#include "server/app/plant_office.hpp"
#include "server/floor/file.hpp"
#include "tests/interop/people.hpp"

namespace tagline::test {

inline std::string text_in(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return std::move(text).str();
}

/// A folder with floor.json (the floor that LiveService runs on) and fleet.json, removed at the
/// end.
class OfficeFolder {
 public:
  OfficeFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "tagline-office-XXXXXX").string();
    if (!mkdtemp(name.data())) throw std::runtime_error("no folder");
    path = name;
    std::ofstream(floor()) << floor::format_floor(LiveService::sample_plant()->floor);
    std::ofstream(fleet()) << R"({"format":"tagline-fleet/1","carts":[
      {"id":"cart-1","key":"sample-key-of-cart-1","home":"H1"},
      {"id":"cart-2","key":"sample-key-of-cart-2","home":"H2"}]})";
  }
  ~OfficeFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path, ignored);
  }
  OfficeFolder(const OfficeFolder&) = delete;
  OfficeFolder& operator=(const OfficeFolder&) = delete;

  [[nodiscard]] std::filesystem::path floor() const { return path / "floor.json"; }
  [[nodiscard]] std::filesystem::path fleet() const { return path / "fleet.json"; }
  [[nodiscard]] std::filesystem::path shelf() const { return path / "shelf"; }
  [[nodiscard]] json floor_file() const { return json::parse(text_in(floor())); }
  [[nodiscard]] app::PlantOffice::Setup office(
      std::chrono::milliseconds longest_check = std::chrono::seconds(60)) const {
    return {floor(), fleet(), shelf(), TAGLINE_PROGRAM, "2026-03-04T08:00:00.000Z", longest_check};
  }

  std::filesystem::path path;
};

/// The service with its people, on that floor.
class OfficeService : public OfficeFolder {
 public:
  explicit OfficeService(std::chrono::milliseconds longest_check = std::chrono::seconds(60))
      : office_(OfficeFolder::office(longest_check)), service(works_of_people(), &office_) {}

  /// Saves a draft as that person; the answer.
  net::ClientResponse save(const std::string& name, const std::string& document,
                           const std::string& version) const {
    Headers headers = browser_of(service, "session of " + name);
    headers.emplace_back("If-Match", "\"" + version + "\"");
    return service.ask("PUT", "/api/floor/draft", document, std::move(headers));
  }
  [[nodiscard]] json get(const std::string& target) const {
    return json::parse(service.as("Berta", "GET", target).body);
  }

 private:
  app::PlantOffice office_;

 public:
  PeopledService service;
};

}  // namespace tagline::test
