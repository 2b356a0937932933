// See low_priority.hpp.
#include "server/net/low_priority.hpp"

#include <sys/resource.h>
#include <unistd.h>

namespace tagline::net {

bool give_way_to_others() {
  // As far back as an ordinary process can go and still be run at all.
  constexpr int lowest_priority = 19;
  // On Linux a thread has a priority of its own (setpriority(2), under "C library/kernel
  // differences").
  return setpriority(PRIO_PROCESS, static_cast<id_t>(gettid()), lowest_priority) == 0;
}

}  // namespace tagline::net
