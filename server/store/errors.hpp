// Turns what SQLite and the system report into a StoreError a person can act on.
#pragma once

#include <SQLiteCpp/Exception.h>

#include <filesystem>
#include <string>
#include <string_view>

#include "server/store/store.hpp"

namespace tagline::store {

/// "<file>: <doing> failed: <what is wrong>. <what to do>".
StoreError explain(const SQLite::Exception& error, const std::filesystem::path& file,
                   std::string_view doing);

/// The system's words for an errno value, e.g. "Permission denied".
std::string words_of_errno(int error);

}  // namespace tagline::store
