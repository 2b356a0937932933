// The words for states, modes and alarms, as the API, the database and the page show them.
#include <array>
#include <utility>

#include "server/control/job.hpp"
#include "server/control/view.hpp"

namespace tagline::control {
namespace {

template <class Enum, std::size_t N>
std::string_view find_name(const std::array<std::pair<Enum, std::string_view>, N>& names,
                           Enum value) {
  for (const auto& [known, name] : names) {
    if (known == value) return name;
  }
  return "?";
}

constexpr std::array job_states{
    std::pair{JobState::queued, std::string_view{"queued"}},
    std::pair{JobState::assigned, std::string_view{"assigned"}},
    std::pair{JobState::loaded, std::string_view{"loaded"}},
    std::pair{JobState::delivered, std::string_view{"delivered"}},
    std::pair{JobState::cancelled, std::string_view{"cancelled"}},
    std::pair{JobState::stranded, std::string_view{"stranded"}},
};
constexpr std::array cart_modes{
    std::pair{CartMode::off_floor, std::string_view{"off_floor"}},
    std::pair{CartMode::in_doubt, std::string_view{"in_doubt"}},
    std::pair{CartMode::needs_release, std::string_view{"needs_release"}},
    std::pair{CartMode::idle, std::string_view{"idle"}},
    std::pair{CartMode::driving, std::string_view{"driving"}},
    std::pair{CartMode::waiting, std::string_view{"waiting"}},
    std::pair{CartMode::handling, std::string_view{"handling"}},
    std::pair{CartMode::charging, std::string_view{"charging"}},
};
constexpr std::array reasons{
    std::pair{Reason::Kind::held_track, std::string_view{"held_track"}},
    std::pair{Reason::Kind::turn, std::string_view{"turn"}},
    std::pair{Reason::Kind::way_out, std::string_view{"way_out"}},
    std::pair{Reason::Kind::out_of_service, std::string_view{"out_of_service"}},
    std::pair{Reason::Kind::zone_stopped, std::string_view{"zone_stopped"}},
    std::pair{Reason::Kind::driving, std::string_view{"driving"}},
    std::pair{Reason::Kind::handling, std::string_view{"handling"}},
    std::pair{Reason::Kind::resting, std::string_view{"resting"}},
    std::pair{Reason::Kind::charging, std::string_view{"charging"}},
    std::pair{Reason::Kind::needs_release, std::string_view{"needs_release"}},
    std::pair{Reason::Kind::in_doubt, std::string_view{"in_doubt"}},
    std::pair{Reason::Kind::not_connected, std::string_view{"not_connected"}},
    std::pair{Reason::Kind::fault, std::string_view{"fault"}},
    std::pair{Reason::Kind::greetings, std::string_view{"greetings"}},
    std::pair{Reason::Kind::all_stopped, std::string_view{"all_stopped"}},
    std::pair{Reason::Kind::off_floor, std::string_view{"off_floor"}},
    std::pair{Reason::Kind::standing_load, std::string_view{"standing_load"}},
    std::pair{Reason::Kind::no_cart, std::string_view{"no_cart"}},
    std::pair{Reason::Kind::no_cart_free, std::string_view{"no_cart_free"}},
    std::pair{Reason::Kind::planned_for, std::string_view{"planned_for"}},
    std::pair{Reason::Kind::others_first, std::string_view{"others_first"}},
    std::pair{Reason::Kind::station_down, std::string_view{"station_down"}},
    std::pair{Reason::Kind::station_full, std::string_view{"station_full"}},
    std::pair{Reason::Kind::no_way, std::string_view{"no_way"}},
    std::pair{Reason::Kind::locked, std::string_view{"locked"}},
};
constexpr std::array faults{
    std::pair{Fault::none, std::string_view{"none"}},
    std::pair{Fault::blocked, std::string_view{"blocked"}},
    std::pair{Fault::tape_lost, std::string_view{"tape_lost"}},
    std::pair{Fault::overrun, std::string_view{"overrun"}},
    std::pair{Fault::wrong_tag, std::string_view{"wrong_tag"}},
    std::pair{Fault::battery, std::string_view{"battery"}},
    std::pair{Fault::drive, std::string_view{"drive"}},
    std::pair{Fault::reader, std::string_view{"reader"}},
};
constexpr std::array stop_causes{
    std::pair{StopCause::button, std::string_view{"button"}},
    std::pair{StopCause::bumper, std::string_view{"bumper"}},
    std::pair{StopCause::scanner, std::string_view{"scanner"}},
    std::pair{StopCause::service, std::string_view{"service"}},
};
constexpr std::array alarm_kinds{
    std::pair{AlarmKind::link_lost, std::string_view{"link_lost"}},
    std::pair{AlarmKind::in_doubt, std::string_view{"in_doubt"}},
    std::pair{AlarmKind::needs_release, std::string_view{"needs_release"}},
    std::pair{AlarmKind::fault, std::string_view{"fault"}},
    std::pair{AlarmKind::unknown_tag, std::string_view{"unknown_tag"}},
    std::pair{AlarmKind::missed_tag, std::string_view{"missed_tag"}},
    std::pair{AlarmKind::battery_low, std::string_view{"battery_low"}},
    std::pair{AlarmKind::stranded_load, std::string_view{"stranded_load"}},
    std::pair{AlarmKind::handling_overdue, std::string_view{"handling_overdue"}},
    std::pair{AlarmKind::all_stopped, std::string_view{"all_stopped"}},
    std::pair{AlarmKind::zone_stopped, std::string_view{"zone_stopped"}},
    std::pair{AlarmKind::no_way, std::string_view{"no_way"}},
};

}  // namespace

std::string_view name_of(JobState state) { return find_name(job_states, state); }
std::string_view name_of(Reason::Kind kind) { return find_name(reasons, kind); }
std::string_view name_of(CartMode mode) { return find_name(cart_modes, mode); }
std::string_view name_of(Fault fault) { return find_name(faults, fault); }
std::string_view name_of(StopCause cause) { return find_name(stop_causes, cause); }
std::string_view name_of(AlarmKind kind) { return find_name(alarm_kinds, kind); }

std::optional<JobState> job_state_from(std::string_view name) {
  for (const auto& [state, known] : job_states) {
    if (known == name) return state;
  }
  return {};
}

}  // namespace tagline::control
