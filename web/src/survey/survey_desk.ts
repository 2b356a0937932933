// What the commissioning panel knows and does: the survey at the service, what a person said of its
// reads, and what came of it on the sheet.
import { ask, type Result } from '../api/client.ts';
import type { Desk } from '../draw/desk.ts';
import { add, newId, set } from '../draw/edits.ts';
import { find, lineOf, things, type FloorFile } from '../draw/file.ts';
import { lengthOf, lineOf as measured } from '../floor/geometry.ts';
import { accept, nothingMade, pointOfTag, segmentOf, untouched, type Accepted, type Made } from './accept.ts';
import { distancesOf, paceOf, type Distance, type Known, type Pace } from './distances.ts';
import type { Turn } from './lay_out.ts';
import { walkOf, type Leg, type SurveyRead, type Walk } from './walk.ts';

export interface Survey {
  cart: string;
  by: string;
  since: string;
  /** Why it ended; null while it is running. */
  ended: string | null;
  connected: boolean;
  tells_moving: boolean;
  full: boolean;
  last: number;
  reads: SurveyRead[];
}

/** All that follows from the reads and from what was said. */
export interface Seen {
  walk: Walk;
  distances: Distance[];
  pace: Pace;
  /** What accepting would make. */
  accepted: Accepted;
}

interface Answer {
  survey: Survey | null;
}

const place = '/api/floor/survey';
const every = 1_000;

export class SurveyDesk {
  survey: Survey | null = null;
  reads: SurveyRead[] = [];
  trouble = '';
  same = new Set<number>();
  leftOut = new Set<number>();
  turns = new Map<number, Turn>();
  /** Distance to that visit, mm. */
  set = new Map<number, number>();
  side: 'left' | 'right' = 'left';
  private made: Made = nothingMade;
  private timer: ReturnType<typeof setTimeout> | undefined;

  constructor(
    private readonly desk: Desk,
    private readonly changed: () => void,
  ) {}

  get running(): boolean {
    return this.survey !== null && this.survey.ended === null;
  }

  // ---- at the service ----

  async look(): Promise<void> {
    const after = this.reads.length;
    this.take(await ask<Answer>({ method: 'GET', path: `${place}?after=${after}` }), after);
  }

  async begin(cart: string): Promise<void> {
    this.take(await ask<Answer>({ method: 'POST', path: place, body: { cart } }), 0);
  }

  async end(): Promise<void> {
    this.take(await ask<Answer>({ method: 'POST', path: `${place}/end` }), 0);
  }

  close(): void {
    clearTimeout(this.timer);
  }

  /** `after`: the answer has no reads up to that one. */
  private take(answer: Result<Answer>, after: number): void {
    clearTimeout(this.timer);
    this.trouble = answer.ok ? '' : answer.text;
    if (answer.ok) {
      const { survey } = answer.value;
      if (!survey) {
        // A service that was started anew has forgotten it; what was read is still here.
        if (this.survey) this.survey = { ...this.survey, ended: this.survey.ended ?? 'The service was started anew.' };
      } else {
        const other = survey.since !== this.survey?.since;
        if (other) this.forget();
        this.survey = survey;
        if (other && after > 0) return void this.look();
        this.reads = [...this.reads, ...survey.reads.filter((read) => read.number > this.reads.length)];
      }
    }
    this.changed();
    if (this.running) this.timer = setTimeout(() => void this.look(), every);
  }

  private forget(): void {
    this.reads = [];
    for (const said of [this.same, this.leftOut, this.turns, this.set]) said.clear();
    this.made = nothingMade;
  }

  // ---- what follows ----

  get seen(): Seen | null {
    const { file } = this.desk;
    if (!file || this.reads.length === 0) return null;
    const walk = walkOf(this.reads, this, (tag) => pointOfTag(file, tag)?.id);
    const known = walk.legs.map((leg) => this.known(file, leg));
    const pace = paceOf(walk.legs, known, file.cart?.['speed'] ?? 400);
    const distances = distancesOf(walk.legs, known, pace, this.survey?.tells_moving ?? false);
    return { walk, distances, pace, accepted: accept(file, walk, distances, this, this.made) };
  }

  private known(file: FloorFile, leg: Leg): Known {
    const [from, to] = [leg.from, leg.to].map((visit) => visit.tags.map((tag) => pointOfTag(file, tag)).find(Boolean)?.id);
    const segment = from && to ? (segmentOf(file, from, to) ?? segmentOf(file, to, from)) : undefined;
    const line = segment && !untouched(this.made, segment) ? lineOf(file, segment) : null;
    return { set: this.set.get(leg.to.number), drawn: line ? (segment!.length ?? Math.round(lengthOf(measured(line)))) : undefined };
  }

  /** What accepting brings, in words; "" if nothing. */
  news({ accepted }: Seen): string {
    const file = this.desk.file!;
    if (accepted.file === file) return '';
    const words = (['point', 'segment'] as const).flatMap((kind) => {
      const count = things(accepted.file, kind).length - things(file, kind).length;
      return count === 0 ? [] : [`${count} ${kind}${count === 1 ? '' : 's'}`];
    });
    return words.join(' and ') || 'the changes';
  }

  accept({ accepted }: Seen): void {
    this.made = accepted.made;
    this.desk.pause();
    this.desk.step(accepted.file);
    const last = find(accepted.file, 'point', accepted.points.at(-1) ?? '');
    if (last) this.desk.look([last.x, last.y]);
  }

  // ---- what a person says ----

  private say(change: () => void): void {
    change();
    this.changed();
  }

  sayTurn = (visit: number, turn: Turn | undefined) => this.say(() => void (turn ? this.turns.set(visit, turn) : this.turns.delete(visit)));
  sayDistance = (visit: number, mm: number | undefined) => this.say(() => void (mm === undefined ? this.set.delete(visit) : this.set.set(visit, Math.max(100, Math.round(mm / 10) * 10))));
  saySame = (visit: number) => this.say(() => void this.same.add(visit));
  sayApart = (visit: number) => this.say(() => void this.same.delete(visit));
  leaveOut = (visit: number) => this.say(() => void this.leftOut.add(visit));
  takeBack = (visit: number) => this.say(() => void this.leftOut.delete(visit));
  saySide = (side: 'left' | 'right') => this.say(() => void (this.side = side));

  /** What a point is there for. */
  becomes(point: string, what: 'station' | 'charger' | 'siding'): void {
    const file = this.desk.file!;
    if (what === 'siding') return this.desk.step(set(file, 'point', point, 'siding', true));
    if (what === 'charger') return this.desk.addAt('charger', point);
    const id = newId(file, 'station');
    this.desk.step(add(file, 'station', { id, name: `Station ${id.replace(/\D/g, '')}`, point }));
    this.desk.choose({ kind: 'station', id });
  }
}
