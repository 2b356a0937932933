// Explores everything that can happen to the whole core, its planner and its dispatcher, breadth
// first, up to all states there are or to a bound. States that differ only in times are taken as
// one (Core::fingerprint says how far).
//
// In each state: no two bodies could touch (I1), nor with all the authority that is out there (I1,
// I2, I4), every cart's own table lies on track that the core holds for it (I2, I3), and nothing
// went against the rules on the way there (I6, I7; the core itself throws if I1, I2 or I5 is
// broken). Once all states are known:
//   - from each the end can be reached (all jobs delivered once, all carts at rest) without any
//     further disturbance;
//   - once disturbances are over, carts can't go on driving without end: no circle of states goes
//     over a read or a handling.
// Both together: whatever has happened, and in whatever order things go on, all jobs are finished
// once people and links have done their part. Where the bound came first, and in any case from
// every so-manieth state, a fair continuation is really run instead.
#pragma once

#include <cstdio>
#include <deque>
#include <string>
#include <unordered_map>
#include <vector>

#include "tests/property/core_world.hpp"

namespace tagline::test {

struct CoreFindings {
  bool exhausted{true};
  std::size_t states{0};
  std::size_t transitions{0};
  std::size_t ends{0};        // states in which all is done
  std::size_t contacts{0};    // I1
  std::size_t overlaps{0};    // I1, I2, I4
  std::size_t unheld{0};      // I2, I3
  std::size_t broken{0};      // the core's own assertions
  std::size_t unruly{0};      // I6, I7, messages that make no sense
  std::size_t stuck{0};       // states from which the end can't be reached
  std::size_t circles{0};     // sets of states in which carts could drive round for ever
  std::size_t continued{0};   // states from which a fair continuation was run
  std::size_t unfinished{0};  // of these, not all jobs were finished
  std::string first;          // the first thing that was wrong

  [[nodiscard]] std::size_t wrong() const {
    return contacts + overlaps + unheld + broken + unruly + stuck + circles + unfinished;
  }
};

class CoreExplorer {
 public:
  CoreExplorer(const floor::Track& track, const floor::Track& truth, const WorldPlan& plan,
               std::size_t most_states, std::size_t continue_every)
      : track_(track),
        truth_(truth),
        plan_(plan),
        most_states_(most_states),
        continue_every_(continue_every) {}

  CoreFindings run() {
    std::deque<std::pair<std::size_t, World>> todo;
    World begin(track_, truth_, plan_);
    enter(begin);
    todo.emplace_back(0, begin);
    while (!todo.empty()) {
      const auto& [at, world] = todo.front();
      const bool expand = nodes_.size() < most_states_;
      if (!expand) found_.exhausted = false;
      if (at % continue_every_ == 0 || (!expand && at % 7 == 0)) run_on(at, world);
      const std::vector<Happening> next = expand ? world.next() : std::vector<Happening>{};
      for (const Happening& what : next) {
        World then = world;
        ++found_.transitions;
        if (!happens(then, what)) continue;
        const std::size_t before = nodes_.size();
        const std::size_t to = enter(then);
        if (to != at || is_progress(what.act)) nodes_[at].edges.push_back({to, what});
        if (nodes_.size() > before) nodes_[to].from = at;
        if (nodes_.size() > before && !nodes_[to].bad) todo.emplace_back(to, std::move(then));
      }
      todo.pop_front();
    }
    found_.states = nodes_.size();
    if (found_.exhausted) {
      look_for_stuck();
      look_for_circles();
    }
    return found_;
  }

 private:
  struct Edge {
    std::size_t to;
    Happening what;
  };
  struct Node {
    bool end{false};
    bool bad{false};
    std::size_t from{0};  // the state it was first reached from
    std::vector<Edge> edges;
  };

  void note(std::size_t& count, const std::string& what, const World& world) {
    ++count;
    if (found_.first.empty()) found_.first = what + "\n" + world.describe();
  }

  bool happens(World& world, Happening what) {
    try {
      world.happen(what);
      return true;
    } catch (const std::logic_error& error) {
      note(found_.broken, error.what(), world);
      return false;
    }
  }

  std::size_t enter(const World& world) {
    const auto [known, fresh] = index_.try_emplace(world.fingerprint(), nodes_.size());
    if (!world.trouble().empty()) note(found_.unruly, world.trouble(), world);
    if (!fresh) return known->second;
    Node node;
    node.end = world.done();
    found_.ends += node.end ? 1 : 0;
    if (world.contact()) {
      note(found_.contacts, "bodies could touch", world);
      node.bad = true;
    }
    if (world.overlap()) note(found_.overlaps, "authorities overlap", world);
    if (world.unheld()) note(found_.unheld, "authority on track that isn't held", world);
    nodes_.push_back(node);
    return known->second;
  }

  /// From here on no further disturbance, everything in turn: does all come to its end?
  void run_on(std::size_t at, World world) {
    ++found_.continued;
    std::vector<Happening> done;
    int idle = 0;
    while (!world.done() && idle < 20 && done.size() < 3000) {
      std::vector<Happening> helpful = world.next();
      std::erase_if(helpful, [](const Happening& h) { return disturbs(h.act); });
      // With nothing else to do than to wait.
      idle = helpful.size() == 1 ? idle + 1 : 0;
      done.push_back(helpful[done.size() % helpful.size()]);
      if (!happens(world, done.back())) return;
    }
    if (world.done()) return;
    note(found_.unfinished, "not all is finished", world);
    if (found_.unfinished == 1) {
      if (idle > 0) done.resize(done.size() - static_cast<std::size_t>(idle) + 1);
      found_.first += "\n" + story(at, done);
    }
  }

