// The wishes, and the thread that reads for them.
#include "server/net/figure_desk.hpp"

#include <spdlog/spdlog.h>
#include <sys/resource.h>
#include <unistd.h>

#include <exception>
#include <optional>
#include <utility>
#include <variant>

#include "server/net/figure_view.hpp"
#include "server/net/registry.hpp"
#include "server/net/time_text.hpp"

namespace tagline::net {
namespace {

/// Behind all else; a day's figures take some ms.
constexpr int behind_all = 19;
constexpr std::string_view csv_ending = ".csv";

Response bad_range(std::string_view detail) {
  return problem(400, "invalid_query", "The query can't be understood", detail);
}

/// The last 24 hours, to the end of this quarter, unless it is said which.
std::variant<figures::Range, Response> range_of(const Target& target, Instant now) {
  for (const auto& [name, value] : target.query)
    if (name != "from" && name != "to") return bad_range("The parameters are from and to.");
  const auto from = target.parameter("from"), to = target.parameter("to");
  const Instant end = figures::quarter_of(now) + figures::quarter;
  if (!from && !to) return figures::Range{end - std::chrono::days{1}, end};
  if (!from || !to) return bad_range("from and to belong together.");
  const auto first = time_from(*from), last = time_from(*to);
  if (!first || !last || figures::quarter_of(*first) != *first ||
      figures::quarter_of(*last) != *last)
    return bad_range(
        "from and to are times of RFC 3339 at full quarters of an hour, such as "
        "2026-11-26T00:00:00Z.");
  if (*first >= *last || *last - *first > figures::longest_range)
    return bad_range("from is before to, by 31 days at most.");
  return figures::Range{*first, *last};
}

/// The table that is asked for, "" for all; nothing if there is no such thing.
std::optional<std::string> table_of(const Target& target) {
  if (target.pieces.size() == 2) return "";
  std::string name = target.pieces[2];
  if (!name.ends_with(csv_ending)) return std::nullopt;
  name.resize(name.size() - csv_ending.size());
  if (!is_figure_table(name)) return std::nullopt;
  return name;
}

Response csv_response(std::string text, const std::string& table, const figures::Range& range) {
  Response response;
  response.content_type = "text/csv; charset=utf-8";
  response.headers.emplace_back("Content-Disposition",
                                "attachment; filename=\"tagline-" + table + "-" +
                                    time_text(range.from).substr(0, 10) + ".csv\"");
  response.body = std::make_shared<const std::string>(std::move(text));
  return response;
}

}  // namespace

FigureDesk::FigureDesk(Setup setup) : setup_(std::move(setup)), thread_([this] { run(); }) {}

FigureDesk::~FigureDesk() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    wake_.notify_one();
  }
  thread_.join();
}

void FigureDesk::figures(const Request& request, const Target& target, Respond respond) {
  if (request.method != "GET" && request.method != "HEAD")
    return respond(method_not_allowed(request.method, "GET, HEAD"));
  auto table = table_of(target);
  if (!table)
    return respond(not_found(
        "The figures are at /api/figures, and as tables at hours.csv, late.csv, carts.csv, "
        "merges.csv and tags.csv below."));
  auto range = range_of(target, setup_.clock.now());
  if (auto* wrong = std::get_if<Response>(&range)) return respond(std::move(*wrong));
  std::unique_lock lock(mutex_);
  if (wishes_.size() >= most_waiting) {
    lock.unlock();
    return respond(Registry::too_often());
  }
  wishes_.push_back({std::get<figures::Range>(range), std::move(*table), std::move(respond)});
  wake_.notify_one();
}

Response FigureDesk::answer(const Wish& wish) const {
  if (!setup_.source)
    return problem(503, "store_failed", "Nothing can be read now", "There is no record.");
  try {
    const figures::Report report =
        figures::report_of(setup_.source->read(wish.range), wish.range, setup_.clock.now());
    if (wish.table.empty()) return json_response(200, figures_json(report));
    return csv_response(*figures_csv(report, wish.table), wish.table, wish.range);
  } catch (const AskedTooMuch& error) {
    return problem(422, "not_possible", "That is more than can be read at once", error.what());
  } catch (const std::exception& error) {
    spdlog::error("the figures can't be read: {}", error.what());
    return problem(503, "store_failed", "The record can't be read now",
                   "Try again in a while; the service's log says what is wrong.");
  }
}

void FigureDesk::run() {
  // On Linux a priority is a thread's. If it can't be lowered it works all the same.
  (void)setpriority(PRIO_PROCESS, static_cast<id_t>(gettid()), behind_all);
  std::unique_lock lock(mutex_);
  for (;;) {
    wake_.wait(lock, [this] { return stopping_ || !wishes_.empty(); });
    if (stopping_) return;
    Wish wish = std::move(wishes_.front());
    wishes_.pop_front();
    lock.unlock();
    setup_.post(
        [respond = std::move(wish.respond), response = answer(wish)] { respond(response); });
    lock.lock();
  }
}

}  // namespace tagline::net
