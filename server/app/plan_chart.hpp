// The answer of `tagline plan` as a picture: two panels over the number of carts.
#pragma once

#include <string>

#include "server/app/plan_study.hpp"

namespace tagline::app {

/// An SVG document. Every series has its own mark or dash and its name beside it, so that colour is
/// never the only sign.
std::string draw_plan(const std::string& floor_name, const PlanStudy& study);

}  // namespace tagline::app
