// What can be done to a floor file: each takes one and gives another, with everything that names a
// changed thing changed along, and keys it does not know kept.
import { find, listOf, things, type FloorFile, type Kind, type Place, type ThingOf } from './file.ts';

/** A free id: the letter and the lowest number above all that are there. */
export function newId(file: FloorFile, kind: Kind): string {
  const letter = { point: 'P', segment: 'S', station: 'STATION', charger: 'C', zone: 'ZONE' }[kind];
  const taken = things(file, kind).map((thing) => thing.id);
  const numbers = taken.flatMap((id) => (id.startsWith(letter) ? [Number(id.slice(letter.length))] : [])).filter(Number.isInteger);
  return `${letter}${Math.max(0, ...numbers) + 1}`;
}

const withList = <K extends Kind>(file: FloorFile, kind: K, list: readonly ThingOf[K][]): FloorFile => ({ ...file, [listOf[kind]]: list });

export function add<K extends Kind>(file: FloorFile, kind: K, thing: ThingOf[K]): FloorFile {
  return withList(file, kind, [...things(file, kind), thing]);
}

/** Sets one key of a thing; `undefined` takes the key away, so that its default counts. */
export function set<K extends Kind, F extends keyof ThingOf[K]>(
  file: FloorFile,
  kind: K,
  id: string,
  key: F,
  value: ThingOf[K][F] | undefined,
): FloorFile {
  const change = (thing: ThingOf[K]): ThingOf[K] => {
    if (value !== undefined) return { ...thing, [key]: value };
    const { [key]: gone, ...rest } = thing;
    void gone;
    return rest as ThingOf[K];
  };
  return withList(file, kind, things(file, kind).map((thing) => (thing.id === id ? change(thing) : thing)));
}

/** A thing's own id, and wherever it is named. */
export function rename(file: FloorFile, kind: Kind, from: string, to: string): FloorFile {
  const swap = (id: string) => (id === from ? to : id);
  const own = withList(file, kind, things(file, kind).map((t) => (t.id === from ? { ...t, id: to } : t)) as never);
  if (kind === 'point') {
    const at = <T extends { point: string }>(list: readonly T[]) => list.map((t) => (t.point === from ? { ...t, point: to } : t));
    return {
      ...own,
      segments: own.segments.map((s) => (s.from === from || s.to === from ? { ...s, from: swap(s.from), to: swap(s.to) } : s)),
      stations: at(own.stations),
      ...(own.chargers ? { chargers: at(own.chargers) } : {}),
    };
  }
  if (kind === 'segment') {
    return {
      ...own,
      ...(own.conflicts ? { conflicts: own.conflicts.map(([a, b]) => [swap(a), swap(b)] as [string, string]) } : {}),
      ...(own.zones ? { zones: own.zones.map((z) => ({ ...z, segments: z.segments.map(swap) })) } : {}),
    };
  }
  if (kind === 'station' && own.demand) {
    return { ...own, demand: own.demand.map((d) => (d.from === from || d.to === from ? { ...d, from: swap(d.from), to: swap(d.to) } : d)) };
  }
  return own;
}

/** A thing, and what can't be without it: a point's tape and stations, a station's demand. */
export function remove(file: FloorFile, kind: Kind, id: string): FloorFile {
  let next = withList(file, kind, things(file, kind).filter((t) => t.id !== id) as never);
  if (kind === 'point') {
    for (const s of next.segments) if (s.from === id || s.to === id) next = remove(next, 'segment', s.id);
    for (const s of next.stations) if (s.point === id) next = remove(next, 'station', s.id);
    for (const c of next.chargers ?? []) if (c.point === id) next = remove(next, 'charger', c.id);
  }
  if (kind === 'segment') {
    if (next.conflicts) next = { ...next, conflicts: next.conflicts.filter(([a, b]) => a !== id && b !== id) };
    if (next.zones) next = { ...next, zones: next.zones.map((z) => (z.segments.includes(id) ? { ...z, segments: z.segments.filter((s) => s !== id) } : z)) };
  }
  if (kind === 'station' && next.demand) next = { ...next, demand: next.demand.filter((d) => d.from !== id && d.to !== id) };
  return next;
}

/**
 * A point goes elsewhere. A length that was measured along a segment there no longer holds: it goes,
 * and the drawn one counts until somebody measures anew.
 */
export function movePoint(file: FloorFile, id: string, [x, y]: Place): FloorFile {
  const old = find(file, 'point', id);
  if (!old || (old.x === x && old.y === y)) return file;
  const moved = set(set(file, 'point', id, 'x', x), 'point', id, 'y', y);
  return moved.segments
    .filter((s) => (s.from === id || s.to === id) && s.length !== undefined)
    .reduce((next, s) => set(next, 'segment', s.id, 'length', undefined), moved);
}

/** The corners between the ends of a segment; the measured length goes, as above. */
export function setVia(file: FloorFile, id: string, via: Place[]): FloorFile {
  return set(set(file, 'segment', id, 'via', via.length > 0 ? via : undefined), 'segment', id, 'length', undefined);
}

/** A corner more, at the place of the line that is nearest to `at`. */
export function addVia(file: FloorFile, id: string, at: Place, line: Place[]): { file: FloorFile; index: number } {
  const segment = find(file, 'segment', id);
  let best = 0;
  let least = Infinity;
  for (let i = 0; i + 1 < line.length; i++) {
    const away = awayFrom(at, line[i]!, line[i + 1]!);
    if (away < least) [best, least] = [i, away];
  }
  const via = [...(segment?.via ?? [])];
  via.splice(best, 0, at);
  return { file: setVia(file, id, via), index: best };
}

/** Distance of a place from the straight line between two others. */
export function awayFrom([x, y]: Place, [ax, ay]: Place, [bx, by]: Place): number {
  const span = (bx - ax) ** 2 + (by - ay) ** 2;
  const part = span > 0 ? Math.min(1, Math.max(0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / span)) : 0;
  return Math.hypot(x - ax - part * (bx - ax), y - ay - part * (by - ay));
}

/** Corners in a curve's place, this many. */
const curveCorners = 7;

/**
 * A curve in the place of one corner: the parabola that leaves the first end towards the corner and
 * comes to the other end from it (a quadratic Bezier curve), in whole mm.
 */
export function rounded(from: Place, corner: Place, to: Place): Place[] {
  const via: Place[] = [];
  for (let k = 1; k <= curveCorners; k++) {
    const t = k / (curveCorners + 1);
    const along = (a: number, b: number, c: number) => Math.round((1 - t) ** 2 * a + 2 * t * (1 - t) * b + t ** 2 * c);
    via.push([along(from[0], corner[0], to[0]), along(from[1], corner[1], to[1])]);
  }
  return via;
}
