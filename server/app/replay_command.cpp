// See replay_command.hpp.
#include "server/app/replay_command.hpp"

#include <iostream>
#include <memory>
#include <vector>

#include "server/app/bad_input.hpp"
#include "server/app/event_text.hpp"
#include "server/app/inputs.hpp"
#include "server/app/print.hpp"
#include "server/app/state_text.hpp"
#include "server/net/json_view.hpp"
#include "server/net/time_text.hpp"
#include "server/replay/rerun.hpp"
#include "server/store/runs.hpp"
#include "server/store/store.hpp"

namespace tagline::app {
namespace {

constexpr int exit_differs = 3;

std::optional<Instant> moment(const std::string& option, const std::string& text) {
  if (text.empty()) return std::nullopt;
  const auto at = net::time_from(text);
  if (!at) {
    throw BadInput(option + " " + text +
                   ": this is no moment of RFC 3339, such as 2026-11-25T09:30:00Z");
  }
  return at;
}

/// Only the latest run can still be going on.
std::string ending_of(const store::RunInfo& info, bool latest) {
  if (info.ending) return *info.ending;
  return latest ? "running, or cut off" : "cut off";
}

void list(const std::vector<store::RunInfo>& runs, bool json) {
  if (!json) {
    std::cout << (runs.empty() ? "No run is in the journal yet.\n"
                               : "  run  from                      to                            "
                                 "events  floor, and how it ended\n");
  }
  for (const store::RunInfo& info : runs) {
    const std::string ending = ending_of(info, info.run == runs.back().run);
    const std::string from = net::time_text(info.began), until = net::time_text(info.until);
    if (json) {
      std::cout << "{\"run\":" << info.run << ",\"from\":\"" << from << "\",\"to\":\"" << until
                << "\",\"events\":" << info.events
                << ",\"floor\":" << net::json_quote(info.floor_name)
                << ",\"program\":" << net::json_quote(info.program)
                << ",\"ending\":" << (info.ending ? net::json_quote(ending) : "null") << "}\n";
    } else {
      std::cout << print("%5lld  %s  %s  %10llu  ", static_cast<long long>(info.run), from.c_str(),
                         until.c_str(), static_cast<unsigned long long>(info.events))
                << info.floor_name << "; " << ending << "\n";
    }
  }
}

/// Without a number: the run that was going on at the moment asked for, or the nearest to it of
/// which something can be shown.
const store::RunInfo& choose(const std::vector<store::RunInfo>& runs, const ReplayOptions& options,
                             std::optional<Instant> from, std::optional<Instant> until) {
  if (runs.empty()) throw BadInput("there is no run in the journal of " + options.data.string());
  if (options.run) {
    for (const store::RunInfo& info : runs)
      if (info.run == *options.run) return info;
    throw BadInput("--run " + std::to_string(*options.run) + ": there is no such run; those in " +
                   options.data.string() + " are " + std::to_string(runs.front().run) + " to " +
                   std::to_string(runs.back().run));
  }
  if (from) {
    for (const store::RunInfo& info : runs)
      if (info.until >= *from) return info;
    return runs.back();
  }
  for (std::size_t k = runs.size(); k-- > 0;)
    if (!until || runs[k].began <= *until) return runs[k];
  throw BadInput("the journal begins at " + net::time_text(runs.front().began) +
                 "; nothing is known from before");
}

/// One replay from the start of a run on.
class Replay {
 public:
  Replay(const store::Runs& runs, const store::RunInfo& info, const ReplayOptions& options)
      : runs_(runs),
        info_(info),
        json_(options.json),
        from_(moment("--from", options.from)),
        until_(moment("--until", options.until)) {
    const auto source = runs.source(info.run);
    if (!source) throw BadInput(name() + " was deleted meanwhile, because it is too old");
    source_ = *source;
    auto loaded = floor::parse_floor(source_.floor_document);
    if (!std::holds_alternative<floor::Floor>(loaded)) {
      throw BadInput(name() + ": its floor can't be read; the journal is damaged, or of another " +
                     "version than this program (it was written by " + info.program + ")");
    }
    plant_ = std::make_unique<const Plant>(std::get<floor::Floor>(std::move(loaded)));
    try {
      read_ = replay::start_from(source_.start, plant_->ways);
      rerun_ = std::make_unique<replay::Rerun>(plant_->track, read_.start);
    } catch (const std::exception& error) {
      throw BadInput(name() + ": what it began from can't be used: " + error.what());
    }
  }

  int run() {
    if (!json_) tell_what_is_replayed();
    const bool same = feed();
    if (same && until_) {
      if (json_) {
        std::cout << state_json(rerun_->core(), plant_->track, rerun_->now()) << "\n";
      } else {
        std::cout << "How things stood at " << net::time_text(std::min(*until_, info_.until))
                  << ":\n"
                  << state_text(rerun_->core(), plant_->track);
      }
    }
    if (same) tell_that_all_is_same();
    return same ? 0 : exit_differs;
  }

 private:
  [[nodiscard]] std::string name() const { return "run " + std::to_string(info_.run); }

