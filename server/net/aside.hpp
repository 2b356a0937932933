// Answers that take long to make, because of files or checks: made on a thread of lowest priority,
// sent on the network thread.
#pragma once

#include <functional>
#include <string>

#include "server/net/http_message.hpp"
#include "server/net/side_thread.hpp"

namespace tagline::net {

/// What is said when making the answer throws.
struct AsideTrouble {
  std::string_view problem;  // its name: "floor_office"
  std::string_view title;
};

/// Runs a task on the network thread; called from others.
using PostTask = std::function<void(std::function<void()>)>;

/// Has `thread` make the answer to `who`; 429 if they have one waiting there or too many wait, 500
/// with what was thrown.
void answer_aside(SideThread& thread, const PostTask& post, const std::string& who,
                  AsideTrouble trouble, const Respond& respond, std::function<Response()> make);

}  // namespace tagline::net
