// A surveyed way as points and segments of the drawing. The tags say what is there already, so it can
// be done again and again: what this made before and nobody has touched since is drawn anew, what
// somebody has moved or changed stays and the rest goes by it.
import { add, newId, set } from '../draw/edits.ts';
import { find, lineOf, type FloorFile, type Place, type PointThing, type SegmentThing } from '../draw/file.ts';
import type { Distance } from './distances.ts';
import { bow, close, reckon, type Drawn, type Stretch, type Turn } from './lay_out.ts';
import type { Walk } from './walk.ts';

/** Things as they were put on the sheet. */
export interface Made {
  points: ReadonlyMap<string, PointThing>;
  segments: ReadonlyMap<string, SegmentThing>;
}
export const nothingMade: Made = { points: new Map(), segments: new Map() };

export interface Wishes {
  /** How the tape bends on the leg to that visit. */
  turns: ReadonlyMap<number, Turn>;
  /** The way rings and bows turn. */
  side: 'left' | 'right';
}

export interface Accepted {
  file: FloorFile;
  made: Made;
  /** The point of each visit. */
  points: string[];
  /** What a person should look at, in sentences. */
  notes: string[];
}

/**
 * Highest speed where a length is only estimated, mm/s: a cart brakes at the length it is told, so with
 * a wrong one it may come to the tag unbraked; from this it stands within some 25 mm all the same.
 */
export const creep = 150;
/** Room below what is drawn already for a way that begins nowhere, mm. */
const apart = 2_000;
/** Two tapes within this leave a point the same way, radians. */
const sameWay = Math.PI / 6;

export const pointOfTag = (file: FloorFile, tag: string): PointThing | undefined =>
  file.points.find((point) => point.tags?.includes(tag));

/** The segment from there to there. */
export const segmentOf = (file: FloorFile, from: string, to: string): SegmentThing | undefined =>
  file.segments.find((s) => s.from === from && s.to === to);

/** It is as the survey has drawn it. */
export const untouched = (made: Made, segment: SegmentThing): boolean => {
  const then = made.segments.get(segment.id);
  return !!then && (['from', 'to', 'via', 'length', 'speed'] as const).every((key) => then[key] === segment[key]);
};

export function accept(before: FloorFile, walk: Walk, distances: readonly Distance[], wishes: Wishes, made: Made): Accepted {
  const sheet = new SurveySheet(before, made, wishes.side);
  const points = walk.visits.map((visit) => sheet.pointFor(visit.tags));
  walk.legs.forEach((_, k) => sheet.planned(k, points[k]!, points[k + 1]!));
  const stretches = walk.legs.map((leg, k): Stretch => ({ mm: distances[k]!.mm, turn: wishes.turns.get(leg.to.number) }));
  sheet.layOut(points, stretches, distances);
  return sheet.done(points);
}

class SurveySheet {
  private readonly points: Map<string, PointThing>;
  private readonly segments: Map<string, SegmentThing>;
  private readonly notes: string[] = [];
  /** Legs that are to be drawn, with the id of their segment. */
  private readonly toDraw = new Map<number, string>();
  /** Points whose place is known. */
  private readonly placed: Set<string>;
  /** Segments whose line is as it will be. */
  private readonly laid = new Set<string>();
  /** The segment driven last, and whether that was back along it. */
  private last = '';
  private backing = false;

  constructor(
    private file: FloorFile,
    made: Made,
    private readonly side: 'left' | 'right',
  ) {
    const standing = file.segments.filter((s) => !untouched(made, s));
    const pinned = new Set(standing.flatMap((s) => [s.from, s.to]));
    const free = file.points.filter((p) => {
      const then = made.points.get(p.id);
      return then && then.x === p.x && then.y === p.y && !pinned.has(p.id);
    });
    this.points = new Map(free.map((p) => [p.id, p]));
    this.segments = new Map(file.segments.filter((s) => untouched(made, s)).map((s) => [s.id, s]));
    this.placed = new Set(file.points.filter((p) => !this.points.has(p.id)).map((p) => p.id));
  }

