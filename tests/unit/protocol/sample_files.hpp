// Reads protocol/README.md and the sample exchanges beside it.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

namespace tagline::protocol::test {

inline const std::filesystem::path folder = std::filesystem::path(TAGLINE_SOURCE_DIR) / "protocol";

inline std::string text_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  EXPECT_TRUE(in.good()) << path;
  return {std::istreambuf_iterator<char>(in), {}};
}

/// In order of name.
inline std::vector<std::filesystem::path> sample_files() {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder / "samples")) {
    if (entry.path().extension() == ".jsonl") files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

struct Line {
  std::string where;  // "first-trip.jsonl:3"
  nlohmann::json json;
};

inline std::vector<Line> sample_lines(const std::filesystem::path& file) {
  std::vector<Line> lines;
  std::istringstream in(text_of(file));
  std::string text;
  for (int number = 1; std::getline(in, text); ++number) {
    lines.push_back(
        {file.filename().string() + ':' + std::to_string(number), nlohmann::json::parse(text)});
  }
  return lines;
}

}  // namespace tagline::protocol::test
