// See check_command.hpp.
#include "server/app/check_command.hpp"

#include <fstream>
#include <iostream>

#include "server/app/bad_input.hpp"
#include "server/app/check_drawing.hpp"
#include "server/app/check_report.hpp"

namespace tagline::app {

int check(const CheckOptions& options) {
  const auto plant = load_plant(options.floor);
  const CheckResult result = check_floor(plant->track, options.carts);
  if (!options.svg.empty()) {
    std::ofstream drawing(options.svg);
    drawing << check_drawing(plant->track, result);
    drawing.close();
    if (!drawing) {
      throw BadInput("--svg " + options.svg.string() +
                     ": can't be written; name a file in a folder that is there");
    }
  }
  if (options.json) {
    std::cout << check_json(options.floor, plant->track, result) << '\n';
  } else {
    print_check(std::cout, plant->track, result);
  }
  return result.may_run() ? 0 : 1;
}

}  // namespace tagline::app
