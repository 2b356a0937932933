// Wiring of the dispatcher service.
#include "server/app/serve_command.hpp"

#include <spdlog/spdlog.h>

#include <fstream>

#include "server/app/bad_input.hpp"
#include "server/app/cart_office.hpp"
#include "server/app/inputs.hpp"
#include "server/app/plant_office.hpp"
#include "server/app/store_figures.hpp"
#include "server/app/store_journal.hpp"
#include "server/app/store_past.hpp"
#include "server/control/core.hpp"
#include "server/net/service.hpp"
#include "server/net/time_text.hpp"
#include "server/store/whole_check.hpp"

namespace tagline::app {
namespace {

constexpr int exit_core_failed = 3;

bool is_loopback(const std::string& address) {
  return address.starts_with("127.") || address == "::1";
}

/// Written whole or not at all, so that a reader never sees half a number.
void write_port_file(const std::filesystem::path& file, std::uint16_t port) {
  const std::filesystem::path draft = file.string() + ".tmp";
  std::error_code error;
  {
    std::ofstream out(draft);
    out << port << '\n';
    if (!out.flush()) error = std::make_error_code(std::errc::io_error);
  }
  if (!error) std::filesystem::rename(draft, file, error);
  if (error) throw BadInput("can't write the port file " + file.string() + ": " + error.message());
}

/// Who may come in, before anything is opened. Throws BadInput.
std::optional<access::Role> open_door_of(const ServeOptions& options) {
  if (options.open_door.empty()) return std::nullopt;
  const auto role = access::role_from(options.open_door);
  if (!role)
    throw BadInput("--open-door " + options.open_door +
                   ": that is no role; it is viewer, operator, supervisor or builder");
  if (!is_loopback(options.listen))
    throw BadInput("--open-door lets everybody in who reaches " + options.listen +
                   ", so it is only for 127.0.0.1 or ::1; leave it out, or --listen");
  if (!options.proxies.empty())
    throw BadInput(
        "--open-door would let everybody in whom the proxy serves; leave out one of them");
  return role;
}

/// People must be able to set the service up, and to mend it if no builder can sign in any more.
net::Entrance entrance_of(const ServeOptions& options, const store::Store& store) {
  net::Entrance entrance;
  entrance.open_door = open_door_of(options);
  entrance.known = store.known();
  entrance.proxies = options.proxies;
  entrance.tls = !options.tls_key.empty();
  entrance.plain_carts = options.plain_carts;
  if (!entrance.open_door && (entrance.known.accounts.empty() || options.setup_code))
    entrance.setup_code = access::setup_code(net::Registry::random());
  return entrance;
}

/// On the console, once it listens. The log is read by fewer people than those who reach the page.
void say_how_to_come_in(const net::Entrance& entrance, const std::string& url) {
  if (entrance.open_door)
    spdlog::warn("the door is open: everybody on this machine is let in as a {}",
                 access::word(*entrance.open_door));
  if (!entrance.setup_code.empty())
    spdlog::warn(
        "setup code {}: with it a builder's account can be made at {}, once, until the "
        "service is started again",
        entrance.setup_code, url);
}

/// A service that runs faster than the wall has records that are ahead of it.
void warn_if_ahead(Duration ahead, int pace) {
  if (pace > 1 || ahead < std::chrono::minutes(1)) return;
  spdlog::warn(
      "the records are {} min ahead of this machine's clock: it was ahead before, or is behind "
      "now. The service goes on from the records; what is due, and planned downtimes, come so much "
      "too early. Set the clock, then leave the service off for as long, if that matters.",
      std::chrono::duration_cast<std::chrono::minutes>(ahead).count());
}

std::string url_of(const ServeOptions& options, std::uint16_t port) {
  const std::string& address = options.listen;
  const bool six = address.find(':') != std::string::npos;
  return (options.tls_key.empty() ? "http://" : "https://") +
         (six ? "[" + address + "]" : address) + ":" + std::to_string(port) + "/";
}

/// One run on the floor and fleet files as they are now. `port` is the one it listens on
/// afterwards.
net::Service::End serve_once(const ServeOptions& options, std::uint16_t& port) {
  const auto plant = load_plant(options.floor);
  const Fleet fleet = load_fleet_or_refuse(options.fleet, plant->floor);
  std::vector<std::string> names;
  std::vector<net::KnownCart> known;
  for (const FleetCart& cart : fleet) {
    names.push_back(cart.id);
    known.push_back({cart.id, cart.digest});
  }

  net::Network network;
  if (!options.tls_key.empty()) network.encrypt({options.tls_certificate, options.tls_key});
  port = network.listen(options.listen, port);

  store::Store store(options.data, plant->ways, names);
  const auto wall = std::chrono::time_point_cast<Duration>(std::chrono::system_clock::now());
  const store::Found found = store.load(wall);
  for (const std::string& note : found.notes) spdlog::warn("{}", note);
  const net::ServiceClock clock(found.latest, options.pace);
  warn_if_ahead(found.latest - wall, options.pace);
  const replay::Start start{names, control::Policy{}, found.restored, clock.now()};
  control::Core core(plant->track, start.cart_names, start.policy, start.restored, start.now);
  store.begin_run({TAGLINE_VERSION, plant->floor.name, floor::format_floor(plant->floor), start});
  StoreJournal journal(store, std::chrono::days(options.keep_days));
  StoreFigures figures(options.data);
  PlantOffice office({options.floor, options.fleet, options.data / "floor", "/proc/self/exe",
                      net::time_text(clock.now())});
  CartOffice carts(options.fleet, options.floor, fleet);

  const net::Entrance entrance = entrance_of(options, store);
  StorePast past(options.data);
  net::Service service({network,
                        plant->track,
                        core,
                        journal,
                        clock,
                        std::move(known),
                        options.web.empty() ? shipped_web() : options.web,
                        options.hosts,
                        TAGLINE_VERSION,
                        entrance,
                        {},
                        &figures,
                        &office,
                        &past,
                        &carts});
  service.end_on_signals();
  if (!options.port_file.empty()) write_port_file(options.port_file, port);
  if (!is_loopback(options.listen) && options.tls_key.empty())
    spdlog::warn(
        "listening on {}: what is said there can be read along the way; where that matters start "
        "it with --tls-certificate, or put a proxy with TLS before it (deploy/tagline.nginx)",
        options.listen);
  spdlog::info("{} floor \"{}\" ({}), {} carts, {} open jobs, data in {}, pace {}",
               url_of(options, port), plant->floor.name, options.floor.string(), fleet.size(),
               std::count_if(found.restored.jobs.begin(), found.restored.jobs.end(),
                             [](const control::Job& job) { return !control::is_final(job.state); }),
               options.data.string(), options.pace);
  say_how_to_come_in(entrance, url_of(options, port));
  const store::WholeCheck history(
      options.data, [](const std::string& damaged) { spdlog::critical("{}", damaged); });
  return service.run();
}

}  // namespace

int serve(const ServeOptions& options) try {
  (void)open_door_of(options);
  std::uint16_t port = options.port;
  auto end = serve_once(options, port);
  // All that a run has is let go and made anew, as if the program had been started again: what is
  // on disk counts, and nothing else.
  while (end == net::Service::End::begin_anew) end = serve_once(options, port);
  if (end == net::Service::End::core_failed) return exit_core_failed;
  spdlog::info("stopped; everything accepted is stored");
  return 0;
} catch (const net::ListenError& error) {
  throw BadInput(error.what());
} catch (const net::TlsError& error) {
  throw BadInput(error.what());
} catch (const store::StoreError& error) {
  throw BadInput(error.what());
} catch (const net::OfficeError& error) {
  throw BadInput(error.what());
}

}  // namespace tagline::app
