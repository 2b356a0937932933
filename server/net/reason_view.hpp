// Why something stands still, as the interface shows it: the core's data link by link, and the one
// place where a sentence for people is made of them. The sentence adds nothing to the data.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "server/control/view.hpp"
#include "server/floor/track.hpp"

namespace tagline::net {

/// Keeps references; both must outlive it.
class ReasonView {
 public:
  ReasonView(const floor::Track& track, const std::vector<std::string>& cart_names)
      : track_(&track), cart_names_(&cart_names) {}

  /// One sentence. Times are not in it: they are data, to be shown by the reader's own clock.
  [[nodiscard]] std::string text(const control::Reason& reason) const;
  /// The chain as a JSON list, from the thing itself to the root (API.md, "Reason").
  [[nodiscard]] std::string chain(const std::vector<control::Reason>& reasons) const;

 private:
  [[nodiscard]] std::string cart(std::optional<CartIx> ix) const;
  [[nodiscard]] std::string point(std::optional<PointIx> ix) const;
  [[nodiscard]] std::string piece(std::optional<PieceIx> ix) const;
  [[nodiscard]] std::string station(std::optional<StationIx> ix) const;
  [[nodiscard]] std::string zone(std::optional<ZoneIx> ix) const;

  const floor::Track* track_;
  const std::vector<std::string>* cart_names_;
};

}  // namespace tagline::net
