// How a cart is told from the others: its short mark, its colour and its pattern. The number is
// always there too: colour is never the only sign.
import { byId } from '../words/order.ts';

/** Number of colours and of patterns in look/; their product is the number of distinct carts. */
export const hueCount = 8;
export const patternCount = 5;

export interface Identity {
  /** "Cart 2" for the id cart-2; other ids as they are. */
  name: string;
  /** At most three letters, for the body on the floor. */
  mark: string;
  hue: number;
  pattern: number;
}

/** `ids`: the whole fleet, so that neighbours in the list differ. */
export function identify(ids: readonly string[]): ReadonlyMap<string, Identity> {
  const sorted = [...ids].sort(byId);
  return new Map(
    sorted.map((id, i) => [
      id,
      { name: nameOf(id), mark: markOf(id), hue: i % hueCount, pattern: i % patternCount },
    ]),
  );
}

export function nameOf(id: string): string {
  const parts = /^([a-z]+)[-_]?(\d+)$/i.exec(id);
  if (!parts) return id;
  const word = parts[1]!;
  return `${word[0]!.toUpperCase()}${word.slice(1).toLowerCase()} ${Number(parts[2])}`;
}

function markOf(id: string): string {
  const number = /(\d+)$/.exec(id)?.[1];
  return number ? String(Number(number)).slice(-3) : id.slice(0, 3);
}
