// The routes at /api/floor/survey (API.md, "A survey"): a builder begins one, ends it, and asks
// again and again what was read since. There is no live update of it: it is one person's for some
// minutes, and /live is everybody's.
#pragma once

#include "server/net/http_message.hpp"
#include "server/net/survey.hpp"
#include "server/net/visitor.hpp"

namespace tagline::net {

class ServiceClock;

/// On the network thread.
class SurveyDesk {
 public:
  /// `names` of the carts by CartIx; both must outlive it.
  SurveyDesk(const std::vector<std::string>& names, const ServiceClock& clock);

  /// `target.pieces` begins with api, floor, survey.
  void handle(const Request& request, const Target& target, const Visitor& visitor,
              const Respond& respond);
  void see(const Views& views) { survey_.see(views); }
  [[nodiscard]] CartListener& listener() { return survey_; }

 private:
  [[nodiscard]] Response shown(std::uint64_t after) const;
  Response begin(const Request& request, const Visitor& visitor);

  const std::vector<std::string>& names_;
  Survey survey_;
};

}  // namespace tagline::net