  pointFor(tags: readonly string[]): string {
    const known = tags.map((tag) => pointOfTag(this.file, tag)).find(Boolean);
    const missing = tags.filter((tag) => !pointOfTag(this.file, tag));
    if (known) {
      if (missing.length) this.file = set(this.file, 'point', known.id, 'tags', [...(known.tags ?? []), ...missing]);
      return known.id;
    }
    const id = newId(this.file, 'point');
    this.file = add(this.file, 'point', { id, x: 0, y: 0, tags: [...tags] });
    this.points.set(id, find(this.file, 'point', id)!);
    return id;
  }

  /** What leg `k` is: tape that is there, the way back along it, or new. */
  planned(k: number, from: string, to: string): void {
    const there = segmentOf(this.file, from, to);
    const other = segmentOf(this.file, to, from);
    if (there) {
      const first = ![...this.toDraw.values()].includes(there.id);
      if (this.segments.has(there.id) && first) this.toDraw.set(k, there.id);
      this.backing = false;
    } else if (other) {
      // Straight back from the end of it: a dead end. From elsewhere: tape that is driven both ways.
      const back = this.backing || this.last === other.id;
      if (!other.spur && !other.two_way) {
        this.change(other.id, back ? 'spur' : 'two_way');
        this.notes.push(back ? `${other.id} is taken for a dead end: the cart came back the way it went in.` : `${other.id} is taken to be driven both ways.`);
      }
      this.backing = back;
      this.last = other.id;
      return;
    } else {
      const id = newId(this.file, 'segment');
      if (this.file.segments.some((s) => s.from === from)) this.notes.push(`The tape parts at ${from}: look that left and right are drawn as they are on the floor.`);
      if (this.file.segments.some((s) => s.to === to)) this.notes.push(`Two tapes come together at ${to}.`);
      else if (this.file.segments.some((s) => s.from === to)) this.notes.push(`${id} closes the way at ${to}.`);
      this.file = add(this.file, 'segment', { id, from, to });
      this.segments.set(id, find(this.file, 'segment', id)!);
      this.toDraw.set(k, id);
      this.backing = false;
    }
    this.last = segmentOf(this.file, from, to)!.id;
  }

  private change(id: string, key: 'spur' | 'two_way'): void {
    this.file = set(this.file, 'segment', id, key, true);
    if (this.segments.has(id)) this.segments.set(id, find(this.file, 'segment', id)!);
  }

  layOut(points: readonly string[], stretches: readonly Stretch[], distances: readonly Distance[]): void {
    let run: number[] = [];
    const draw = (legs: number[], end?: string) => {
      if (legs.length > 0) this.draw(points[legs[0]!]!, legs, points, stretches, distances, end);
    };
    if (points[0] !== undefined && !this.placed.has(points[0])) this.place(points[0], this.somewhere());
    for (let k = 0; k < stretches.length; k++) {
      const to = points[k + 1]!;
      if (!this.toDraw.has(k)) {
        draw(run);
        run = [];
        continue;
      }
      run.push(k);
      const passed = run.findIndex((leg) => leg !== k && points[leg + 1] === to);
      if (passed >= 0) {
        draw(run.slice(0, passed + 1));
        draw(run.slice(passed + 1), to);
        run = [];
      } else if (this.placed.has(to)) {
        draw(run, to);
        run = [];
      }
    }
    draw(run);
  }

  private draw(start: string, legs: number[], points: readonly string[], all: readonly Stretch[], distances: readonly Distance[], end?: string): void {
    const from = this.at(start);
    const heading = this.headingAt(start);
    const stretches = legs.map((k) => all[k]!);
    const told = stretches.some((one) => one.turn !== undefined);
    let way: Drawn[];
    if (end === undefined) {
      const [first, ...rest] = stretches;
      const parts = first!.turn === undefined && this.taken(start, heading);
      way = reckon(from, heading, [parts ? { ...first!, turn: 'right' } : first!, ...rest]);
    } else {
      way = told ? close(from, heading, stretches, this.at(end)) : bow(from, heading, stretches, this.at(end), this.side);
    }
    legs.forEach((k, n) => {
      const to = points[k + 1]!;
      if (!this.placed.has(to)) this.place(to, way[n]!.at);
      this.lay(this.toDraw.get(k)!, way[n]!.via, distances[k]!);
    });
  }

