// Accounts, tokens and the audit log.
#include "server/net/access_admin.hpp"

#include "server/net/body_reader.hpp"
#include "server/net/json_view.hpp"
#include "server/net/time_text.hpp"

namespace tagline::net {
namespace {

using access::Book;

constexpr std::size_t longest_word = 32;
constexpr int most_days = 3650;
constexpr std::size_t usual_entries = 100, most_entries = 500;
constexpr std::string_view role_words =
    "Must be \"viewer\", \"operator\", \"supervisor\" or \"builder\".";

Response conflict(std::string_view detail) {
  return problem(409, "conflict", "This can't be done now", detail);
}

/// The answer if the book refuses.
std::optional<Response> refused(Book::Refused why, std::string_view what, const std::string& name) {
  switch (why) {
    case Book::Refused::nothing:
      return std::nullopt;
    case Book::Refused::unknown:
      return not_found("There is no " + std::string(what) + " \"" + name + "\".");
    case Book::Refused::taken:
      return conflict("There is a " + std::string(what) + " \"" + name +
                      "\" already; choose another name.");
    case Book::Refused::last_builder:
      return conflict(
          "This is the last builder: nobody could let anybody in any more. Make another one "
          "first.");
    case Book::Refused::too_many:
      break;
  }
  return conflict("There are too many already; take out what is no longer used.");
}

std::string json_time(const std::optional<Instant>& moment) {
  return moment ? json_quote(time_text(*moment)) : "null";
}

std::string entry_json(const access::AuditEntry& entry) {
  return "{\"id\":" + std::to_string(entry.id) + ",\"time\":" + json_quote(time_text(entry.at)) +
         ",\"who\":" + json_quote(entry.who) + ",\"what\":" + json_quote(entry.what) +
         ",\"about\":" + json_quote(entry.about) +
         ",\"from_address\":" + json_quote(entry.from_address) +
         ",\"outcome\":" + json_quote(entry.outcome) + "}";
}

}  // namespace

// ---- accounts --------------------------------------------------------------------------------

void AccessAdmin::accounts(const Request& request, const Target& target, const Visitor& visitor,
                           Respond respond) {
  const auto& pieces = target.pieces;
  if (pieces.size() == 2)
    return request.method == "POST" ? add_account(request, respond) : list_accounts(respond);
  const std::string& name = pieces[2];
  if (pieces[3] == "password") return set_password(request, name, visitor, respond);
  if (pieces[3] == "remove") {
    if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
    if (auto wrong = refused(registry_.book.remove_account(name), "account", name))
      return respond(std::move(*wrong));
    return registry_.commit(std::move(respond), nothing_more());
  }
  BodyReader body(request, {"role"});
  const std::string word = body.text("role", true, 1, longest_word);
  const auto role = access::role_from(word);
  if (!role && !word.empty()) body.add_finding("role", std::string(role_words));
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (auto wrong = refused(registry_.book.set_role(name, *role), "account", name))
    return respond(std::move(*wrong));
  registry_.commit(std::move(respond), nothing_more());
}

void AccessAdmin::list_accounts(const Respond& respond) const {
  std::string list;
  for (const access::Account* account : registry_.book.accounts())
    list += (list.empty() ? "" : ",") + ("{\"name\":" + json_quote(account->name)) +
            ",\"role\":" + json_quote(access::word(account->role)) +
            ",\"created\":" + json_quote(time_text(account->created)) +
            ",\"last_seen\":" + json_time(account->last_seen) + "}";
  respond(json_response(200, "{\"accounts\":[" + list + "]}"));
}

void AccessAdmin::add_account(const Request& request, const Respond& respond) {
  BodyReader body(request, {"name", "role", "password"});
  const std::string name = body.text("name", true, 1, Registry::longest_name);
  const std::string word = body.text("role", true, 1, longest_word);
  const std::string password = body.text("password", true, 1, Registry::longest_password);
  const auto role = access::role_from(word);
  if (!role && !word.empty()) body.add_finding("role", std::string(role_words));
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (const auto fault = access::fault_of_name(name)) body.add_finding("name", *fault);
  if (const auto fault = access::fault_of_password(password, name))
    body.add_finding("password", *fault);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (registry_.book.account(name)) return respond(*refused(Book::Refused::taken, "account", name));
  const bool taken = registry_.passwords.make(
      PasswordThread::Whose::known, password, Registry::new_salt(),
      [this, respond, name, role](const std::optional<std::string>& hash) {
        if (!hash) return respond(Registry::too_often());
        if (auto wrong = refused(registry_.book.add_account(name, *role, *hash, registry_.now()),
                                 "account", name))
          return respond(std::move(*wrong));
        Response response = json_response(201, "{\"name\":" + json_quote(name) + ",\"role\":" +
                                                   json_quote(access::word(*role)) + "}");
        response.about = "accounts/" + name;
        registry_.commit(respond, std::move(response));
      });
  if (!taken) respond(Registry::too_often());
}

void AccessAdmin::set_password(const Request& request, const std::string& name,
                               const Visitor& visitor, const Respond& respond) {
  const bool own =
      visitor.by == Visitor::By::session && access::key_of(name) == access::key_of(visitor.name);
  if (own) return sign_in_.change_password(request, visitor, respond);
  const access::Refused why =
      access::refuse(visitor.scope, visitor.is_person(), access::Action::manage_accounts);
  if (why != access::Refused::nothing)
    return respond(no_right(visitor, access::Action::manage_accounts, why));
  BodyReader body(request, {"password"});
  const std::string password = body.text("password", true, 1, Registry::longest_password);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (const auto fault = access::fault_of_password(password, name))
    body.add_finding("password", *fault);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (!registry_.book.account(name))
    return respond(*refused(Book::Refused::unknown, "account", name));
  const bool taken = registry_.passwords.make(
      PasswordThread::Whose::known, password, Registry::new_salt(),
      [this, respond, name](const std::optional<std::string>& hash) {
        if (!hash) return respond(Registry::too_often());
        if (auto wrong = refused(registry_.book.set_password(name, *hash), "account", name))
          return respond(std::move(*wrong));
        registry_.commit(respond, nothing_more());
      });
  if (!taken) respond(Registry::too_often());
}

// ---- tokens ----------------------------------------------------------------------------------

void AccessAdmin::tokens(const Request& request, const Target& target, Respond respond) {
  const auto& pieces = target.pieces;
  if (pieces.size() == 2)
    return request.method == "POST" ? add_token(request, std::move(respond)) : list_tokens(respond);
  if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
  if (auto wrong = refused(registry_.book.revoke_token(pieces[2]), "token", pieces[2]))
    return respond(std::move(*wrong));
  registry_.commit(std::move(respond), nothing_more());
}

namespace {

/// Everything but the secret.
std::string token_json(const access::Token& token, std::string_view secret = {}) {
  std::string scope = "\"scope\":\"call\"";
  if (const auto* role = std::get_if<access::Role>(&token.scope))
    scope = "\"scope\":" + json_quote(access::word(*role));
  else if (const auto* call = std::get_if<access::Call>(&token.scope))
    scope += ",\"from\":" + json_quote(call->from) + ",\"to\":" + json_quote(call->to);
  return "{\"id\":" + json_quote(token.id) + ",\"name\":" + json_quote(token.name) + "," + scope +
         ",\"created\":" + json_quote(time_text(token.created)) +
         ",\"expires\":" + json_quote(time_text(token.expires)) +
         ",\"last_used\":" + json_time(token.last_used) +
         (secret.empty() ? "" : ",\"token\":" + json_quote(secret)) + "}";
}

}  // namespace

void AccessAdmin::list_tokens(const Respond& respond) const {
  std::string list;
  for (const access::Token* token : registry_.book.tokens())
    list += (list.empty() ? "" : ",") + token_json(*token);
  respond(json_response(200, "{\"tokens\":[" + list + "]}"));
}

void AccessAdmin::add_token(const Request& request, Respond respond) {
  BodyReader body(request, {"name", "scope", "days", "from", "to"});
  access::Token token;
  token.name = body.text("name", true, 1, Registry::longest_name);
  const std::string scope = body.text("scope", true, 1, longest_word);
  const int days = body.integer("days", 1, most_days, std::nullopt);
  const bool call = scope == "call";
  const access::Call stations{body.text("from", call, 1, longest_word),
                              body.text("to", call, 1, longest_word)};
  const auto role = access::role_from(scope);
  if (!role && !call && !scope.empty())
    body.add_finding("scope", "Must be \"call\" or a role: viewer, operator, supervisor, builder.");
  if (!call && !(stations == access::Call{}))
    body.add_finding("from", "Only a token with the scope \"call\" has from and to.");
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (const auto fault = access::fault_of_name(token.name)) body.add_finding("name", *fault);
  for (const auto& [key, id] : {std::pair("from", stations.from), std::pair("to", stations.to)})
    if (call && !floor_.find_station(id))
      body.add_finding(key, "There is no station \"" + id + "\"; see /api/stations.");
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));

  const std::string secret = access::token_secret(Registry::random());
  token.id = access::hex(std::span<const std::uint8_t>(Registry::new_salt()).first(5));
  if (role)
    token.scope = *role;
  else
    token.scope = stations;
  token.key = access::sha256(secret);
  token.created = registry_.now();
  token.expires = token.created + std::chrono::days(days);
  Response response = json_response(201, token_json(token, secret));
  response.about = "tokens/" + token.id + " (" + token.name + ")";
  const std::string name = token.name;
  if (auto wrong = refused(registry_.book.add_token(std::move(token)), "token", name))
    return respond(std::move(*wrong));
  registry_.commit(std::move(respond), std::move(response));
}

// ---- the audit log ---------------------------------------------------------------------------

void AccessAdmin::audit(const Target& target, const Respond& respond) {
  std::size_t limit = usual_entries;
  std::optional<std::uint64_t> before;
  for (const auto& [name, value] : target.query) {
    const auto number = whole_number(value);
    if (name == "limit" && number && *number >= 1 && *number <= most_entries)
      limit = static_cast<std::size_t>(*number);
    else if (name == "before" && number && *number >= 1)
      before = number;
    else
      return respond(problem(400, "invalid_query", "The query can't be understood",
                             "The parameters are limit, 1 to " + std::to_string(most_entries) +
                                 ", and before, an entry's id."));
  }
  registry_.read_audit(limit, before, [respond](const AccessKeeper::Entries& entries) {
    if (!entries) return respond(store_failed());
    std::string list;
    for (const access::AuditEntry& entry : *entries)
      list += (list.empty() ? "" : ",") + entry_json(entry);
    respond(json_response(200, "{\"entries\":[" + list + "]}"));
  });
}

}  // namespace tagline::net
