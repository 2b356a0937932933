// What the floor file tests share: a small good floor to break, and ways to look at results.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "server/floor/file.hpp"

namespace tagline::floor::testing {

using Json = nlohmann::ordered_json;

/// A whole good floor: ring A-B-C-D, a two-way branch with a turning place, a spur of two
/// segments, two stations, a siding with a charger.
Json small_floor();

/// The findings, empty if `text` is a floor.
std::vector<FileFinding> findings_in(std::string_view text);
std::vector<FileFinding> findings_of(const Json& document);

/// The floor; a test failure with all findings listed, and an empty floor, if there is none.
Floor floor_in(std::string_view text);

/// Pointers only, in the order of the findings.
std::vector<std::string> pointers_of(const std::vector<FileFinding>& findings);

/// Field by field, so that a failure names the field.
void expect_same(const Floor& a, const Floor& b);

/// Every promise that floor.hpp makes of a loaded floor.
void expect_whole(const Floor& floor);

std::string read_file(const std::string& path_in_project);

}  // namespace tagline::floor::testing
