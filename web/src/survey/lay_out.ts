// Where a surveyed way is drawn: nobody has told where its points lie, only how far apart they are.
// An open end goes straight on; a way that closes is a ring or a bow, whose lengths come out right; and
// one whose turns are told is reckoned along and closed by the compass rule (the misclosure is shared
// out in proportion to the distance, as in a surveyor's traverse). Lengths mm, angles in radians.
import type { Place } from '../draw/file.ts';

export type Turn = 'straight' | 'left' | 'right';

export interface Stretch {
  mm: number;
  /** How the tape bends on it, if told. */
  turn: Turn | undefined;
}

/** For each stretch where it ends, and the corners on the way. */
export interface Drawn {
  at: Place;
  via: Place[];
}

const cornerEvery = Math.PI / 9;
/** A parabola between legs of this many times its length has that length (arc length of y = x²). */
const legOfCurve = 1 / 1.6232;
const curveCorners = 7;

const along = ([x, y]: Place, angle: number, far: number): Place => [x + Math.cos(angle) * far, y + Math.sin(angle) * far];
const bend = (turn: Turn | undefined) => (turn === 'left' ? Math.PI / 2 : turn === 'right' ? -Math.PI / 2 : 0);
const rounded = ([x, y]: Place): Place => [Math.round(x), Math.round(y)];

/** From `start`, that way, each stretch after the other. */
export function reckon(start: Place, heading: number, stretches: readonly Stretch[]): Drawn[] {
  return drawn(start, reckoned(start, heading, stretches));
}

/** The same, but the last one ends at `end`. */
export function close(start: Place, heading: number, stretches: readonly Stretch[], end: Place): Drawn[] {
  const open = reckoned(start, heading, stretches);
  const last = open.at(-1)!.at;
  const total = stretches.reduce((sum, one) => sum + one.mm, 0);
  const shift = ([x, y]: Place, gone: number): Place => [x + ((end[0] - last[0]) * gone) / total, y + ((end[1] - last[1]) * gone) / total];
  let gone = 0;
  const closed = open.map(({ at, corner }, k) => {
    const half = gone + stretches[k]!.mm / 2;
    gone += stretches[k]!.mm;
    return { at: shift(at, gone), corner: corner && shift(corner, half) };
  });
  return drawn(start, closed);
}

interface Reckoned {
  at: Place;
  corner: Place | null;
}

function reckoned(start: Place, heading: number, stretches: readonly Stretch[]): Reckoned[] {
  let here = start;
  return stretches.map(({ mm, turn }) => {
    const by = bend(turn);
    if (by === 0) {
      here = along(here, heading, mm);
      return { at: here, corner: null };
    }
    const corner = along(here, heading, mm * legOfCurve);
    heading += by;
    here = along(corner, heading, mm * legOfCurve);
    return { at: here, corner };
  });
}

function drawn(start: Place, way: readonly Reckoned[]): Drawn[] {
  let from = start;
  return way.map(({ at, corner }) => {
    const via: Place[] = [];
    for (let k = 1; corner && k <= curveCorners; k++) {
      const t = k / (curveCorners + 1);
      const mix = (a: number, b: number, c: number) => (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t ** 2 * c;
      via.push(rounded([mix(from[0], corner[0], at[0]), mix(from[1], corner[1], at[1])]));
    }
    from = at;
    return { at: rounded(at), via };
  });
}

/**
 * From `start` to `end` in one even bow as long as the stretches together; a ring, begun that way, where
 * both are one place. `side` is the way it turns. Straight where it is no longer than the distance.
 */
export function bow(start: Place, heading: number, stretches: readonly Stretch[], end: Place, side: 'left' | 'right'): Drawn[] {
  const total = stretches.reduce((sum, one) => sum + one.mm, 0);
  const chord = Math.hypot(end[0] - start[0], end[1] - start[1]);
  const turned = chord < 1 ? 2 * Math.PI : turnOfBow(chord / total);
  const sign = side === 'left' ? 1 : -1;
  const begin = chord < 1 ? heading : Math.atan2(end[1] - start[1], end[0] - start[0]) - (sign * turned) / 2;
  const place = (part: number): Place => {
    if (turned === 0) return [start[0] + (end[0] - start[0]) * part, start[1] + (end[1] - start[1]) * part];
    const radius = (sign * total) / turned;
    const angle = begin + sign * turned * part;
    return [start[0] + radius * (Math.sin(angle) - Math.sin(begin)), start[1] - radius * (Math.cos(angle) - Math.cos(begin))];
  };
  let gone = 0;
  return stretches.map(({ mm }) => {
    const [from, to] = [gone / total, (gone + mm) / total];
    gone += mm;
    const pieces = Math.max(1, Math.ceil((turned * (to - from)) / cornerEvery));
    const via: Place[] = [];
    for (let k = 1; k < pieces; k++) via.push(rounded(place(from + ((to - from) * k) / pieces)));
    return { at: rounded(place(to)), via };
  });
}

/** The angle t of an arc whose chord is that part of its length: sin(t/2) / (t/2) = part; 0 where it is longer. */
function turnOfBow(part: number): number {
  let [low, high] = [0, Math.PI];
  for (let k = 0; k < 50; k++) {
    const half = (low + high) / 2;
    if (Math.sin(half) / half > part) low = half;
    else high = half;
  }
  return 2 * low;
}
