// The web page's files from memory.
#include "server/net/static_files.hpp"

#include <array>
#include <cstdint>
#include <cstdio>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace tagline::net {
namespace {

namespace fs = std::filesystem;

constexpr std::array<std::pair<std::string_view, std::string_view>, 14> content_types{{
    {".html", "text/html; charset=utf-8"},
    {".js", "text/javascript; charset=utf-8"},
    {".mjs", "text/javascript; charset=utf-8"},
    {".css", "text/css; charset=utf-8"},
    {".json", "application/json"},
    {".map", "application/json"},
    {".webmanifest", "application/manifest+json"},
    {".svg", "image/svg+xml"},
    {".png", "image/png"},
    {".jpg", "image/jpeg"},
    {".ico", "image/x-icon"},
    {".webp", "image/webp"},
    {".woff2", "font/woff2"},
    {".txt", "text/plain; charset=utf-8"},
}};

/// Everything from the service itself and nothing else; no inline script or style, no frames.
constexpr std::string_view content_policy =
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'; img-src 'self'";
/// The page where a floor is drawn shows a plan that a person has on their own machine.
constexpr std::string_view drawing_page = "floor.html";
constexpr const char* local_pictures = " blob:";

std::string type_of(const fs::path& file) {
  const std::string ending = file.extension().string();
  for (const auto& [known, type] : content_types)
    if (ending == known) return std::string(type);
  return "application/octet-stream";
}

/// FNV-1a, 64 bits (G. Fowler, L. C. Noll, P. Vo). Tells versions of one file apart; not a
/// safeguard against anybody.
std::string etag_of(std::string_view content) {
  std::uint64_t hash = 0xcbf29ce484222325u;
  for (const char c : content) {
    hash ^= static_cast<unsigned char>(c);
    hash *= 0x100000001b3u;
  }
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "\"%016llx\"", static_cast<unsigned long long>(hash));
  return text.data();
}

/// "board-K3X9PQ2A.js": eight or more letters and digits between the last '-' and the ending.
bool has_hash(const fs::path& file) {
  const std::string stem = file.stem().string();
  const std::size_t dash = stem.rfind('-');
  if (dash == std::string::npos || stem.size() - dash - 1 < 8) return false;
  bool digit = false;
  for (const char c : stem.substr(dash + 1)) {
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
    const bool number = c >= '0' && c <= '9';
    if (!letter && !number) return false;
    digit = digit || number || (c >= 'A' && c <= 'Z');
  }
  return digit;
}

std::string read_whole(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream out;
  out << in.rdbuf();
  if (!in) throw std::runtime_error("can't read " + file.string());
  return std::move(out).str();
}

/// Whether a field such as Accept-Encoding or If-None-Match lists `wanted` (RFC 9110, 12.5.3: a
/// weight of 0 rules it out).
bool lists(const std::optional<std::string>& field, std::string_view wanted) {
  if (!field) return false;
  std::string_view rest = *field;
  while (!rest.empty()) {
    const std::size_t comma = rest.find(',');
    std::string_view item = rest.substr(0, comma);
    rest = comma == std::string_view::npos ? std::string_view{} : rest.substr(comma + 1);
    const std::size_t mark = item.find(';');
    const std::string_view weight =
        mark == std::string_view::npos ? std::string_view{} : item.substr(mark + 1);
    item = item.substr(0, mark);
    while (!item.empty() && item.front() == ' ') item.remove_prefix(1);
    while (!item.empty() && item.back() == ' ') item.remove_suffix(1);
    if (item.starts_with("W/")) item.remove_prefix(2);
    const bool ruled_out = weight.find("q=0") != std::string_view::npos &&
                           weight.find_first_of("123456789") == std::string_view::npos;
    if ((item == wanted || item == "*") && !ruled_out) return true;
  }
  return false;
}

std::string name_at(const std::vector<std::string>& pieces) {
  std::string name;
  for (const std::string& piece : pieces) name += (name.empty() ? "" : "/") + piece;
  return name.empty() ? "index.html" : name;
}

}  // namespace

StaticFiles::StaticFiles(const fs::path& folder) : folder_(folder) {
  std::error_code error;
  if (!fs::is_directory(folder, error)) return;
  std::map<std::string, std::shared_ptr<const std::string>> found;
  std::size_t total = 0;
  for (const auto& entry : fs::recursive_directory_iterator(folder)) {
    if (!entry.is_regular_file()) continue;
    total += entry.file_size();
    if (total > most_bytes)
      throw std::runtime_error("the web folder " + folder.string() + " has more than " +
                               std::to_string(most_bytes >> 20) +
                               " MiB; name the folder that the page was built into with --web");
    found[entry.path().lexically_relative(folder).generic_string()] =
        std::make_shared<const std::string>(read_whole(entry.path()));
  }
  for (const auto& [name, content] : found) {
    if (name.ends_with(".gz") && found.contains(name.substr(0, name.size() - 3))) continue;
    File file;
    file.plain = content;
    if (const auto packed = found.find(name + ".gz"); packed != found.end())
      file.packed = packed->second;
    file.content_type = type_of(name);
    file.etag = etag_of(*content);
    file.lasting = has_hash(name);
    files_.emplace(name, std::move(file));
  }
}

StaticFiles::Files::const_iterator StaticFiles::at(const std::vector<std::string>& pieces) const {
  const auto found = files_.find(name_at(pieces));
  // A page of its own takes the rest of the path as what it is about: /here/GLAZE is here.html.
  if (found == files_.end() && !pieces.empty()) return files_.find(pieces.front() + ".html");
  return found;
}

bool StaticFiles::has(const std::vector<std::string>& pieces) const {
  return at(pieces) != files_.end();
}

std::optional<Response> StaticFiles::find(const std::vector<std::string>& pieces,
                                          const Request& request) const {
  Response response;
  const auto found = at(pieces);
  const bool draws = found != files_.end() && found->first == drawing_page;
  response.headers.emplace_back("Content-Security-Policy",
                                std::string(content_policy) + (draws ? local_pictures : ""));
  if (found == files_.end()) {
    if (name_at(pieces) != "index.html") return std::nullopt;
    response.status = 503;
    response.content_type = "text/plain; charset=utf-8";
    response.headers.emplace_back("Cache-Control", "no-store");
    response.body = std::make_shared<const std::string>(
        "The page has not been built: there is no index.html in " + folder_.string() +
        ".\nBuild it with\n\n    deploy/run build\n\nor name the folder it is in with --web, and "
        "start the service again.\nThe interface under /api works without it.\n");
    return response;
  }
  const File& file = found->second;
  response.content_type = file.content_type;
  response.headers.emplace_back("Cache-Control",
                                file.lasting ? "public, max-age=31536000, immutable" : "no-cache");
  response.headers.emplace_back("Vary", "Accept-Encoding");
  const bool packed = file.packed && lists(request.accept_encoding, "gzip");
  std::string etag = file.etag;
  if (packed) etag.insert(etag.size() - 1, "-gz");  // another representation, another tag
  response.headers.emplace_back("ETag", etag);
  if (lists(request.if_none_match, etag)) {
    response.status = 304;
    return response;
  }
  if (packed) response.headers.emplace_back("Content-Encoding", "gzip");
  response.body = packed ? file.packed : file.plain;
  return response;
}

}  // namespace tagline::net
