// See block.hpp.
#include "server/replay/block.hpp"

#include "server/replay/seal.hpp"

namespace tagline::replay {
namespace {

constexpr unsigned code_bits = 6, code_mask = (1U << code_bits) - 1;
static_assert(std::variant_size_v<control::Event> <= code_mask + 1);
constexpr int short_length = 4, chain_length = 8;
constexpr std::uint64_t longest_gap_ms = 1ULL << 42U;  // 139 years

}  // namespace

void Chain::add(const Digest& digest) {
  hash_.byte(static_cast<unsigned char>(digest.what));
  hash_.word(digest.value);
}

std::uint32_t short_of(const Digest& digest) {
  // Folded, as the authors of FNV advise for fewer bits.
  return static_cast<std::uint32_t>(digest.value ^ (digest.value >> 32));
}

void Block::add(const TimedEvent& event) {
  if (count_ == 0) begins_ = ends_ = event.at;
  entries_.byte(static_cast<unsigned char>(event_code(event.event) |
                                           static_cast<unsigned>(event.digest.what) << code_bits));
  put_number(entries_, static_cast<std::uint64_t>((event.at - ends_).count()));
  std::visit([&](const auto& what) { put(entries_, what); }, event.event);
  if (event.digest.what == Digest::What::something) {
    put_word(entries_.all, short_of(event.digest), short_length);
  }
  chain_.add(event.digest);
  ends_ = event.at;
  ++count_;
}

std::string Block::bytes() const {
  std::string all = entries_.all;
  put_word(all, chain_.value(), chain_length);
  return sealed(std::move(all));
}

BlockRead read_block(std::string_view bytes, Instant begins, const EventReader& reader) {
  In in(unsealed(bytes), reader.limits());
  BlockRead read;
  while (in.left() > chain_length) {
    Entry& entry = read.entries.emplace_back();
    const unsigned head = in.byte();
    if (head >> code_bits > static_cast<unsigned>(Digest::What::broke)) {
      throw BadBytes("it says of an event what can't come of one");
    }
    entry.what = static_cast<Digest::What>(head >> code_bits);
    const std::uint64_t later = in.number();
    if (later > longest_gap_ms) throw BadBytes("a moment in it is too far from the one before");
    entry.at = begins + Duration{static_cast<std::int64_t>(later)};
    begins = entry.at;
    entry.event = reader.read(head & code_mask, in);
    if (entry.what == Digest::What::something) {
      entry.short_digest = static_cast<std::uint32_t>(get_word(in, short_length));
    }
  }
  read.chain = get_word(in, chain_length);
  if (in.left() > 0) throw BadBytes("there is something behind its end");
  return read;
}

}  // namespace tagline::replay
