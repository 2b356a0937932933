// Writing and reading the text form of poses and paths.
#include "server/store/path_text.hpp"

#include <array>
#include <charconv>
#include <stdexcept>
#include <utility>

namespace tagline::store {
namespace {

using control::Act;

constexpr std::array<std::pair<Act, std::string_view>, 4> act_words{
    {{Act::go, "go"}, {Act::load, "load"}, {Act::unload, "unload"}, {Act::rest, "rest"}}};

std::string_view word_of(Act act) {
  for (const auto& [each, word] : act_words) {
    if (each == act) return word;
  }
  throw std::logic_error("an act without a word");
}

std::optional<Act> act_from(std::string_view word) {
  for (const auto& [act, each] : act_words) {
    if (each == word) return act;
  }
  return std::nullopt;
}

/// Cuts `text` at the first `mark`; returns what stood before it (all of it if there is none).
std::string_view cut(std::string_view& text, char mark) {
  const std::size_t at = text.find(mark);
  const std::string_view head = text.substr(0, at);
  text = at == std::string_view::npos ? std::string_view{} : text.substr(at + 1);
  return head;
}

}  // namespace

std::string pose_text(const floor::Ways& ways, PoseIx pose) {
  const floor::Pose& it = ways[pose];
  std::string text = ways.floor()[it.at].id + "/" + ways.floor()[it.by].id;
  text += it.reversed ? '<' : '>';
  if (it.entry) text += "@" + pose_text(ways, *it.entry);
  return text;
}

std::optional<PoseIx> pose_from(const floor::Ways& ways, std::string_view text) {
  std::optional<PoseIx> entry;
  if (const std::size_t at = text.find('@'); at != std::string_view::npos) {
    entry = pose_from(ways, text.substr(at + 1));
    if (!entry) return std::nullopt;
    text = text.substr(0, at);
  }
  const auto point = ways.floor().find_point(cut(text, '/'));
  if (!point || text.empty() || (text.back() != '<' && text.back() != '>')) return std::nullopt;
  const bool reversed = text.back() == '<';
  text.remove_suffix(1);
  const auto segment = ways.floor().find_segment(text);
  if (!segment) return std::nullopt;
  for (const PoseIx pose : ways.poses_at(*point)) {
    const floor::Pose& it = ways[pose];
    if (it.by == *segment && it.reversed == reversed && it.entry == entry) return pose;
  }
  return std::nullopt;
}

std::string path_text(const floor::Ways& ways, const std::vector<control::PathStep>& path) {
  std::string text;
  for (const control::PathStep& step : path) {
    text += '\n';
    text += std::to_string(step.step);
    text += ' ';
    text += pose_text(ways, step.pose);
    text += ' ';
    text += word_of(step.act);
  }
  return text;
}

std::string step_at_point(control::Step step, std::string_view point) {
  return "\n" + std::to_string(step) + " " + std::string(point) + "/";
}

PathRead path_from(const floor::Ways& ways, std::string_view text, control::Step first) {
  PathRead read;
  cut(text, '\n');  // each step has its mark in front
  while (!text.empty()) {
    std::string_view line = cut(text, '\n');
    const std::string_view number = cut(line, ' ');
    control::PathStep step;
    const auto parsed = std::from_chars(number.data(), number.data() + number.size(), step.step);
    const bool is_number = parsed.ec == std::errc{} && parsed.ptr == number.data() + number.size();
    if (is_number && step.step < first) continue;
    const std::string_view pose_words = cut(line, ' ');
    if (const auto point = ways.floor().find_point(pose_words.substr(0, pose_words.find('/')))) {
      read.points.push_back(*point);
    }
    const auto pose = pose_from(ways, pose_words);
    const auto act = act_from(line);
    if (!is_number || !pose || !act) {
      read.broken = true;
      continue;
    }
    step.pose = *pose;
    step.act = *act;
    read.path.push_back(step);
  }
  return read;
}

}  // namespace tagline::store
