// See precedence.hpp.
#include "server/net/precedence.hpp"

#include <algorithm>
#include <variant>

#include "server/net/wire_translation.hpp"

namespace tagline::net {
namespace {

std::optional<CartIx> cart_of(const control::Record& record) {
  if (const auto* job = std::get_if<control::JobRecord>(&record)) return job->job.cart;
  if (const auto* path = std::get_if<control::PathRecord>(&record)) return path->cart;
  if (const auto* cart = std::get_if<control::CartRecord>(&record)) return cart->cart;
  return std::nullopt;
}

}  // namespace

bool Precedence::keeps_everybody_back(const control::Record& record) {
  if (const auto* path = std::get_if<control::PathRecord>(&record)) return path->path.empty();
  if (const auto* cart = std::get_if<control::CartRecord>(&record)) {
    if (free_to_go_.size() <= cart->cart.value) free_to_go_.resize(cart->cart.value + 1);
    const bool before = free_to_go_[cart->cart.value];
    const bool now = !cart->needs_release && cart->doubt.empty() && cart->maybe_at.empty();
    free_to_go_[cart->cart.value] = now;
    return !before || !now;
  }
  return !std::holds_alternative<control::JobRecord>(record) &&
         !std::holds_alternative<control::StationRecord>(record);
}

void Precedence::add(const Batch& batch, const Release& release, KeptBack& to) {
  for (const control::Record& record : batch.records) {
    if (keeps_everybody_back(record)) to.everybody = true;
    if (const auto cart = cart_of(record)) to.carts.push_back(*cart);
  }
  for (const control::Message& message : release.messages) to.carts.push_back(addressee(message));
  if (release.origin) to.carts.push_back(release.origin->cart);
}

bool may_go_before(const KeptBack& kept_back, const Release& release) {
  if (kept_back.everybody || !release.answers.empty()) return false;
  const auto is_kept_back = [&](CartIx cart) {
    return std::ranges::find(kept_back.carts, cart) != kept_back.carts.end();
  };
  if (release.origin && is_kept_back(release.origin->cart)) return false;
  return std::ranges::none_of(release.messages, [&](const control::Message& message) {
    return is_kept_back(addressee(message));
  });
}

}  // namespace tagline::net
