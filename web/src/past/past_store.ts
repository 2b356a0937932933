// The store of a page that shows the past: the same views are fed with boards that the service has
// worked out again. Nothing can be done to the past, so nobody may do anything here.
import { api } from '../api/client.ts';
import type { Alarm, LiveMessage, PastBoards, Role } from '../api/types.ts';
import { planOf } from '../floor/geometry.ts';
import { apply, nothingKnown } from '../live/state.ts';
import { Store } from '../page/store.ts';
import { rangeOf, spanAt, spanOf, strideOf, within, type Span } from './moments.ts';

/** A slider that is being moved asks when it has rested for so long, ms. */
const restBeforeAsking = 150;
const askAgainAfter = 1_000;
const tickEvery = 100;

export class PastStore extends Store {
  override readonly past = true;
  spans: Span[] = [];
  /** The moment shown or asked for, service time. */
  at = 0;
  /** Times real speed; 0: it stands. */
  speed = 0;
  /** The board of `at` is there. */
  shown = false;
  /** Why it is not, or not yet. */
  trouble = '';
  working = false;
  /** Of the run that is looked at, so far as the service has gone through it. */
  marks: readonly Alarm[] = [];

  private run = 0;
  /** Counts what was asked for, so that a late answer to an old question is not shown. */
  private question = 0;
  private waiting = 0;
  private ahead: { time: number; message: LiveMessage }[] = [];
  private aheadUntil = 0;
  private fetching = false;
  private playedFrom = { at: 0, real: 0 };

  override start(): Promise<void> {
    this.atDoor();
    setInterval(() => this.tick(), tickEvery);
    return this.begin();
  }

  override may(_role: Role): boolean {
    return false;
  }

  override now(): number {
    if (!this.speed) return this.at;
    const wanted = this.playedFrom.at + (performance.now() - this.playedFrom.real) * this.speed;
    return Math.min(wanted, Math.max(this.aheadUntil, this.at));
  }

  /** Shows the board of that moment. */
  goTo(at: number): void {
    const range = rangeOf(this.spans, Infinity);
    if (!range) return;
    this.halt();
    this.at = within(at, range);
    this.shown = false;
    this.question++;
    clearTimeout(this.waiting);
    this.waiting = window.setTimeout(() => void this.askFor(this.question), restBeforeAsking);
    this.changed();
  }

  play(speed: number): void {
    if (!this.shown) return;
    this.at = this.now();
    this.speed = speed;
    this.question++;
    this.ahead = [];
    this.aheadUntil = this.at;
    this.playedFrom = { at: this.at, real: performance.now() };
    this.fetching = false;
    if (speed) void this.fetchAhead(this.question);
    else this.remember();
    this.changed();
  }

  private async begin(): Promise<void> {
    const answer = await api.pastSpans();
    if (!answer.ok) {
      this.trouble = answer.text;
      if (answer.status === 503 || answer.status === 0) setTimeout(() => void this.begin(), askAgainAfter);
      this.changed();
      return;
    }
    this.spans = answer.value.runs.map(spanOf);
    const range = rangeOf(this.spans, Infinity);
    if (!range) {
      this.trouble = 'Nothing is in the journal yet.';
      this.changed();
      return;
    }
    const wanted = Date.parse(new URLSearchParams(location.search).get('at') ?? '');
    this.goTo(Number.isFinite(wanted) ? wanted : range.to);
  }

  private halt(): void {
    this.at = this.now();
    this.speed = 0;
    this.ahead = [];
  }

  private async askFor(question: number): Promise<void> {
    if (question !== this.question) return;
    this.working = true;
    this.changed();
    const answer = await api.pastBoards({ at: new Date(this.at).toISOString() });
    if (question !== this.question) return;
    if (!answer.ok) {
      this.trouble = answer.text;
      // Far from what the service has in memory it takes several tries; each gets further.
      if (answer.status === 503 || answer.status === 0) {
        this.waiting = window.setTimeout(() => void this.askFor(question), askAgainAfter);
      } else {
        this.working = false;
      }
      this.changed();
      return;
    }
    if (!(await this.takeFloor(answer.value, question))) return;
    this.working = false;
    this.trouble = '';
    this.take(answer.value);
    this.scene++; // nothing glides over from the moment before
    for (const message of answer.value.messages) this.hear(message);
    this.link = { kind: 'live' };
    this.shown = true;
    this.remember();
    this.changed();
  }

  /** The floor that the run was on. */
  private async takeFloor(boards: PastBoards, question: number): Promise<boolean> {
    if (boards.span.run === this.run && this.plan) return true;
    const answer = await api.pastFloor(boards.span.run);
    if (question !== this.question) return false;
    if (!answer.ok) {
      this.trouble = answer.text;
      this.waiting = window.setTimeout(() => void this.askFor(question), askAgainAfter);
      this.changed();
      return false;
    }
    this.plan = planOf(answer.value);
    this.run = boards.span.run;
    this.board = nothingKnown;
    return true;
  }

  /** What comes with the boards: how far the run is known by now, and its alarms. */
  private take(boards: PastBoards): void {
    const span = spanOf(boards.span);
    this.spans = this.spans.some((known) => known.run === span.run)
      ? this.spans.map((known) => (known.run === span.run ? span : known))
      : [...this.spans, span];
    this.marks = boards.alarms;
  }

  private hear(message: LiveMessage): void {
    const applied = apply(this.board, message);
    if (applied.ok) this.board = applied.state;
  }

  private async fetchAhead(question: number): Promise<void> {
    if (this.fetching) return;
    this.fetching = true;
    const { step, count } = strideOf(this.speed);
    const from = this.aheadUntil;
    const span = spanAt(this.spans, from);
    const to = from + step * count * 1_000;
    const answer = await api.pastBoards({ from: new Date(from).toISOString(), to: new Date(to).toISOString(), step: String(step) });
    if (question !== this.question) return;
    this.fetching = false;
    if (!answer.ok) {
      this.trouble = answer.text;
      this.changed();
      setTimeout(() => question === this.question && void this.fetchAhead(question), askAgainAfter);
      return;
    }
    this.trouble = '';
    this.take(answer.value);
    const times = answer.value.messages.map((message) => ({ message, time: Date.parse(message.time) }));
    this.ahead.push(...times);
    const until = Date.parse(answer.value.until);
    // The run ends there, or is known no further.
    if (until <= from || (span && answer.value.span.run !== span.run)) {
      if (this.now() >= this.aheadUntil) this.play(0);
      return;
    }
    // What was waited for was not played.
    const late = this.now() >= from;
    this.aheadUntil = until;
    if (late) this.playedFrom = { at: from, real: performance.now() };
  }

  private tick(): void {
    if (!this.speed) return;
    this.at = this.now();
    let heard = false;
    while (this.ahead[0] && this.ahead[0].time <= this.at) {
      this.hear(this.ahead.shift()!.message);
      heard = true;
    }
    const { step, count } = strideOf(this.speed);
    if (this.aheadUntil - this.at < step * count * 500) void this.fetchAhead(this.question);
    if (heard) this.changed();
  }

  /** The address leads back to this moment. */
  private remember(): void {
    const url = new URL(location.href);
    url.searchParams.set('at', new Date(this.at).toISOString());
    history.replaceState(null, '', url);
  }
}
