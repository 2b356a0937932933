// The command line: subcommands, options, exit codes.
#pragma once

namespace tagline::app {

/// Exit code 0: done. 1: failed while running. 2: bad input, with one clear line on stderr for
/// each thing that is wrong. 3: the service ended because an invariant was broken.
int run(int argc, char** argv);

}  // namespace tagline::app
