// See figure_view.hpp.
#include "server/net/figure_view.hpp"

#include <algorithm>
#include <array>

#include "server/net/csv.hpp"
#include "server/net/json_view.hpp"
#include "server/net/time_text.hpp"

namespace tagline::net {
namespace {

/// Late jobs in the JSON text; the table of them as CSV has all.
constexpr std::size_t late_jobs_told = 200;

/// Whole seconds, rounded to the nearest.
std::int64_t seconds(Duration time) { return (time.count() + 500) / 1'000; }

std::string quoted(Instant at) { return json_quote(time_text(at)); }

std::string quoted_or_null(const std::optional<Instant>& at) { return at ? quoted(*at) : "null"; }

std::string lead_json(const std::optional<figures::Lead>& lead) {
  if (!lead) return "null";
  return "{\"median\":" + std::to_string(seconds(lead->median)) +
         ",\"p90\":" + std::to_string(seconds(lead->ninth_decile)) + "}";
}

std::string number(std::string_view name, std::int64_t value) {
  return ",\"" + std::string(name) + "\":" + std::to_string(value);
}

/// "[...]" of what `one` makes of each.
template <class Items, class One>
std::string list(const Items& items, One one) {
  std::string out;
  for (const auto& item : items) out += (out.empty() ? "" : ",") + one(item);
  return "[" + out + "]";
}

std::string due_json(const figures::DueJobs& due) {
  const auto as_number = [](std::size_t count) { return static_cast<std::int64_t>(count); };
  return "{\"jobs\":" + std::to_string(due.jobs) + number("on_time", as_number(due.on_time)) +
         number("late", as_number(due.late)) + number("overdue", as_number(due.overdue)) +
         number("to_come", as_number(due.to_come)) +
         number("ended_otherwise", as_number(due.ended_otherwise)) + "}";
}

std::string late_json(const figures::LateJob& one) {
  return "{\"id\":" + std::to_string(one.job.id) + ",\"from\":" + json_quote(one.job.from) +
         ",\"to\":" + json_quote(one.job.to) + ",\"due\":" + quoted_or_null(one.job.due) +
         ",\"delivered\":" + quoted_or_null(one.job.ended_at) +
         number("late_s", seconds(one.late)) + "}";
}

std::string cart_json(const figures::CartRow& row) {
  std::string out = "{\"cart\":" + json_quote(row.cart);
  for (const figures::Use use : figures::all_uses)
    out += number(std::string(figures::word(use)) + "_s",
                  seconds(row.time[static_cast<std::size_t>(use)]));
  return out + "}";
}

std::string hours_csv(const figures::Report& report) {
  CsvTable table({"hour_from", "delivered", "lead_median_s", "lead_p90_s"});
  for (const figures::Hour& hour : report.hours) {
    const auto lead = [&](Duration figures::Lead::*which) {
      return hour.lead ? std::to_string(seconds((*hour.lead).*which)) : std::string();
    };
    table.row(time_text(hour.from), hour.delivered, lead(&figures::Lead::median),
              lead(&figures::Lead::ninth_decile));
  }
  return table.text();
}

std::string late_csv(const figures::Report& report) {
  CsvTable table({"job", "from", "to", "due", "delivered", "late_s"});
  for (const figures::LateJob& one : report.late)
    table.row(one.job.id, one.job.from, one.job.to, time_text(*one.job.due),
              one.job.ended_at ? time_text(*one.job.ended_at) : std::string(), seconds(one.late));
  return table.text();
}

std::string carts_csv(const figures::Report& report) {
  CsvTable table({"cart", "moving_s", "waiting_s", "handling_s", "charging_s", "idle_s", "out_s"});
  for (const figures::CartRow& row : report.carts) {
    const auto s = [&](figures::Use use) {
      return seconds(row.time[static_cast<std::size_t>(use)]);
    };
    using figures::Use;
    table.row(row.cart, s(Use::moving), s(Use::waiting), s(Use::handling), s(Use::charging),
              s(Use::idle), s(Use::out));
  }
  return table.text();
}

std::string merges_csv(const figures::Report& report) {
  CsvTable table({"point", "waits", "waited_s"});
  for (const figures::MergeRow& row : report.merges)
    table.row(row.point, row.waits, seconds(row.time));
  return table.text();
}

std::string tags_csv(const figures::Report& report) {
  CsvTable table({"point", "read", "missed"});
  for (const figures::TagRow& row : report.tags) table.row(row.point, row.read, row.missed);
  return table.text();
}

using MakeTable = std::string (*)(const figures::Report&);
constexpr std::array<std::pair<std::string_view, MakeTable>, 5> tables{{{"hours", hours_csv},
                                                                        {"late", late_csv},
                                                                        {"carts", carts_csv},
                                                                        {"merges", merges_csv},
                                                                        {"tags", tags_csv}}};

}  // namespace

std::string figures_json(const figures::Report& report) {
  const std::size_t told = std::min(report.late.size(), late_jobs_told);
  const std::vector<figures::LateJob> late(report.late.begin(),
                                           report.late.begin() + static_cast<std::ptrdiff_t>(told));
  return "{\"from\":" + quoted(report.range.from) + ",\"to\":" + quoted(report.range.to) +
         ",\"time\":" + quoted(report.now) +
         ",\"kept_since\":" + quoted_or_null(report.kept_since) +
         ",\"delivered\":" + std::to_string(report.delivered) +
         ",\"lead_s\":" + lead_json(report.lead) + ",\"hours\":" +
         list(report.hours,
              [](const figures::Hour& hour) {
                return "{\"from\":" + quoted(hour.from) +
                       ",\"delivered\":" + std::to_string(hour.delivered) +
                       ",\"lead_s\":" + lead_json(hour.lead) + "}";
              }) +
         ",\"due\":" + due_json(report.due) + ",\"late_jobs\":" + list(late, late_json) +
         ",\"carts\":" + list(report.carts, cart_json) + ",\"merges\":" +
         list(report.merges,
              [](const figures::MergeRow& row) {
                return "{\"point\":" + json_quote(row.point) + number("waits", row.waits) +
                       number("waited_s", seconds(row.time)) + "}";
              }) +
         ",\"tags\":" +
         list(report.tags,
              [](const figures::TagRow& row) {
                return "{\"point\":" + json_quote(row.point) + number("read", row.read) +
                       number("missed", row.missed) + "}";
              }) +
         "}";
}

bool is_figure_table(std::string_view table) {
  return std::ranges::find(tables, table, &std::pair<std::string_view, MakeTable>::first) !=
         tables.end();
}

std::optional<std::string> figures_csv(const figures::Report& report, std::string_view table) {
  for (const auto& [name, make] : tables)
    if (name == table) return make(report);
  return std::nullopt;
}

}  // namespace tagline::net
