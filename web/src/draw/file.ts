// A floor file as it is drawn: the JSON value itself, never changed in place, so that whatever this
// page does not know of stays as it was. Format: README.md, "The floor file". Lengths in mm.

export type Place = [x: number, y: number];

export interface PointThing {
  id: string;
  x: number;
  y: number;
  tags?: string[];
  siding?: boolean;
  turn_round?: boolean;
}

export interface SegmentThing {
  id: string;
  from: string;
  to: string;
  length?: number;
  speed?: number;
  two_way?: boolean;
  spur?: boolean;
  turn?: string;
  via?: Place[];
}

export interface StationThing {
  id: string;
  name: string;
  point: string;
  load_s?: number;
  unload_s?: number;
  capacity?: number;
}

export interface ChargerThing {
  id: string;
  point: string;
}

export interface ZoneThing {
  id: string;
  name: string;
  segments: string[];
}

export interface Flow {
  from: string;
  to: string;
  per_hour: number;
}

export interface FloorFile {
  format: string;
  name: string;
  cart: Record<string, number>;
  points: readonly PointThing[];
  segments: readonly SegmentThing[];
  stations: readonly StationThing[];
  chargers?: readonly ChargerThing[];
  zones?: readonly ZoneThing[];
  conflicts?: readonly [string, string][];
  demand?: readonly Flow[];
}

export type Kind = 'point' | 'segment' | 'station' | 'charger' | 'zone';

/** The list of the file that holds such things. */
export const listOf = { point: 'points', segment: 'segments', station: 'stations', charger: 'chargers', zone: 'zones' } as const;

export interface ThingOf {
  point: PointThing;
  segment: SegmentThing;
  station: StationThing;
  charger: ChargerThing;
  zone: ZoneThing;
}

export const things = <K extends Kind>(file: FloorFile, kind: K): readonly ThingOf[K][] =>
  (file[listOf[kind]] ?? []) as readonly ThingOf[K][];

export const find = <K extends Kind>(file: FloorFile, kind: K, id: string): ThingOf[K] | undefined =>
  things(file, kind).find((thing) => thing.id === id);

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** What keeps a JSON value from being drawn, in a sentence; the service says the rest. */
function notDrawable(value: unknown): string {
  if (!isObject(value)) return 'It is not a JSON object.';
  if (value['format'] !== 'tagline-floor/1') return 'Its format is not tagline-floor/1.';
  for (const list of ['points', 'segments', 'stations', 'chargers', 'zones', 'demand'] as const) {
    const found = value[list];
    if (found === undefined && list !== 'points') continue;
    if (!Array.isArray(found) || !found.every(isObject)) return `Its ${list} are not a list of objects.`;
    if (list !== 'demand' && !found.every((thing) => typeof thing['id'] === 'string')) return `Not all of its ${list} have an id.`;
  }
  const points = value['points'] as Record<string, unknown>[];
  if (!points.every((p) => Number.isFinite(p['x']) && Number.isFinite(p['y']))) return 'Not all of its points have an x and a y.';
  const vias = ((value['segments'] ?? []) as Record<string, unknown>[]).map((s) => s['via'] ?? []);
  const isPlace = (via: unknown) => Array.isArray(via) && via.length === 2 && via.every(Number.isFinite);
  if (!vias.every((via) => Array.isArray(via) && via.every(isPlace))) return 'Not all of its segments can be drawn: via is a list of [x, y].';
  return '';
}

export type Read = { ok: true; file: FloorFile } | { ok: false; text: string };

export function fromValue(value: unknown): Read {
  const text = notDrawable(value);
  if (text) return { ok: false, text: `This floor file cannot be drawn. ${text}` };
  const file = value as unknown as FloorFile;
  return { ok: true, file: { ...file, segments: file.segments ?? [], stations: file.stations ?? [] } };
}

export function fromText(text: string): Read {
  try {
    return fromValue(JSON.parse(text));
  } catch {
    return { ok: false, text: 'This is no floor file: it is not JSON.' };
  }
}

/** As people like to read it: one thing a line. */
export function toText(file: FloorFile): string {
  const parts = Object.entries(file).map(([key, value]) => {
    if (!Array.isArray(value) || value.length === 0) return `  ${JSON.stringify(key)}: ${JSON.stringify(value)}`;
    return `  ${JSON.stringify(key)}: [\n${value.map((thing) => `    ${JSON.stringify(thing)}`).join(',\n')}\n  ]`;
  });
  return `{\n${parts.join(',\n')}\n}\n`;
}

/** Corners of a segment's line, both ends included; nothing if an end is missing. */
export function lineOf(file: FloorFile, segment: SegmentThing): Place[] | null {
  const from = find(file, 'point', segment.from);
  const to = find(file, 'point', segment.to);
  return from && to ? [[from.x, from.y], ...(segment.via ?? []), [to.x, to.y]] : null;
}

/** Lowest and highest x and y of everything; a little room if there is nothing. */
export function extent(file: FloorFile): { low: Place; high: Place } {
  const places: Place[] = file.points.map((p) => [p.x, p.y] as Place);
  for (const segment of file.segments) places.push(...(segment.via ?? []));
  if (places.length === 0) return { low: [0, 0], high: [10_000, 6_000] };
  const xs = places.map(([x]) => x);
  const ys = places.map(([, y]) => y);
  return { low: [Math.min(...xs), Math.min(...ys)], high: [Math.max(...xs), Math.max(...ys)] };
}

/** What a JSON pointer of the service's leads to: "/segments/3/to". */
export function thingAt(file: FloorFile, pointer: string): { kind: Kind; id: string } | null {
  const [, list, index] = pointer.split('/');
  const kind = (Object.keys(listOf) as Kind[]).find((one) => listOf[one] === list);
  const thing = kind && things(file, kind)[Number(index)];
  return kind && thing ? { kind, id: thing.id } : null;
}
