// The program `tagline`.
#include "server/app/command_line.hpp"

int main(int argc, char** argv) { return tagline::app::run(argc, argv); }
