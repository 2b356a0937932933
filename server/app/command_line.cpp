// Options of every subcommand, read with CLI11.
#include "server/app/command_line.hpp"

#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <CLI/CLI.hpp>
#include <iostream>

#include "server/app/backup_command.hpp"
#include "server/app/bad_input.hpp"
#include "server/app/cart_command.hpp"
#include "server/app/check_command.hpp"
#include "server/app/demo_command.hpp"
#include "server/app/plan_command.hpp"
#include "server/app/replay_command.hpp"
#include "server/app/serve_command.hpp"
#include "server/app/simulate_command.hpp"

namespace tagline::app {
namespace {

constexpr int exit_failed = 1, exit_bad_input = 2;
constexpr int highest_pace = 100;

void say(const std::string& line) { std::cerr << "tagline: " << line << '\n'; }

/// What happens to virtual carts, by themselves or in a simulation.
void add_mishaps(CLI::App& command, double& stall_rate, double& drop_rate) {
  command
      .add_option("--stall-rate", stall_rate,
                  "Times an hour that something stands in a cart's way for 5 to 60 s")
      ->check(CLI::Range(0.0, 60.0))
      ->capture_default_str();
  command
      .add_option("--drop-rate", drop_rate,
                  "Times an hour that a cart's link is gone for 1 to 30 s")
      ->check(CLI::Range(0.0, 60.0))
      ->capture_default_str();
}

void add_pace(CLI::App& command, int& pace) {
  command.add_option("--pace", pace, "Runs the clock so many times faster (1 to 100)")
      ->check(CLI::Range(1, highest_pace))
      ->capture_default_str();
}

// Read as a wider number, so that one too large is refused with the range and not just as
// unreadable.
void add_port(CLI::App& command, std::uint16_t& port) {
  command
      .add_option_function<int>(
          "--port", [&port](int given) { port = static_cast<std::uint16_t>(given); },
          "TCP port; 0 takes a free one; default: 8080")
      ->check(CLI::Range(0, 65535));
}

CLI::App& add_serve(CLI::App& program, ServeOptions& options) {
  CLI::App& command = *program.add_subcommand("serve", "Run the dispatcher service");
  command.add_option("--floor", options.floor, "Floor file, tagline-floor/1")->required();
  command.add_option("--fleet", options.fleet, "Fleet file, tagline-fleet/1")->required();
  command.add_option("--data", options.data, "Data folder; made if missing")->required();
  command.add_option("--listen", options.listen, "IP address to listen on")->capture_default_str();
  add_port(command, options.port);
  command.add_option("--port-file", options.port_file, "Writes the port to this file");
  command.add_option("--host", options.hosts,
                     "Name by which people reach it, besides its address; may be repeated");
  command.add_option("--web", options.web, "Folder of the built page");
  command.add_option("--open-door", options.open_door,
                     "Lets everybody in with this role, without signing in: viewer, operator, "
                     "supervisor or builder; only on a loopback address");
  command.add_flag("--setup-code", options.setup_code,
                   "Prints a code for one more builder, also where there are accounts");
  command.add_option("--proxy", options.proxies,
                     "IP address of a proxy before it, which says in X-Forwarded-For whom it asks "
                     "for; may be repeated");
  auto* certificate = command.add_option(
      "--tls-certificate", options.tls_certificate,
      "PEM file: speaks TLS with this certificate, followed by those between it and its root");
  auto* key = command.add_option("--tls-key", options.tls_key,
                                 "PEM file with the certificate's key, without a password");
  certificate->needs(key);
  key->needs(certificate);
  command
      .add_flag("--plain-carts", options.plain_carts,
                "Lets carts link without TLS all the same; their keys can be read along the way")
      ->needs(certificate);
  add_pace(command, options.pace);
  command
      .add_option("--keep-days", options.keep_days,
                  "Days after which reads, ended jobs and the journal are deleted")
      ->check(CLI::Range(1, 36'500))
      ->capture_default_str();
  return command;
}

CLI::App& add_cart(CLI::App& program, CartOptions& options) {
  CLI::App& command = *program.add_subcommand("cart", "Drive virtual carts");
  command.add_option("--floor", options.floor, "Floor file, tagline-floor/1")->required();
  command.add_option("--fleet", options.fleet, "Fleet file, tagline-fleet/1")->required();
  command
      .add_option("--url", options.url,
                  "Address of the service, ws://HOST:PORT/cart, or wss:// with TLS")
      ->required();
  command.add_option("--tls-root", options.tls_root,
                     "PEM file: the root certificate to trust instead of this machine's");
  command.add_option("--cart", options.carts, "Id of a cart; may be repeated; default: all");
  command.add_option("--seed", options.seed, "Start of the random numbers")->capture_default_str();
  command.add_option("--miss-rate", options.miss_rate, "Share of tag reads that fail, 0 to 0.5")
      ->check(CLI::Range(0.0, 0.5))
      ->capture_default_str();
  add_mishaps(command, options.stall_rate, options.drop_rate);
  command.add_flag(
      "--person", options.person,
      "Obeys \"ahead CART\" and \"behind CART\" on standard input: pushes it to a tag");
  command.add_option("--report", options.report, "Writes what the bodies did to this file");
  add_pace(command, options.pace);
  return command;
}

CLI::App& add_demo(CLI::App& program, DemoOptions& options) {
  CLI::App& command =
      *program.add_subcommand("demo", "Run the service with virtual carts on a demo works");
  add_port(command, options.port);
  command.add_option("--data", options.data, "Data folder; default: a fresh one, removed after");
  command.add_option("--floor", options.floor, "Floor file; default: the demo works");
  command.add_option("--fleet", options.fleet, "Fleet file with homes; default: the demo's");
  command.add_option("--web", options.web, "Folder of the built page");
  command.add_option("--carts", options.carts, "Only the first so many of the fleet")
      ->check(CLI::Range(1, 200));
  command.add_option("--seed", options.seed, "Start of the random numbers")->capture_default_str();
  CLI::Option* none = command.add_flag("!--no-jobs", options.jobs, "Ask for no jobs");
  command
      .add_option("--jobs-per-hour", options.jobs_per_hour,
                  "Jobs asked for in an hour of the service's clock; default: the demand")
      ->check(CLI::Range(0.01, 10'000.0))
      ->excludes(none);
  add_pace(command, options.pace);
  return command;
}

CLI::App& add_check(CLI::App& program, CheckOptions& options) {
  CLI::App& command =
      *program.add_subcommand("check", "Say whether a floor is fit for carts, and for how many");
  command.add_option("floor", options.floor, "Floor file, tagline-floor/1")->required();
  command
      .add_option_function<std::size_t>(
          "--carts", [&options](std::size_t carts) { options.carts = carts; },
          "Carts to run on it; default: as many as the demand needs and the floor can carry")
      ->check(CLI::Range(1, 1000));
  command.add_flag("--json", options.json, "Print one JSON object instead of text");
  command.add_option("--svg", options.svg, "Draws floor and findings into this file");
  return command;
}

CLI::App& add_simulate(CLI::App& program, SimulateOptions& options) {
  CLI::App& command = *program.add_subcommand(
      "simulate", "Try a floor out, faster than real time; exit code 3 if an invariant breaks");
  command.add_option("FLOOR", options.floor, "Floor file, tagline-floor/1");
  command.add_option("--carts", options.carts, "Number of carts")->check(CLI::Range(1, 500));
  command.add_option("--hours", options.hours, "Simulated hours")
      ->check(CLI::Range(0.01, 100'000.0))
      ->capture_default_str();
  command.add_option("--seed", options.seed, "Start of the random numbers")->capture_default_str();
  command
      .add_option("--jobs-per-hour", options.jobs_per_hour,
                  "Jobs at random (Poisson), pairs by the demand, else all alike; default: the "
                  "demand of the floor file")
      ->check(CLI::Range(0.001, 100'000.0));
  command.add_flag("--saturate", options.saturate, "There are always queued jobs");
  command
      .add_option("--speed-noise", options.speed_noise,
                  "Carts are up to this part slower, handling takes up to this part more or less")
      ->check(CLI::Range(0.0, 0.9))
      ->capture_default_str();
  command.add_option("--miss-rate", options.miss_rate, "Share of passed tags not read, 0 to 0.5")
      ->check(CLI::Range(0.0, 0.5))
      ->capture_default_str();
  add_mishaps(command, options.stall_rate, options.drop_rate);
  command
      .add_option("--closing-rate", options.closing_rate,
                  "Times an hour that a segment, a station or a cart is out of service, for 20 to "
                  "400 s")
      ->check(CLI::Range(0.0, 60.0))
      ->capture_default_str();
  command.add_flag("--json", options.json, "Prints JSON instead of a table");
  command
      .add_option("--runs", options.runs,
                  "So many runs, each with the next seed, and how sure "
                  "their means are")
      ->check(CLI::Range(1, 1000))
      ->capture_default_str();
  command.add_option("--trace", options.trace, "Where the events of a run that broke something go")
      ->capture_default_str();
  command.add_option("--movement", options.movement,
                     "Writes where the carts were in the first 20 min into this file, as JSON");
  command.add_option("--replay", options.replay,
                     "Feeds such a file to the core again and shows where it breaks");
  return command;
}

CLI::App& add_plan(CLI::App& program, PlanOptions& options) {
  CLI::App& command = *program.add_subcommand("plan", "Say how many carts the demand needs");
  command.add_option("FLOOR", options.floor, "Floor file, tagline-floor/1")->required();
  command
      .add_option("--demand-factor", options.demand_factor, "Plans for so many times the demand")
      ->check(CLI::Range(0.01, 100.0))
      ->capture_default_str();
  command.add_option("--hours", options.hours, "Hours of each simulated run")
      ->check(CLI::Range(0.5, 10'000.0))
      ->capture_default_str();
  command.add_option("--runs", options.runs, "Runs for each number of carts")
      ->check(CLI::Range(2, 1000))
      ->capture_default_str();
  command.add_option("--seed", options.seed, "Start of the random numbers")->capture_default_str();
  command.add_flag("--json", options.json, "Prints JSON instead of tables");
  command.add_option("--svg", options.svg, "Draws the answer into this file");
  return command;
}

CLI::App& add_backup(CLI::App& program, BackupOptions& options) {
  CLI::App& command = *program.add_subcommand(
      "backup", "Copy the service's record into a file, also while it runs");
  command.add_option("--data", options.data, "Data folder of the service")->required();
  command.add_option("--to", options.file, "File to make; it must not exist")->required();
  return command;
}

CLI::App& add_replay(CLI::App& program, ReplayOptions& options) {
  CLI::App& command = *program.add_subcommand(
      "replay", "Work out again what the service decided; exit code 3 if it comes out differently");
  command.add_option("--data", options.data, "Data folder of the service; it may be running")
      ->required();
  command.add_option("--run", options.run,
                     "Number of the run; default: the one at the moment asked for; "
                     "without run and moment, the runs are listed");
  command.add_option("--until", options.until,
                     "Stops after this moment (RFC 3339) and shows how things stood then");
  command.add_option("--from", options.from,
                     "Prints what happens from this moment (RFC 3339) on, event by event");
  command.add_flag("--json", options.json, "Prints JSON, one object a line");
  return command;
}

CLI::App& add_restore(CLI::App& program, BackupOptions& options) {
  CLI::App& command = *program.add_subcommand(
      "restore", "Put a backup in the place of the record of a service that is not running");
  command.add_option("--data", options.data, "Data folder of the service; made if missing")
      ->required();
  command.add_option("--from", options.file, "File made by tagline backup")->required();
  return command;
}

}  // namespace

int run(int argc, char** argv) {
  spdlog::set_default_logger(std::make_shared<spdlog::logger>(
      "tagline", std::make_shared<spdlog::sinks::stderr_sink_mt>()));
  spdlog::set_pattern("%Y-%m-%dT%H:%M:%S.%e%z %l: %v");

  CLI::App program("Tagline: dispatches tape-following carts in a small workshop", "tagline");
  program.set_version_flag("--version", "tagline " TAGLINE_VERSION);
  program.require_subcommand(1);
  ServeOptions serve_options;
  CartOptions cart_options;
  DemoOptions demo_options;
  SimulateOptions simulate_options;
  PlanOptions plan_options;
  const CLI::App& serve_command = add_serve(program, serve_options);
  const CLI::App& cart_command = add_cart(program, cart_options);
  const CLI::App& demo_command = add_demo(program, demo_options);
  const CLI::App& simulate_command = add_simulate(program, simulate_options);
  const CLI::App& plan_command = add_plan(program, plan_options);
  CheckOptions check_options;
  const CLI::App& check_command = add_check(program, check_options);
  BackupOptions backup_options;
  const CLI::App& backup_command = add_backup(program, backup_options);
  BackupOptions restore_options;
  const CLI::App& restore_command = add_restore(program, restore_options);
  ReplayOptions replay_options;
  const CLI::App& replay_command = add_replay(program, replay_options);
  if (argc > 1 && argv[1][0] != '-' &&
      program.get_subcommands([&](CLI::App* command) { return command->check_name(argv[1]); })
          .empty()) {
    say("there is no command \"" + std::string(argv[1]) + "\" (see tagline --help)");
    return exit_bad_input;
  }
  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) return program.exit(error);  // --help, --version
    say(std::string(error.what()) + " (see tagline --help)");
    return exit_bad_input;
  }
  try {
    if (serve_command.parsed()) return serve(serve_options);
    if (cart_command.parsed()) return run_carts(cart_options);
    if (demo_command.parsed()) return demo(demo_options);
    if (simulate_command.parsed()) return simulate(simulate_options);
    if (plan_command.parsed()) return plan(plan_options);
    if (check_command.parsed()) return check(check_options);
    if (backup_command.parsed()) return backup(backup_options);
    if (restore_command.parsed()) return restore(restore_options);
    if (replay_command.parsed()) return replay(replay_options);
  } catch (const BadInput& error) {
    for (const std::string& line : error.lines()) say(line);
    return exit_bad_input;
  } catch (const std::exception& error) {
    say(error.what());
    return exit_failed;
  }
  return exit_bad_input;
}

}  // namespace tagline::app
