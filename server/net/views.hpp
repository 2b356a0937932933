// What of a core is shown: to the boards now, and of a core that is worked out again (past.hpp).
#pragma once

#include <map>

#include "server/control/core.hpp"
#include "server/net/release.hpp"

namespace tagline::net {

using AllExpected = std::map<control::JobId, control::Expected>;

CartShown view_of(const control::Core& core, CartIx cart);
JobShown view_of(const control::Core& core, const control::Job& job, const AllExpected& expected);
Views::Closed view_of_closed(const control::Core& core);
/// Adds the loads of a station, if they are counted there.
void view_loads(const control::Core& core, StationIx station, Views& into);
/// `station_count` is the floor's.
Views view_of_everything(const control::Core& core, std::size_t station_count, bool ended_jobs_too);

}  // namespace tagline::net