  void look_for_stuck() {
    std::vector<std::vector<std::size_t>> from(nodes_.size());
    std::vector<std::size_t> todo;
    std::vector<bool> good(nodes_.size(), false);
    for (std::size_t n = 0; n < nodes_.size(); ++n) {
      for (const Edge& edge : nodes_[n].edges) {
        if (!disturbs(edge.what.act)) from[edge.to].push_back(n);
      }
      if (!nodes_[n].end) continue;
      good[n] = true;
      todo.push_back(n);
    }
    while (!todo.empty()) {
      const std::size_t n = todo.back();
      todo.pop_back();
      for (const std::size_t before : from[n]) {
        if (good[before]) continue;
        good[before] = true;
        todo.push_back(before);
      }
    }
    found_.stuck = static_cast<std::size_t>(std::ranges::count(good, false));
    if (found_.stuck > 0 && found_.first.empty()) {
      found_.first = "the end can't be reached any more";
    }
  }

  /// `first`, and then the fewest happenings that lead from a state to another without
  /// disturbances.
  template <class Inside>
  std::vector<Happening> way(Happening first, std::size_t from, std::size_t to,
                             Inside inside) const {
    std::unordered_map<std::size_t, std::pair<std::size_t, Happening>> before;
    std::deque<std::size_t> todo{from};
    while (!todo.empty() && todo.front() != to) {
      const std::size_t n = todo.front();
      todo.pop_front();
      for (const Edge& edge : nodes_[n].edges) {
        if (disturbs(edge.what.act) || !inside(edge.to) || edge.to == from) continue;
        if (before.try_emplace(edge.to, n, edge.what).second) todo.push_back(edge.to);
      }
    }
    std::vector<Happening> result;
    for (std::size_t n = to; n != from; n = before.at(n).first) {
      result.push_back(before.at(n).second);
    }
    result.push_back(first);
    std::ranges::reverse(result);
    return result;
  }
  /// How a state came about, and what then happens.
  std::string story(std::size_t n, const std::vector<Happening>& then) const {
    std::vector<Happening> before;
    for (; n != 0; n = nodes_[n].from) {
      const auto& edges = nodes_[nodes_[n].from].edges;
      before.push_back(std::ranges::find(edges, n, &Edge::to)->what);
    }
    std::ranges::reverse(before);
    World world(track_, truth_, plan_);
    std::string text;
    const auto tell = [&](Happening what) {
      text += std::string(name_of(what.act)) + " " + std::to_string(what.cart.value + 1) + ", ";
      world.happen(what);
    };
    for (const Happening& what : before) tell(what);
    text += "then " + world.describe() + "\n";
    for (const Happening& what : then) {
      tell(what);
      text += world.describe() + "\n";
    }
    return text;
  }

  /// Strongly connected components of what can happen without disturbances (R. Tarjan,
  /// "Depth-first search and linear graph algorithms", SIAM J. Comput. 1, 1972), those with a read
  /// or a handling inside counted.
  void look_for_circles() {
    constexpr std::size_t none = static_cast<std::size_t>(-1);
    const std::size_t count = nodes_.size();
    std::vector<std::size_t> number(count, none);
    std::vector<std::size_t> low(count, 0);
    std::vector<std::size_t> component(count, none);
    std::vector<std::size_t> open;
    std::vector<std::pair<std::size_t, std::size_t>> path;  // node, next edge
    std::size_t next = 0;
    std::size_t components = 0;
    for (std::size_t root = 0; root < count; ++root) {
      if (number[root] != none) continue;
      path.emplace_back(root, 0);
      while (!path.empty()) {
        const std::size_t n = path.back().first;
        if (path.back().second == 0 && number[n] == none) {
          number[n] = low[n] = next++;
          open.push_back(n);
        }
        bool down = false;
        while (path.back().second < nodes_[n].edges.size() && !down) {
          const Edge& edge = nodes_[n].edges[path.back().second++];
          if (disturbs(edge.what.act)) continue;
          if (number[edge.to] == none) {
            path.emplace_back(edge.to, 0);
            down = true;
          } else if (component[edge.to] == none) {
            low[n] = std::min(low[n], number[edge.to]);
          }
        }
        if (down) continue;
        if (low[n] == number[n]) {
          std::size_t member = none;
          while (member != n) {
            member = open.back();
            open.pop_back();
            component[member] = components;
          }
          ++components;
        }
        path.pop_back();
        if (!path.empty()) low[path.back().first] = std::min(low[path.back().first], low[n]);
      }
    }
    std::vector<bool> driven(components, false);
    for (std::size_t n = 0; n < count; ++n) {
      for (const Edge& edge : nodes_[n].edges) {
        if (is_progress(edge.what.act) && component[n] == component[edge.to])
          driven[component[n]] = true;
      }
    }
    found_.circles = static_cast<std::size_t>(std::ranges::count(driven, true));
    for (std::size_t n = 0; n < count && found_.first.empty(); ++n) {
      if (!driven[component[n]]) continue;
      const auto inside = [&](std::size_t m) { return component[m] == component[n]; };
      for (const Edge& edge : nodes_[n].edges) {
        if (!is_progress(edge.what.act) || !inside(edge.to)) continue;
        found_.first = "carts can drive for ever\n" + story(n, way(edge.what, edge.to, n, inside));
        break;
      }
    }
  }

  const floor::Track& track_;
  const floor::Track& truth_;
  const WorldPlan& plan_;
  std::size_t most_states_, continue_every_;
  CoreFindings found_;
  std::vector<Node> nodes_;
  std::unordered_map<std::string, std::size_t> index_;
};

}  // namespace tagline::test
