// The result of a check as text for people and as JSON for programs.
#pragma once

#include <filesystem>
#include <iosfwd>
#include <string>

#include "server/app/check_result.hpp"

namespace tagline::app {

/// Plain words, findings by severity and numbered; the last line sums up.
void print_check(std::ostream& out, const floor::Track& track, const CheckResult& result);

/// One JSON object; lengths in mm, times in s. See README.md, "Check a floor".
std::string check_json(const std::filesystem::path& file, const floor::Track& track,
                       const CheckResult& result);

/// What a severity means, for a heading.
std::string heading_of(floor::Severity severity);

/// `text` in lines of at most `width` characters, broken at spaces.
std::vector<std::string> wrapped(const std::string& text, std::size_t width);

}  // namespace tagline::app