  private lay(id: string, via: Place[], distance: Distance): void {
    const old = find(this.file, 'segment', id)!;
    const [a, b] = [this.at(old.from), this.at(old.to)];
    const straight = Math.hypot(a[0] - b[0], a[1] - b[1]);
    const fits = distance.mm >= straight - 2;
    if (!fits) this.notes.push(`${id} is drawn longer than it was driven, because its ends lie further apart: its drawn length counts.`);
    const slow = distance.how !== 'set' && distance.how !== 'drawn' && (this.file.cart?.['speed'] ?? 400) > creep;
    const { via: _v, length: _l, speed: _s, ...rest } = old;
    const next: SegmentThing = { ...rest, ...(via.length ? { via } : {}), ...(fits ? { length: distance.mm } : {}), ...(slow ? { speed: creep } : {}) };
    this.laid.add(id);
    if (JSON.stringify(next) === JSON.stringify(old)) return; // so that nothing new is no step
    this.file = { ...this.file, segments: this.file.segments.map((s) => (s.id === id ? next : s)) };
    this.segments.set(id, next);
  }

  private place(id: string, [x, y]: Place): void {
    this.placed.add(id);
    const old = this.points.get(id)!;
    if (old.x === x && old.y === y) return;
    this.file = { ...this.file, points: this.file.points.map((p) => (p.id === id ? { ...p, x, y } : p)) };
  }

  private at(id: string): Place {
    const { x, y } = find(this.file, 'point', id)!;
    return [x, y];
  }

  /** Below all that is drawn. */
  private somewhere(): Place {
    const there = this.file.points.filter((p) => this.placed.has(p.id));
    if (there.length === 0) return [0, 0];
    return [Math.min(...there.map((p) => p.x)), Math.min(...there.map((p) => p.y)) - apart];
  }

  /** How a cart comes to that point; else how it leaves it; else to the right. */
  private headingAt(id: string): number {
    const lines = this.drawnLines();
    const into = lines.find(({ s }) => s.to === id && !s.spur);
    if (into) return direction(into.line.at(-2)!, into.line.at(-1)!);
    const out = lines.find(({ s }) => s.from === id);
    return out ? direction(out.line[0]!, out.line[1]!) : 0;
  }

  /** Tape leaves that point that way already. */
  private taken(id: string, heading: number): boolean {
    return this.drawnLines().some(({ s, line }) => s.from === id && between(direction(line[0]!, line[1]!), heading) < sameWay);
  }

  private drawnLines() {
    const open = new Set([...this.toDraw.values()].filter((id) => !this.laid.has(id)));
    return this.file.segments.flatMap((s) => {
      const line = this.placed.has(s.from) && this.placed.has(s.to) && !open.has(s.id) ? lineOf(this.file, s) : null;
      return line ? [{ s, line }] : [];
    });
  }

  done(points: string[]): Accepted {
    const ours = <T extends { id: string }>(list: readonly T[], mine: ReadonlyMap<string, unknown>) =>
      new Map(list.filter((one) => mine.has(one.id)).map((one) => [one.id, one]));
    const made = { points: ours(this.file.points, this.points), segments: ours(this.file.segments, this.segments) };
    return { file: this.file, made, points, notes: [...new Set(this.notes)] };
  }
}

const direction = (a: Place, b: Place) => Math.atan2(b[1] - a[1], b[0] - a[0]);

/** The angle between two directions, 0 to pi. */
const between = (a: number, b: number) => Math.abs(Math.atan2(Math.sin(a - b), Math.cos(a - b)));