  void tell_what_is_replayed() const {
    std::cout << "Run " << info_.run << " on \"" << info_.floor_name << "\", "
              << read_.start.cart_names.size() << " carts, from " << net::time_text(info_.began)
              << " to " << net::time_text(info_.until) << ", " << info_.events << " events.\n";
    if (info_.program != TAGLINE_VERSION) {
      std::cout << "It was written by version " << info_.program << "; this is " << TAGLINE_VERSION
                << ", which may decide differently.\n";
    }
    if (!info_.ending) {
      std::cout << "How it ended is not written: it was cut off, or goes on. Then the last 0.3 s "
                   "of it may be missing, and ticks and reports of which nothing came for up to "
                   "10 s.\n";
    } else {
      std::cout << "It ended: " << *info_.ending << ".\n";
    }
    if (until_ && *until_ > info_.until)
      std::cout << "It goes no further than " << net::time_text(info_.until) << ".\n";
  }

  /// Replays up to the moment asked for. False if something came out differently, which is told.
  bool feed() {
    const EventText text(plant_->ways, read_.start.cart_names);
    const replay::EventReader reader(
        read_.layout, replay::limits_of(plant_->ways, read_.start.cart_names.size()));
    for (std::int64_t next = source_.first_block;;) {
      const auto blocks = runs_.blocks(source_, next);
      if (blocks.empty()) return true;
      for (const store::KeptBlock& block : blocks) {
        next = block.block + 1;
        if (block.first != seq_ + 1) {
          throw BadInput(name() + ": its events " + std::to_string(seq_ + 1) + " to " +
                         std::to_string(block.first - 1) +
                         " are missing; the journal is damaged. It can be replayed until " +
                         net::time_text(rerun_->now()));
        }
        replay::BlockRead read;
        try {
          read = replay::read_block(block.events, block.begins, reader);
        } catch (const replay::BadBytes& error) {
          throw BadInput(name() + ": its events from number " + std::to_string(block.first) + " (" +
                         net::time_text(block.begins) + ") on can't be read: " + error.what());
        }
        for (const replay::Entry& entry : read.entries) {
          if (until_ && entry.at > *until_) return true;
          if (!feed(entry, text)) return false;
        }
        if (!rerun_->block_ends(read.chain)) {
          differs("One of the events " + std::to_string(block.first) + " to " +
                  std::to_string(seq_) + " came out differently, before " +
                  net::time_text(rerun_->now()) + ".");
          return false;
        }
      }
    }
  }

  bool feed(const replay::Entry& entry, const EventText& text) {
    ++seq_;
    const replay::Retold retold = rerun_->feed(entry);
    std::vector<std::string> effects = text.effects(retold.outcome);
    if (retold.broke) effects.push_back("the core broke: " + *retold.broke);
    if (!retold.same || (from_ && entry.at >= *from_)) show(entry, effects, text);
    if (retold.same) return true;
    differs("Event " + std::to_string(seq_) + " at " + net::time_text(entry.at) +
            " came out differently from what was written down; all before it came out the same. " +
            "What comes of it now is shown above.");
    return false;
  }

  void show(const replay::Entry& entry, const std::vector<std::string>& effects,
            const EventText& text) const {
    std::string all;
    if (json_) {
      for (const std::string& effect : effects)
        all += (all.empty() ? "" : ",") + net::json_quote(effect);
      std::cout << "{\"seq\":" << seq_ << ",\"at\":\"" << net::time_text(entry.at)
                << "\",\"event\":" << text.event_json(entry.event) << ",\"effects\":[" << all
                << "]}\n";
    } else {
      for (const std::string& effect : effects) all += (all.empty() ? " -> " : "; ") + effect;
      std::cout << seq_ << " " << net::time_text(entry.at) << " " << text.event(entry.event) << all
                << "\n";
    }
  }

  void differs(const std::string& what) const {
    if (json_) {
      std::cout << "{\"run\":" << info_.run << ",\"events\":" << seq_
                << ",\"same\":false,\"difference\":" << net::json_quote(what) << "}\n";
    } else {
      std::cout << what << "\n";
    }
  }

  void tell_that_all_is_same() const {
    if (json_) {
      std::cout << "{\"run\":" << info_.run << ",\"events\":" << seq_ << ",\"same\":true}\n";
    } else {
      std::cout << "All that came of the " << seq_
                << " events replayed is the same as was written down.\n";
    }
  }

  const store::Runs& runs_;
  store::RunInfo info_;
  bool json_;
  std::optional<Instant> from_, until_;
  store::Runs::Source source_;
  std::unique_ptr<const Plant> plant_;
  replay::StartRead read_;
  std::unique_ptr<replay::Rerun> rerun_;
  std::uint64_t seq_{0};  // number of the event fed last
};

}  // namespace

int replay(const ReplayOptions& options) try {
  const auto from = moment("--from", options.from), until = moment("--until", options.until);
  if (from && until && *from > *until) throw BadInput("--from is later than --until");
  const store::Runs runs(options.data);
  const auto all = runs.list();
  if (!options.run && !from && !until) {
    list(all, options.json);
    return 0;
  }
  const store::RunInfo& info = choose(all, options, from, until);
  if (until && *until < info.began) {
    throw BadInput("--until " + options.until + ": run " + std::to_string(info.run) +
                   " began later, at " + net::time_text(info.began));
  }
  return Replay(runs, info, options).run();
} catch (const store::StoreError& error) {
  throw BadInput(error.what());
}

}  // namespace tagline::app
