// See store_past.hpp.
#include "server/app/store_past.hpp"

#include "server/net/board_model.hpp"
#include "server/net/json_view.hpp"
#include "server/net/time_text.hpp"
#include "server/net/views.hpp"

namespace tagline::app {
namespace {

using Steady = std::chrono::steady_clock;

/// Who was told to wait comes back sooner, or no more.
constexpr auto comes_back_within = std::chrono::seconds{10};
/// Of an answer; who wants more asks on from where it ends.
constexpr std::size_t most_bytes = 2u << 20;

std::string span_json(const store::RunInfo& info) {
  return "{\"run\":" + std::to_string(info.run) + ",\"from\":\"" + net::time_text(info.began) +
         "\",\"to\":\"" + net::time_text(info.until) +
         "\",\"floor\":" + net::json_quote(info.floor_name) +
         ",\"ending\":" + (info.ending ? net::json_quote(*info.ending) : "null") + "}";
}

/// The run that was going on then, or had ended last.
const store::RunInfo& run_at(const std::vector<store::RunInfo>& all, Instant at) {
  for (std::size_t k = all.size(); k-- > 0;)
    if (all[k].began <= at) return all[k];
  throw net::PastUnknown(all.empty()
                             ? "Nothing is in the journal yet."
                             : "The journal begins at " + net::time_text(all.front().began) +
                                   "; nothing is known from before.");
}

/// The first board whole, each next one as what has changed since the one before.
class Told {
 public:
  explicit Told(const PastRun& run)
      : run_(run),
        model_(run.track(), run.cart_names(), run.core().live_limit(), 1,
               "past-" + std::to_string(run.run())) {}

  void add(Instant at) {
    model_.apply(net::view_of_everything(run_.core(), run_.track().floor().stations.size(), true));
    std::string text;
    if (const auto change = model_.next_change(at); text_.empty()) {
      text = model_.snapshot(at);
    } else {
      text = change ? *change : "{\"type\":\"time\",\"time\":\"" + net::time_text(at) + "\"}";
    }
    text_ += (text_.empty() ? "" : ",") + text;
    last_ = at;
  }
  [[nodiscard]] const std::string& text() const { return text_; }
  [[nodiscard]] Instant last() const { return last_; }

 private:
  const PastRun& run_;
  net::BoardModel model_;
  std::string text_;
  Instant last_;
};

}  // namespace

const store::Runs& StorePast::runs() {
  if (!runs_) runs_ = std::make_unique<store::Runs>(folder_);
  return *runs_;
}

void StorePast::rest() {
  run_.reset();
  runs_.reset();
  under_way_.reset();
}

PastRun& StorePast::at_run(std::int64_t run) {
  if (run_ && run_->run() == run) return *run_;
  if (under_way_ && under_way_->run != run && Steady::now() - under_way_->asked < comes_back_within)
    throw net::PastNotYet("Somebody else looks at another run. Ask again in a second.");
  under_way_.reset();
  run_.reset();
  run_ = std::make_unique<PastRun>(runs(), run);
  return *run_;
}

std::string StorePast::spans() {
  std::string list;
  for (const store::RunInfo& info : runs().list())
    list += (list.empty() ? "" : ",") + span_json(info);
  return "{\"runs\":[" + list + "]}";
}

std::string StorePast::boards(const net::PastAsked& asked, const GiveUp& give_up) {
  const auto all = runs().list();
  const store::RunInfo& info = run_at(all, asked.from);
  PastRun& run = at_run(info.run);
  if (!run.go_to(asked.from, give_up)) {
    under_way_ = {info.run, Steady::now()};
    throw net::PastNotYet("It has been worked out until " + net::time_text(run.now()) + " of " +
                          net::time_text(asked.from) + ". Ask again.");
  }
  under_way_.reset();
  Told told(run);
  told.add(asked.from);
  for (Instant at = asked.from + asked.step; at <= asked.to && at <= info.until; at += asked.step) {
    if (told.text().size() > most_bytes) break;
    if (!run.go_to(at, give_up) || give_up()) {
      // With one board nobody could ask on from the last.
      if (told.last() == asked.from)
        throw net::PastNotYet("It has been worked out until " + net::time_text(run.now()) +
                              ". Ask again.");
      break;
    }
    told.add(at);
  }
  const auto& alarms = run.alarms();
  const net::JsonView view(run.track(), run.cart_names());
  return "{\"span\":" + span_json(info) + ",\"until\":\"" + net::time_text(told.last()) +
         "\",\"messages\":[" + told.text() +
         "],\"alarms\":" + view.alarms({alarms.begin(), alarms.end()}) + ",\"alarms_until\":\"" +
         net::time_text(run.alarms_until()) + "\"}";
}

std::string StorePast::floor(std::int64_t run) {
  const PastRun& there = at_run(run);
  const auto& stations = there.track().floor().stations;
  std::vector<std::optional<int>> loads;
  for (std::uint32_t k = 0; k < stations.size(); ++k)
    loads.push_back(there.core().loads_at(StationIx{k}));
  return net::JsonView(there.track(), there.cart_names())
      .floor(1, there.core().live_limit(), loads);
}

}  // namespace tagline::app
