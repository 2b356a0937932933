// Floor files over HTTP.
#include "server/net/floor_desk.hpp"

#include <spdlog/spdlog.h>

#include "server/net/aside.hpp"
#include "server/net/body_reader.hpp"
#include "server/net/json_view.hpp"

namespace tagline::net {
namespace {

/// Of one person: a page asks for draft, floor and history at once.
constexpr std::size_t places_at_files = 4, places_at_checks = 1;
constexpr std::size_t most_jobs = 1'000;
constexpr int most_version = 1'000'000'000;

std::string text_or_null(const std::string& text) {
  return text.empty() ? "null" : json_quote(text);
}

std::string about_draft(const FloorDraft& draft) {
  return "\"version\":" + std::to_string(draft.version) +
         ",\"saved_by\":" + text_or_null(draft.saved_by) +
         ",\"saved_at\":" + text_or_null(draft.saved_at);
}

Response with_version(Response response, const FloorDraft& draft) {
  response.headers.emplace_back("ETag", "\"" + std::to_string(draft.version) + "\"");
  return response;
}

Response other_version(const FloorDraft& draft) {
  return with_version(
      problem(412, "other_version", "The draft is no longer the one you began with",
              draft.document
                  ? draft.saved_by + " saved version " + std::to_string(draft.version) + " at " +
                        draft.saved_at + ". Read it, and put your changes into that one."
                  : "It has been published, or thrown away, in the meantime: read it "
                    "anew and put your changes into that one."),
      draft);
}

/// "\"7\"", an ETag as a draft has it.
std::optional<std::uint64_t> version_in(const std::string& field) {
  if (field.size() < 3 || field.front() != '"' || field.back() != '"') return std::nullopt;
  return whole_number(std::string_view(field).substr(1, field.size() - 2));
}

std::optional<Response> refuse_other_type(const Request& request) {
  const std::string type = request.content_type.value_or("");
  if (type == "application/json" || type.starts_with("application/json;")) return std::nullopt;
  return problem(415, "wrong_type", "Another type of body is taken here",
                 "Send the floor file as Content-Type: application/json.");
}

Response floor_file(std::string document) {
  Response response = json_response(200, std::move(document));
  response.headers.emplace_back("Cache-Control", "no-store");
  return response;
}

std::string joined(const std::vector<std::string>& sentences) {
  std::string text;
  for (const std::string& sentence : sentences) text += (text.empty() ? "" : " ") + sentence;
  return text;
}

}  // namespace

FloorDesk::FloorDesk(Setup setup)
    : setup_(std::move(setup)), files_(places_at_files), checks_(places_at_checks) {
  if (setup_.office) tryouts_.emplace(*setup_.office, setup_.post);
}

FloorDesk::~FloorDesk() { give_up(); }

void FloorDesk::give_up() {
  if (setup_.office) setup_.office->give_up();
  if (tryouts_) tryouts_->give_up();
}

void FloorDesk::handle(const Request& request, const Target& target, const Visitor& visitor,
                       Respond respond) {
  if (!setup_.office)
    return respond(not_found("The floor of this service can't be changed over the network."));
  const auto& pieces = target.pieces;
  const std::string& what = pieces[2];
  FloorOffice& office = *setup_.office;
  if (what == "file")
    return later(files_, visitor.name, respond, [&office] { return floor_file(office.in_use()); });
  if (what == "check") {
    if (auto wrong = refuse_other_type(request)) return respond(std::move(*wrong));
    return later(checks_, visitor.name, respond, [&office, document = request.body] {
      return json_response(200, office.check(document));
    });
  }
  if (what == "tryout") {
    if (pieces.size() > 3) return tryouts_->end(request, visitor, respond);
    if (auto wrong = refuse_other_type(request)) return respond(std::move(*wrong));
    return tryouts_->start(request, target, visitor, respond);
  }
  if (what == "history") return history(target, visitor, respond);
  if (pieces.size() == 3) return draft(request, visitor, respond);
  if (pieces[3] == "publish") return publish(request, visitor, std::move(respond));
  WorksNow works{setup_.model.carts_json(), setup_.model.jobs_json({}, most_jobs),
                 setup_.model.stations_json()};
  later(checks_, visitor.name, respond,
        [&office, works = std::move(works)] { return json_response(200, office.changes(works)); });
}

void FloorDesk::later(SideThread& thread, const std::string& who, const Respond& respond,
                      std::function<Response()> make) {
  answer_aside(thread, setup_.post, who, {"floor_office", "The floor's files can't be seen to"},
               respond, std::move(make));
}

void FloorDesk::draft(const Request& request, const Visitor& visitor, const Respond& respond) {
  FloorOffice& office = *setup_.office;
  if (request.method != "PUT")
    return later(files_, visitor.name, respond, [&office] {
      const FloorDraft draft = office.draft();
      const std::string document = draft.document ? *draft.document : office.in_use();
      Response response =
          json_response(200, "{" + about_draft(draft) + ",\"floor\":" + document + "}");
      response.headers.emplace_back("Cache-Control", "no-store");
      return with_version(std::move(response), draft);
    });
  if (auto wrong = refuse_other_type(request)) return respond(std::move(*wrong));
  if (!request.if_match)
    return respond(problem(428, "no_version", "Which draft is this made from?",
                           "Send the ETag of GET /api/floor/draft along in If-Match, so that "
                           "nobody's changes get lost."));
  const auto version = version_in(*request.if_match);
  if (!version)
    return respond(problem(400, "malformed_version", "If-Match can't be read",
                           "It is the draft's version in double quotes, as ETag gives it."));
  later(files_, visitor.name, respond,
        [&office, document = request.body, who = visitor.name, at = setup_.now(),
         version = *version]() mutable {
          const auto saved =
              office.save(std::move(document), std::move(who), std::move(at), version);
          switch (saved.how) {
            case FloorOffice::Saved::How::no_json:
              return problem(400, "malformed_json", "The draft can't be read",
                             "It must be one JSON object in UTF-8 (RFC 8259), a floor file. What "
                             "it says may still be wrong.");
            case FloorOffice::Saved::How::other_version:
              return other_version(saved.now);
            case FloorOffice::Saved::How::saved:
              break;
          }
          return with_version(json_response(200, "{" + about_draft(saved.now) + "}"), saved.now);
        });
}

void FloorDesk::publish(const Request& request, const Visitor& visitor, Respond respond) {
  BodyReader body(request, {"version"});
  const int version = body.integer("version", 1, most_version, std::nullopt);
  if (auto wrong = body.refusal()) return respond(std::move(*wrong));
  FloorOffice& office = *setup_.office;
  const auto answer = [this, respond = std::move(respond)](Response response) {
    const bool done = response.status == 200;
    respond(std::move(response));
    if (done) setup_.begin_anew();  // after the answer is on its way
  };
  later(checks_, visitor.name, answer, [&office, who = visitor.name, at = setup_.now(), version] {
    const auto published = office.publish(static_cast<std::uint64_t>(version), who, at);
    if (published.other_version) return other_version(published.now);
    if (!published.refused.empty())
      return problem(422, "not_publishable", "This draft can't be published",
                     joined(published.refused));
    spdlog::info("{} has published version {} of the floor", who, version);
    return json_response(200, "{\"version\":" + std::to_string(published.now.version) +
                                  ",\"published_by\":" + json_quote(who) +
                                  ",\"published_at\":" + json_quote(at) + "}");
  });
}

void FloorDesk::history(const Target& target, const Visitor& visitor, const Respond& respond) {
  FloorOffice& office = *setup_.office;
  if (target.pieces.size() == 3)
    return later(files_, visitor.name, respond, [&office] {
      std::string list;
      for (const FloorEdition& one : office.history())
        list += (list.empty() ? "" : ",") + ("{\"number\":" + std::to_string(one.number)) +
                ",\"by\":" + text_or_null(one.by) + ",\"at\":" + json_quote(one.at) + "}";
      return json_response(200, "{\"editions\":[" + list + "]}");
    });
  const auto number = whole_number(target.pieces[3]);
  later(files_, visitor.name, respond, [&office, number] {
    auto document = number ? office.edition(*number) : std::nullopt;
    if (!document) return not_found("There is no such floor file; see /api/floor/history.");
    return floor_file(std::move(*document));
  });
}

}  // namespace tagline::net
