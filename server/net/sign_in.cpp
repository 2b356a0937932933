// Each password is looked at elsewhere (password_thread.hpp): what was true before is asked again
// after.
#include "server/net/sign_in.hpp"

#include "server/net/body_reader.hpp"
#include "server/net/cookies.hpp"
#include "server/net/json_view.hpp"

namespace tagline::net {
namespace {

using Steady = std::chrono::steady_clock;

/// A browser is known again for so long after a person last signed in there.
constexpr long long device_seconds = 180LL * 24 * 3600;

long long session_seconds() {
  return std::chrono::duration_cast<std::chrono::seconds>(access::Book::longest_session).count();
}

Response me_response(int status, const Visitor& visitor, bool demo) {
  const auto* role = std::get_if<access::Role>(&visitor.scope);
  return json_response(status, "{\"name\":" + json_quote(visitor.name) +
                                   ",\"role\":" + json_quote(role ? access::word(*role) : "call") +
                                   ",\"csrf\":" + json_quote(visitor.csrf) +
                                   ",\"demo\":" + (demo ? "true" : "false") + "}");
}

Response no_hash() {
  return problem(503, "busy", "The password can't be looked at now", "Try again in a while.");
}

/// One text for both, so that nobody finds out who has an account.
Response wrong_sign_in() {
  return problem(401, "wrong_sign_in", "Name or password is wrong",
                 "See whether capitals are on, then try again.");
}

Response set_up_already() {
  return problem(409, "setup_done", "The service has been set up",
                 "Sign in. Where no builder can any more, start the service with --setup-code.");
}

}  // namespace

access::Attempts::Try SignIn::try_of(const Request& request, const std::string& name) {
  access::Attempts::Try one{request.address, access::key_of(name), std::nullopt};
  if (const auto pass = cookie_of(request, device_cookie))
    one.device = access::device_of(registry_.book.device_key({}), one.account, *pass);
  return one;
}

void SignIn::me(const std::optional<Visitor>& visitor, const Respond& respond) const {
  if (!visitor) return respond(sign_in_first(!registry_.book.has_accounts()));
  if (!std::holds_alternative<access::Role>(visitor->scope))
    return respond(no_right(*visitor, access::Action::look, access::Refused::only_calls));
  respond(me_response(200, *visitor, doorkeeper_.open()));
}

void SignIn::welcome(int status, const std::string& account, const Request& request,
                     Respond respond) {
  // The session that this browser had, whoever's it was, ends: nobody else's cookie is taken over.
  if (const auto old = cookie_of(request, session_cookie))
    registry_.book.end_session(access::sha256(*old));
  const std::string secret = access::session_secret(Registry::random());
  const access::Digest key = access::sha256(secret);
  registry_.book.open_session(account, key, registry_.now());
  const access::Account& who = *registry_.book.account(account);
  const Visitor visitor{Visitor::By::session, who.name, who.role, key, access::csrf_of(secret)};
  Response response = me_response(status, visitor, doorkeeper_.open());
  response.about = who.name;
  response.headers.push_back(set_cookie(request, session_cookie, secret, session_seconds()));
  const std::string pass = access::device_pass(registry_.book.device_key({}),
                                               access::key_of(account), Registry::random());
  response.headers.push_back(set_cookie(request, device_cookie, pass, device_seconds));
  registry_.commit(std::move(respond), std::move(response));
}

void SignIn::set_up(const Request& request, const Respond& respond) {
  if (setup_code_.empty()) return respond(set_up_already());
  BodyReader body(request, {"code", "name", "password"});
  const std::string code = body.text("code", true, 1, 100);
  const std::string name = body.text("name", true, 1, Registry::longest_name);
  const std::string password = body.text("password", true, 1, Registry::longest_password);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  // Counted by address only: nobody guesses 80 bits, and nobody is to keep the first builder out.
  const access::Attempts::Try one{request.address, "?setup", request.address};
  if (const auto wait = registry_.attempts.begin(one, Steady::now()))
    return respond(Registry::too_often(*wait));
  if (!access::is_setup_code(code, setup_code_)) {
    Response response = problem(403, "wrong_code", "This is not the setup code",
                                "It stands on the service's console, in its log, from its start.");
    registry_.note("?", "set_up", {}, request, response);
    return respond(std::move(response));
  }
  registry_.attempts.succeeded(one, Steady::now());
  if (const auto fault = access::fault_of_name(name)) body.add_finding("name", *fault);
  if (const auto fault = access::fault_of_password(password, name))
    body.add_finding("password", *fault);
  if (registry_.book.account(name))
    body.add_finding("name", "There is an account of this name; choose another.");
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));

  const bool taken = registry_.passwords.make(
      PasswordThread::Whose::known, password, Registry::new_salt(),
      [this, request, respond, name](const std::optional<std::string>& hash) {
        if (!hash) return respond(no_hash());
        // The code is good for one account, also if it was used twice at once.
        if (setup_code_.empty() ||
            registry_.book.add_account(name, access::Role::builder, *hash, registry_.now()) !=
                access::Book::Refused::nothing)
          return respond(set_up_already());
        setup_code_.clear();
        Response made;
        made.about = name;
        registry_.note(name, "set_up", {}, request, made);
        welcome(201, name, request, respond);
      });
  if (!taken) respond(Registry::too_often());
}

