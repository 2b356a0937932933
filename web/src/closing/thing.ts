// What can be taken out of service: one of a segment, a station and a cart.
import type { ThingKind } from '../api/client.ts';
import type { Downtime } from '../api/types.ts';
import { nameOf } from '../carts/identity.ts';
import type { FloorPlan } from '../floor/geometry.ts';
import { momentWords } from '../words/words.ts';

export interface Thing {
  kind: ThingKind;
  id: string;
}

export function thingOf(down: Downtime): Thing {
  if (down.segment !== undefined) return { kind: 'segment', id: down.segment };
  if (down.station !== undefined) return { kind: 'station', id: down.station };
  return { kind: 'cart', id: down.cart ?? '' };
}

/** "Segment S12 (P3 to P4)", "Drying", "Cart 3" */
export function thingWords({ kind, id }: Thing, plan: FloorPlan | null): string {
  if (kind === 'cart') return nameOf(id);
  if (kind === 'station') return plan?.stationName(id) ?? id;
  const segment = plan?.segments.get(id);
  return segment ? `Segment ${id} (${segment.from} to ${segment.to})` : `Segment ${id}`;
}

/** Whether it is closed yet, in words. */
export function stateOfDowntime(down: Downtime): { text: string; settled: boolean } {
  if (!down.begun) return { text: 'planned', settled: true };
  const { kind } = thingOf(down);
  if (down.clear) {
    const clear = { segment: 'no cart on it', station: 'no load on its way', cart: 'it has no job' };
    return { text: clear[kind], settled: true };
  }
  const busy = {
    segment: 'not clear: a cart is on it or may still go there',
    station: 'not clear: a load is still on its way',
    cart: 'not clear: it finishes its job',
  };
  return { text: busy[kind], settled: false };
}

/** "since 14:02, expected back 15:00", "from 15:30" */
export function spanOfDowntime(down: Downtime, now: number): string {
  const from = `${down.begun ? 'since' : 'from'} ${momentWords(Date.parse(down.from), now)}`;
  if (!down.until) return from;
  const until = Date.parse(down.until);
  const back = until < now ? 'was expected back' : 'expected back';
  return `${from}, ${back} ${momentWords(until, now)}`;
}

/** What follows when it goes out of service; said before it is done. */
export const whatFollows: Record<ThingKind, string> = {
  segment:
    'Carts go round it; where there is no other way they wait before it. A cart that is on it, or ' +
    'has leave to go there already, still drives on. The service keeps carts away as far as it can: ' +
    'that does not secure the track. Secure it yourself before you work on it, once it says “no cart ' +
    'on it”.',
  station: 'Jobs for it wait. Loads that are on their way there still come, and are still unloaded.',
  cart: 'It finishes the job it has, then rests and gets no other.',
};

export const whatFollowsBack: Record<ThingKind, string> = {
  segment:
    'Carts may drive there at once. Bring it back only if you have seen that the tape is whole, that ' +
    'nothing lies on it and that people are clear of it.',
  station: 'Carts come for the jobs that wait for it. Make sure that there is room for them.',
  cart: 'It may be given a job, and move, at once. People must be clear of it.',
};
