// From which points a cart can have come to a point, as its tail lies: needed to place it.
import type { Floor } from '../api/types.ts';
import { byId } from '../words/order.ts';

/** Near ends of every segment that leads to `point`, in a fixed order. */
export function cameFromChoices(floor: Floor, point: string): string[] {
  const found = new Set<string>();
  for (const s of floor.segments) {
    if (s.to === point) found.add(s.from);
    if (s.two_way && s.from === point) found.add(s.to);
  }
  return [...found].sort(byId);
}