void SignIn::sign_in(const Request& request, const Respond& respond) {
  BodyReader body(request, {"name", "password"});
  const std::string name = body.text("name", true, 1, Registry::longest_name);
  const std::string password = body.text("password", true, 1, Registry::longest_password);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  const access::Attempts::Try one = try_of(request, name);
  if (const auto wait = registry_.attempts.begin(one, Steady::now()))
    return respond(Registry::too_often(*wait));
  const access::Account* account = registry_.book.account(name);
  const std::string hash = account ? account->password_hash : registry_.passwords.nobody();
  const bool taken = registry_.passwords.check(
      one.device ? PasswordThread::Whose::known : PasswordThread::Whose::stranger, password, hash,
      [this, request, respond, one, name, hash](std::optional<bool> right) {
        if (!right) return respond(no_hash());
        const access::Account* now = registry_.book.account(name);
        if (!*right || !now || now->password_hash != hash) {
          Response response = wrong_sign_in();
          // Who there is no account for may have typed a password there.
          registry_.note(now ? now->name : "?", "sign_in", {}, request, response);
          return respond(std::move(response));
        }
        registry_.attempts.succeeded(one, Steady::now());
        registry_.note(now->name, "sign_in", {}, request, Response{});
        welcome(200, now->name, request, respond);
      });
  if (taken) return;
  registry_.attempts.succeeded(one, Steady::now());  // it was not looked at
  respond(Registry::too_often());
}

void SignIn::sign_out(const Request& request, const Visitor& visitor, Respond respond) {
  if (auto wrong = refuse_any_body(request)) return respond(std::move(*wrong));
  if (visitor.by != Visitor::By::session) return respond(nothing_more());
  registry_.book.end_session(visitor.key);
  Response response = nothing_more();
  response.headers.push_back(set_cookie(request, session_cookie, "", 0));
  registry_.commit(std::move(respond), std::move(response));
}

void SignIn::change_password(const Request& request, const Visitor& visitor,
                             const Respond& respond) {
  BodyReader body(request, {"old", "password"});
  const std::string old = body.text("old", true, 1, Registry::longest_password);
  const std::string password = body.text("password", true, 1, Registry::longest_password);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  if (const auto fault = access::fault_of_password(password, visitor.name))
    body.add_finding("password", *fault);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  // Whoever has got hold of a signed-in browser guesses the password no faster than others.
  const access::Attempts::Try one{request.address, access::key_of(visitor.name),
                                  access::hex(visitor.key.bytes)};
  if (const auto wait = registry_.attempts.begin(one, Steady::now()))
    return respond(Registry::too_often(*wait));
  const std::string hash = registry_.book.account(visitor.name)->password_hash;
  const auto changed = [this, request, respond, visitor,
                        hash](const std::optional<std::string>& fresh) {
    if (!fresh) return respond(no_hash());
    const access::Account* now = registry_.book.account(visitor.name);
    if (!now || now->password_hash != hash)
      return respond(problem(409, "conflict", "The password was changed meanwhile", "Sign in."));
    (void)registry_.book.set_password(visitor.name, *fresh);
    welcome(200, visitor.name, request, respond);
  };
  const auto checked = [this, respond, one, password, changed](std::optional<bool> right) {
    if (!right) return respond(no_hash());
    if (!*right)
      return respond(problem(403, "wrong_password", "The old password is wrong",
                             "Ask a builder for a new one if it is forgotten."));
    registry_.attempts.succeeded(one, Steady::now());
    if (!registry_.passwords.make(PasswordThread::Whose::known, password, Registry::new_salt(),
                                  changed))
      respond(Registry::too_often());
  };
  if (!registry_.passwords.check(PasswordThread::Whose::known, old, hash, checked))
    respond(Registry::too_often());
}

}  // namespace tagline::net
