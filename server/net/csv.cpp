// See csv.hpp.
#include "server/net/csv.hpp"

namespace tagline::net {

std::string csv_field(std::string_view text) {
  std::string field;
  if (!text.empty() && std::string_view("=+-@\t\r").find(text.front()) != std::string_view::npos)
    field = "'";
  field += text;
  if (field.find_first_of(",\"\r\n") == std::string::npos) return field;
  std::string quoted = "\"";
  for (const char c : field) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

void CsvTable::line(const std::vector<std::string_view>& fields) {
  bool first = true;
  for (const std::string_view field : fields) {
    if (!first) text_ += ',';
    first = false;
    text_ += csv_field(field);
  }
  text_ += "\r\n";
}

}  // namespace tagline::net
