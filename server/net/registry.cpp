// The book's changes on their way to the disk.
#include "server/net/registry.hpp"

#include <sys/random.h>

#include <algorithm>
#include <stdexcept>
#include <utility>

namespace tagline::net {

Registry::Registry(Setup setup, const Entrance& entrance)
    : book(entrance.known), passwords(entrance.cost, setup.post), setup_(std::move(setup)) {
  book.device_key(random());
  commit_behind();
}

access::RandomBytes Registry::random() {
  access::RandomBytes bytes{};
  if (getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size()))
    throw std::runtime_error("the system gives no random bytes");
  return bytes;
}

access::Salt Registry::new_salt() {
  const access::RandomBytes bytes = random();
  access::Salt salt{};
  std::copy_n(bytes.begin(), salt.size(), salt.begin());
  return salt;
}

void Registry::commit(Respond respond, Response good) {
  setup_.keeper.keep(book.take_changes(), [this, respond = std::move(respond),
                                           good = std::move(good)](bool stored) {
    setup_.post([respond, good, stored] { respond(stored ? good : store_failed()); });
  });
  setup_.changed();
}

void Registry::commit_behind() {
  auto changes = book.take_changes();
  if (!changes.empty()) setup_.keeper.keep(std::move(changes), {});
}

void Registry::note(std::string who, std::string_view what, const std::string& about,
                    const Request& request, const Response& response) {
  access::AuditEntry entry;
  entry.at = now();
  entry.who = std::move(who);
  entry.what = what;
  entry.about = response.about.empty() ? about : response.about;
  entry.from_address = request.address;
  entry.outcome = response.problem.empty() ? "done" : "refused: " + response.problem;
  setup_.keeper.keep({entry}, {});
}

void Registry::read_audit(std::size_t limit, std::optional<std::uint64_t> before,
                          std::function<void(AccessKeeper::Entries)> done) {
  setup_.keeper.read_audit(limit, before,
                           [this, done = std::move(done)](AccessKeeper::Entries entries) {
                             setup_.post([done, entries = std::move(entries)] { done(entries); });
                           });
}

Response Registry::too_often(std::chrono::seconds wait) {
  const std::string seconds = std::to_string(wait.count());
  Response response = problem(429, "too_often", "That was tried too often",
                              "Wait " + seconds + " s, then try again.");
  response.headers.emplace_back("Retry-After", seconds);
  return response;
}

}  // namespace tagline::net
