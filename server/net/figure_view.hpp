// The figures of a range as the JSON and CSV texts of API.md.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "server/figures/report.hpp"

namespace tagline::net {

std::string figures_json(const figures::Report& report);

/// `table`: hours, late, carts, merges, tags. Nothing if it is another.
std::optional<std::string> figures_csv(const figures::Report& report, std::string_view table);

/// Whether there is such a table.
bool is_figure_table(std::string_view table);

}  // namespace tagline::net
