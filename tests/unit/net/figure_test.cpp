// The figures' desk and its texts: ranges, limits, JSON, CSV.
#include <gmock/gmock.h>

#include <condition_variable>
#include <mutex>
#include <nlohmann/json.hpp>

#include "server/net/csv.hpp"
#include "server/net/figure_desk.hpp"
#include "server/net/figure_view.hpp"

namespace tagline::net::test {
namespace {

using nlohmann::json;
using testing::ElementsAre;
using testing::HasSubstr;

TEST(Csv, QuotesWhatMustBe) {
  EXPECT_EQ(csv_field("Drying"), "Drying");
  EXPECT_EQ(csv_field(""), "");
  EXPECT_EQ(csv_field("Kilns, north"), "\"Kilns, north\"");
  EXPECT_EQ(csv_field("the \"old\" kiln"), "\"the \"\"old\"\" kiln\"");
  EXPECT_EQ(csv_field("two\nlines"), "\"two\nlines\"");
}

TEST(Csv, NothingIsAFormula) {
  for (const char* text : {"=1+1", "+1", "-1", "@x", "\tx"})
    EXPECT_EQ(csv_field(text), "'" + std::string(text));
  EXPECT_EQ(csv_field("=HYPERLINK(\"x\",1)"), "\"'=HYPERLINK(\"\"x\"\",1)\"");
  EXPECT_EQ(csv_field("\r=1"), "\"'\r=1\"");
  EXPECT_EQ(csv_field("a-1"), "a-1");
}

TEST(Csv, LinesEndWithCrLf) {
  CsvTable table({"a", "b"});
  table.row("=x", 12);
  EXPECT_EQ(table.text(), "a,b\r\n'=x,12\r\n");
}

Instant at(std::int64_t ms) { return Instant{Duration{1'800'000'000'000 + ms}}; }

figures::Report some_report() {
  figures::Rows rows;
  rows.delivered = {{3, "=CAST", "DRY", control::JobState::delivered, at(0), {}, at(90'500)}};
  rows.due = {{3, "=CAST", "DRY", control::JobState::delivered, at(0), at(60'000), at(90'500)}};
  figures::CartRow cart{"cart-1", {}};
  cart.time[1] = Duration{61'000};
  rows.carts = {cart};
  rows.merges = {{"P3", 2, Duration{61'000}}};
  rows.tags = {{"P3", 8, 2}};
  rows.kept_since = at(0);
  return figures::report_of(rows, {at(0), at(2 * 3'600'000)}, at(100'000));
}

TEST(FigureView, JsonHasAll) {
  const json shown = json::parse(figures_json(some_report()));
  EXPECT_EQ(shown.at("from"), "2027-01-15T08:00:00.000Z");
  EXPECT_EQ(shown.at("delivered"), 1);
  EXPECT_EQ(shown.at("lead_s"), (json{{"median", 91}, {"p90", 91}})) << "90.5 s";
  EXPECT_EQ(shown.at("hours").size(), 2u);
  EXPECT_TRUE(shown.at("hours").at(1).at("lead_s").is_null());
  EXPECT_EQ(shown.at("due").at("late"), 1);
  EXPECT_EQ(shown.at("late_jobs").at(0).at("late_s"), 31);
  EXPECT_EQ(shown.at("carts").at(0).at("waiting_s"), 61);
  EXPECT_EQ(shown.at("merges").at(0), (json{{"point", "P3"}, {"waits", 2}, {"waited_s", 61}}));
  EXPECT_EQ(shown.at("tags").at(0), (json{{"point", "P3"}, {"read", 8}, {"missed", 2}}));
}

TEST(FigureView, EachTableIsCsv) {
  const figures::Report report = some_report();
  EXPECT_EQ(*figures_csv(report, "hours"),
            "hour_from,delivered,lead_median_s,lead_p90_s\r\n2027-01-15T08:00:00.000Z,1,91,91\r\n"
            "2027-01-15T09:00:00.000Z,0,,\r\n");
  EXPECT_EQ(*figures_csv(report, "late"),
            "job,from,to,due,delivered,late_s\r\n3,'=CAST,DRY,2027-01-15T08:01:00.000Z,"
            "2027-01-15T08:01:30.500Z,31\r\n");
  EXPECT_EQ(
      *figures_csv(report, "carts"),
      "cart,moving_s,waiting_s,handling_s,charging_s,idle_s,out_s\r\ncart-1,0,61,0,0,0,0\r\n");
  EXPECT_EQ(*figures_csv(report, "merges"), "point,waits,waited_s\r\nP3,2,61\r\n");
  EXPECT_EQ(*figures_csv(report, "tags"), "point,read,missed\r\nP3,8,2\r\n");
  EXPECT_FALSE(figures_csv(report, "people"));
}

/// Keeps what it is asked; waits before each answer until it is let.
class SlowSource : public FigureSource {
 public:
  figures::Rows read(const figures::Range& range) override {
    std::unique_lock lock(mutex_);
    asked.push_back(range);
    wake_.notify_all();
    wake_.wait(lock, [this] { return open_; });
    if (too_much) throw AskedTooMuch("Ask for fewer days.");
    if (broken) throw std::runtime_error("disk I/O error");
    return {};
  }
  void let() {
    const std::lock_guard lock(mutex_);
    open_ = true;
    wake_.notify_all();
  }
  void wait_until_asked() {
    std::unique_lock lock(mutex_);
    wake_.wait(lock, [this] { return !asked.empty(); });
  }
  std::vector<figures::Range> asked;
  bool too_much{false}, broken{false};

 private:
  std::mutex mutex_;
  std::condition_variable wake_;
  bool open_{false};
};

class FigureDeskTest : public testing::Test {
 protected:
  /// The answer, or nothing within some seconds.
  Response ask(const std::string& target, const std::string& method = "GET") {
    begin(target, method);
    std::unique_lock lock(mutex_);
    if (!wake_.wait_for(lock, std::chrono::seconds(10), [this] { return !answers_.empty(); }))
      return {};
    Response answer = answers_.front();
    answers_.erase(answers_.begin());
    return answer;
  }
  void begin(const std::string& target, const std::string& method = "GET") {
    Request request;
    request.method = method;
    request.target = target;
    desk_.figures(request, *parse_target(target), [this](Response response) {
      const std::lock_guard lock(mutex_);
      answers_.push_back(std::move(response));
      wake_.notify_all();
    });
  }
  std::vector<int> statuses() {
    const std::lock_guard lock(mutex_);
    std::vector<int> all;
    for (const Response& one : answers_) all.push_back(one.status);
    return all;
  }

  std::mutex mutex_;
  std::condition_variable wake_;
  std::vector<Response> answers_;
  SlowSource source_;
  const ServiceClock clock_{at(0), 1};
  FigureDesk desk_{{&source_, clock_, [](const std::function<void()>& task) { task(); }}};
};

TEST_F(FigureDeskTest, ADayIsReadAndTheLastOneUnlessItIsSaid) {
  source_.let();
  EXPECT_EQ(
      ask("/api/figures?from=2026-11-26T00:00:00%2B01:00&to=2026-11-27T00:00:00%2B01:00").status,
      200);
  const Response last = ask("/api/figures");
  EXPECT_EQ(last.status, 200);
  EXPECT_EQ(json::parse(*last.body).at("delivered"), 0);
  ASSERT_EQ(source_.asked.size(), 2u);
  EXPECT_EQ(source_.asked[0].to - source_.asked[0].from, Duration{std::chrono::days{1}});
  EXPECT_EQ(source_.asked[1].to - source_.asked[1].from, Duration{std::chrono::days{1}});
  EXPECT_GT(source_.asked[1].to, clock_.now()) << "what is under way is in it";
}

TEST_F(FigureDeskTest, ATableComesAsAFile) {
  source_.let();
  const Response table =
      ask("/api/figures/tags.csv?from=2026-11-26T00:00:00Z&to=2026-11-27T00:00:00Z");
  EXPECT_EQ(table.status, 200);
  EXPECT_EQ(table.content_type, "text/csv; charset=utf-8");
  EXPECT_EQ(*table.body, "point,read,missed\r\n");
  ASSERT_EQ(table.headers.size(), 1u);
  EXPECT_EQ(table.headers[0].second, "attachment; filename=\"tagline-tags-2026-11-26.csv\"");
}

TEST_F(FigureDeskTest, WhatCannotBeMeantIsRefused) {
  source_.let();
  const std::pair<const char*, int> wishes[] = {
      {"?from=2026-11-26T00:00:00Z", 400},
      {"?from=2026-11-26T00:00:00Z&to=2026-11-26T00:00:00Z", 400},
      {"?from=2026-11-26T00:00:00Z&to=2026-11-26T00:10:00Z", 400},
      {"?from=2026-11-26T00:00:00Z&to=2026-12-28T00:00:00Z", 400},
      {"?from=today&to=tomorrow", 400},
      {"?days=3", 400},
      {"/people.csv", 404},
      {"/hours", 404},
      {"/hours.csv.csv", 404}};
  for (const auto& [wish, status] : wishes)
    EXPECT_EQ(ask("/api/figures" + std::string(wish)).status, status) << wish;
  EXPECT_EQ(ask("/api/figures", "POST").status, 405);
  EXPECT_TRUE(source_.asked.empty());
}

TEST_F(FigureDeskTest, MoreThanCanWaitAreAskedToComeAgain) {
  begin("/api/figures");
  source_.wait_until_asked();
  for (std::size_t k = 0; k < FigureDesk::most_waiting; ++k) begin("/api/figures");
  EXPECT_TRUE(statuses().empty());
  begin("/api/figures");
  EXPECT_THAT(statuses(), ElementsAre(429));
  source_.let();
}

TEST_F(FigureDeskTest, WhatCannotBeReadIsSaid) {
  source_.let();
  source_.too_much = true;
  const Response much = ask("/api/figures");
  EXPECT_EQ(much.status, 422);
  EXPECT_THAT(*much.body, HasSubstr("Ask for fewer days."));
  source_.too_much = false;
  source_.broken = true;
  EXPECT_EQ(ask("/api/figures").status, 503);
}

}  // namespace
}  // namespace tagline::net::test
