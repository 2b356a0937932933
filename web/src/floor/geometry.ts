// Lines on the floor: lengths, places along them, directions. All in mm; angles in radians,
// counter-clockwise from the x axis, as on the floor (y up).
import type { Floor, FloorSegment, PathPoint, Position } from '../api/types.ts';

/** A polyline that knows how far each of its corners is from its start. */
export interface Line {
  points: Position[];
  /** Distance of each point from the start; the last one is the drawn length. */
  at: number[];
}

export function lineOf(points: Position[]): Line {
  const at = [0];
  for (let i = 1; i < points.length; i++) {
    at.push(at[i - 1]! + distance(points[i - 1]!, points[i]!));
  }
  return { points, at };
}

export const distance = (a: Position, b: Position) => Math.hypot(b[0] - a[0], b[1] - a[1]);

export const lengthOf = (line: Line) => line.at[line.at.length - 1] ?? 0;

/** The place `s` along the line, clamped to its ends. */
export function placeAt(line: Line, s: number): Position {
  const { points, at } = line;
  if (points.length === 0) return [0, 0];
  if (s <= 0) return points[0]!;
  for (let i = 1; i < points.length; i++) {
    if (s <= at[i]!) {
      const span = at[i]! - at[i - 1]!;
      const part = span > 0 ? (s - at[i - 1]!) / span : 0;
      const [ax, ay] = points[i - 1]!;
      const [bx, by] = points[i]!;
      return [ax + (bx - ax) * part, ay + (by - ay) * part];
    }
  }
  return points[points.length - 1]!;
}

/** Direction of the line near `s`, taken over `reach` to both sides so that corners are rounded. */
export function directionAt(line: Line, s: number, reach: number): number {
  const total = lengthOf(line);
  const a = placeAt(line, Math.max(0, Math.min(s, total) - reach));
  const b = placeAt(line, Math.min(total, Math.max(s, 0) + reach));
  return Math.atan2(b[1] - a[1], b[0] - a[0]);
}

/** The part of the line from `from` to `to` along it. */
export function part(line: Line, from: number, to: number): Position[] {
  const inner = line.points.filter((_, i) => line.at[i]! > from && line.at[i]! < to);
  return [placeAt(line, from), ...inner, placeAt(line, to)];
}

/** Smallest turn from one direction to another, in (-pi, pi]. */
export function turnBetween(from: number, to: number): number {
  let turn = (to - from) % (2 * Math.PI);
  if (turn > Math.PI) turn -= 2 * Math.PI;
  if (turn <= -Math.PI) turn += 2 * Math.PI;
  return turn;
}

/** The floor with its lookups. */
export interface FloorPlan {
  floor: Floor;
  points: ReadonlyMap<string, { x: number; y: number }>;
  segments: ReadonlyMap<string, FloorSegment>;
  /** Station names by point. */
  stationAt: ReadonlyMap<string, string>;
  stationName(id: string): string;
}

export function planOf(floor: Floor): FloorPlan {
  const names = new Map(floor.stations.map((s) => [s.id, s.name]));
  return {
    floor,
    points: new Map(floor.points.map((p) => [p.id, p])),
    segments: new Map(floor.segments.map((s) => [s.id, s])),
    stationAt: new Map(floor.stations.map((s) => [s.point, s.name])),
    stationName: (id) => names.get(id) ?? id,
  };
}

/** One drive along a segment, in the driven direction. */
export interface Leg {
  step: number;
  line: Line;
  /** Driven length, mm: what the floor file says, which may differ from the drawn one. */
  length: number;
  speed: number;
  back: boolean;
  turn: boolean;
}

/** The drive that leads to `to`; nothing if the floor does not know its segment. */
export function legTo(plan: FloorPlan, to: PathPoint): Leg | null {
  const segment = to.segment === null ? undefined : plan.segments.get(to.segment);
  if (!segment) return null;
  const line = lineOf(to.reversed ? [...segment.line].reverse() : segment.line);
  return {
    step: to.step,
    line,
    length: segment.length,
    speed: Math.min(segment.speed, plan.floor.cart.speed),
    back: to.back,
    turn: to.turn,
  };
}

/** The place `s` driven mm along the leg. */
export const placeOnLeg = (leg: Leg, s: number): Position =>
  placeAt(leg.line, (s / leg.length) * lengthOf(leg.line));

/** Where the nose points `s` driven mm along the leg. */
export function noseOnLeg(leg: Leg, s: number): number {
  const along = directionAt(leg.line, (s / leg.length) * lengthOf(leg.line), 150);
  return leg.back ? along + Math.PI : along;
}
