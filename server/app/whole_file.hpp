// Writing a file so that whoever reads it, also after a loss of power, sees the old content or the
// new one and never a part.
#pragma once

#include <filesystem>
#include <string_view>

namespace tagline::app {

/// Beside the file first, then in its place; on disk when it returns. A file that is there keeps
/// its permissions; a new one is the user's alone. Throws std::runtime_error, and the old file is
/// as it was.
void write_whole(const std::filesystem::path& file, std::string_view content);

}  // namespace tagline::app
