// See simulate_command.hpp.
#include "server/app/simulate_command.hpp"

#include <chrono>
#include <fstream>
#include <iostream>
#include <memory>
#include <string>
#include <vector>

#include "server/app/bad_input.hpp"
#include "server/app/exit_codes.hpp"
#include "server/app/inputs.hpp"
#include "server/app/movement_file.hpp"
#include "server/app/run_progress.hpp"
#include "server/app/simulate_report.hpp"
#include "server/app/state_text.hpp"
#include "server/dispatch/throughput.hpp"
#include "server/floor/file.hpp"
#include "server/sim/fleet_run.hpp"
#include "server/sim/fleet_trace.hpp"
#include "server/traffic/capacity.hpp"

namespace tagline::app {
namespace {

using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) {
  return std::chrono::duration<double>(Clock::now() - start).count();
}

sim::FleetRunOptions run_options(const SimulateOptions& o, const floor::Floor& floor) {
  if (!o.carts) throw BadInput("say how many carts: --carts N");
  if (o.saturate && o.jobs_per_hour) {
    throw BadInput("--saturate and --jobs-per-hour: give one of the two");
  }
  sim::FleetRunOptions run;
  run.carts = static_cast<std::size_t>(*o.carts);
  run.hours = o.hours;
  run.seed = o.seed;
  run.speed_noise = o.speed_noise;
  run.miss_rate = o.miss_rate;
  run.stalls_per_hour = o.stall_rate;
  run.drops_per_hour = o.drop_rate;
  run.closings_per_hour = o.closing_rate;
  if (o.saturate) {
    run.jobs = sim::FleetRunOptions::Jobs::saturate;
  } else if (o.jobs_per_hour) {
    run.jobs = sim::FleetRunOptions::Jobs::per_hour;
    run.jobs_per_hour = *o.jobs_per_hour;
  } else if (floor.demand.empty()) {
    throw BadInput("\"" + floor.name +
                   "\" names no demand; say how many jobs: --jobs-per-hour R or --saturate");
  }
  if (!o.movement.empty() && o.runs > 1) {
    throw BadInput("--movement is of one run; leave out --runs");
  }
  if (floor.stations.size() < 2) {
    throw BadInput("\"" + floor.name + "\" has fewer than two stations: there is nothing to carry");
  }
  return run;
}

void refuse_too_many(const Plant& plant, std::size_t carts) {
  const traffic::LiveLimit limit = traffic::live_limit(plant.track);
  if (carts <= limit.carts) return;
  throw BadInput("--carts " + std::to_string(carts) + ": the floor stays live with at most " +
                 std::to_string(limit.carts) + ": " + limit.reason);
}

sim::FleetRunResult run_or_refuse(const Plant& plant, const sim::FleetRunOptions& options,
                                  const sim::RunProgress& progress, const sim::EventTap& tap = {},
                                  const sim::CartTap& carts = {}) {
  try {
    return sim::run_fleet(plant.track, options, progress, tap, carts);
  } catch (const sim::TooManyCarts& error) {
    throw BadInput(std::string(error.what()) + "; give fewer with --carts");
  }
}

/// Runs are the same for the same options, so the events of a broken one are written by running it
/// once more, and a sound one costs no writing.
void write_trace(const Plant& plant, const RunReport& report, const std::filesystem::path& file,
                 const sim::RunProgress& progress) {
  std::ofstream out(file);
  out << sim::trace_header(report.options, floor::format_floor(plant.floor)) << '\n';
  const sim::FleetRunResult again =
      run_or_refuse(plant, report.options, progress, [&](Instant now, const control::Event& event) {
        out << sim::trace_line(now, event) << '\n';
      });
  std::string what = report.result.broken;
  if (what.empty()) what = "carts stood in a gridlock, or one was stuck at the end";
  out << sim::trace_end(report.result.simulated_s, what) << '\n';
  out.flush();
  if (!out) throw std::runtime_error("can't write the trace " + file.string());
  std::cerr << "tagline: a run broke an invariant: " << what << ".\n"
            << "tagline: its events are in " << file.string() << "; see them again with: tagline "
            << "simulate --replay " << file.string() << '\n';
  if (again.broken != report.result.broken || again.events != report.result.events) {
    std::cerr << "tagline: the run did not repeat itself exactly, so the trace may differ\n";
  }
}

sim::FleetRunResult run_watched(const Plant& plant, const sim::FleetRunOptions& options,
                                const sim::RunProgress& progress,
                                const std::filesystem::path& file) {
  sim::MovementRecorder recorder(options.carts, movement_bounds);
  sim::FleetRunResult result = run_or_refuse(
      plant, options, progress, {},
      [&](double now, CartIx ix, const sim::FleetCart& cart) { recorder.follow(ix, cart, now); });
  std::ofstream out(file);
  out << movement_json(recorder.end(result.simulated_s)) << '\n';
  out.close();
  if (!out) {
    throw BadInput("--movement " + file.string() +
                   ": can't be written; name a file in a folder that is there");
  }
  return result;
}

// ---- replay
// ---------------------------------------------------------------------------------------

int replay_trace(const std::filesystem::path& file) {
  std::ifstream in(file);
  std::string line;
  if (!in || !std::getline(in, line)) throw BadInput("can't read the trace " + file.string());
  std::size_t number = 1;
  try {
    const sim::TraceHeader header = sim::read_trace_header(line);
    auto loaded = floor::parse_floor(header.floor_document);
    if (!std::holds_alternative<floor::Floor>(loaded)) {
      throw sim::BadTrace("the floor in its first line is no floor");
    }
    const Plant plant(std::get<floor::Floor>(std::move(loaded)));
    control::Core core(plant.track, sim::run_cart_names(header.options.carts), {}, {},
                       sim::run_begins);
    while (std::getline(in, line)) {
      ++number;
      const sim::TraceLine step = sim::read_trace_line(line);
      if (!step.event) {
        std::cout << "The core took all " << number - 2
                  << " events. What the simulation found then, "
                  << static_cast<double>((step.now - sim::run_begins).count()) / 1000
                  << " s after its start: " << step.broken << "\nThe books at that moment:\n";
        std::cout << books_text(core, plant.track);
        return exit_broken;
      }
      try {
        if (std::holds_alternative<control::Tick>(*step.event)) core.assert_nobody_forgotten();
        core.handle(step.now, *step.event);
      } catch (const std::logic_error& error) {
        std::cout << "The core breaks at line " << number << ": " << error.what() << "\n  " << line
                  << "\nThe books at that moment:\n";
        std::cout << books_text(core, plant.track);
        return exit_broken;
      }
    }
    std::cout << "The core took all " << number - 1
              << " events; the trace does not say what broke.\n";
    return 0;
  } catch (const sim::BadTrace& error) {
    throw BadInput(file.string() + ", line " + std::to_string(number) + ": " + error.what());
  }
}

}  // namespace

