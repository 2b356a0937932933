// Puts the reader of the SQLite store behind the figures' desk.
#pragma once

#include <filesystem>

#include "server/net/figure_source.hpp"
#include "server/store/figure_reader.hpp"

namespace tagline::app {

class StoreFigures : public net::FigureSource {
 public:
  explicit StoreFigures(const std::filesystem::path& folder) : reader_(folder) {}

  figures::Rows read(const figures::Range& range) override try {
    return reader_.read(range);
  } catch (const store::TooMuch& error) {
    throw net::AskedTooMuch(error.what());
  }

 private:
  store::FigureReader reader_;
};

}  // namespace tagline::app
