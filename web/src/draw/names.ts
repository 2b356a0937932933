// Where the names of points and stations stand on the drawing, so that none lies on another: a name
// for which there is no room is left out until the builder comes nearer. Pure.
import type { Place } from './file.ts';

export interface Wanted {
  id: string;
  text: string;
  /** Of the point, px. */
  at: Place;
  /** Height of the type, px. */
  size: number;
  /** Stands there whatever it covers: the name of what is chosen. */
  always?: boolean;
}

export interface Name {
  id: string;
  text: string;
  /** From the point to the foot of the text's first or last letter, px. */
  dx: number;
  dy: number;
  anchor: 'start' | 'end';
}

/** Average width of a letter over the size of the type (measured for system sans faces). */
const letter = 0.6;
/** Of a point's sign, px. */
const reach = 12;

type Box = readonly [left: number, top: number, right: number, bottom: number];
const overlap = (a: Box, b: Box) => a[0] < b[2] && a[2] > b[0] && a[1] < b[3] && a[3] > b[1];

/** The first of `wanted` come first. `width`: of the drawing, px. */
export function placeNames(wanted: readonly Wanted[], width: number): Name[] {
  const taken: Box[] = [];
  const names: Name[] = [];
  for (const { id, text, at, size, always } of [...wanted].sort((a, b) => Number(b.always ?? false) - Number(a.always ?? false))) {
    const long = text.length * size * letter;
    const places = (['start', 'end'] as const).flatMap((anchor) =>
      [-9, 9 + size * 0.8].map((dy) => {
        const left = anchor === 'start' ? at[0] + reach : at[0] - reach - long;
        const box: Box = [left, at[1] + dy - size, left + long, at[1] + dy + size * 0.25];
        return { box, name: { id, text, dx: anchor === 'start' ? reach : -reach, dy, anchor } };
      }),
    );
    const within = places.filter(({ box }) => box[0] >= 0 && box[2] <= width);
    const free = within.find(({ box }) => !taken.some((other) => overlap(box, other)));
    const place = free ?? (always ? (within[0] ?? places[0]) : undefined);
    if (!place) continue;
    taken.push(place.box);
    names.push(place.name);
  }
  return names;
}