int simulate(const SimulateOptions& options) {
  if (!options.replay.empty()) return replay_trace(options.replay);
  if (options.floor.empty()) throw BadInput("name a floor file: tagline simulate FLOOR --carts N");
  const auto plant = load_plant(options.floor);
  sim::FleetRunOptions run = run_options(options, plant->floor);
  refuse_too_many(*plant, run.carts);
  double bound = 0;
  try {
    bound = dispatch::throughput_bound(plant->track, dispatch::flows_of(plant->floor), run.carts)
                .per_hour;
  } catch (const std::invalid_argument& error) {
    throw BadInput(options.floor.string() + ": " + error.what());
  }

  RunProgress terminal;
  int number = 1;
  const sim::RunProgress progress = [&](double seconds, std::uint64_t deliveries) {
    const int part = static_cast<int>(100 * seconds / (run.hours * 3600));
    terminal.show("run " + std::to_string(number) + " of " + std::to_string(options.runs) + ": " +
                  std::to_string(part) + " %, " + std::to_string(deliveries) + " deliveries");
  };
  std::vector<RunReport> reports;
  bool sound = true;
  for (; number <= options.runs; ++number, ++run.seed) {
    const auto start = Clock::now();
    RunReport report{run,
                     options.movement.empty()
                         ? run_or_refuse(*plant, run, progress)
                         : run_watched(*plant, run, progress, options.movement),
                     bound, 0};
    report.wall_s = seconds_since(start);
    if (!is_sound(report.result)) {
      if (sound) write_trace(*plant, report, options.trace, progress);
      sound = false;
    }
    reports.push_back(std::move(report));
  }
  terminal.wipe();
  if (options.json) {
    const auto json = reports.size() == 1 ? report_json(plant->floor, reports.front())
                                          : report_json(plant->floor, reports);
    std::cout << json.dump(2) << '\n';
  } else {
    std::cout << (reports.size() == 1 ? report_text(plant->floor, reports.front())
                                      : report_text(plant->floor, reports));
  }
  return sound ? 0 : exit_broken;
}

}  // namespace tagline::app
