// What came of a try-out, in words. Pure.
import type { Tried } from './desk.ts';
import type { Report, Wish } from './service.ts';

/** "45 s", "12.4 min", "3.1 h" */
export function timeWords(seconds: number): string {
  if (seconds < 120) return `${Math.round(seconds)} s`;
  if (seconds < 7_200) return `${(seconds / 60).toFixed(1)} min`;
  return `${(seconds / 3_600).toFixed(1)} h`;
}

/** "3:05", minutes and seconds of the run. */
export function runClockWords(ms: number): string {
  const seconds = Math.floor(ms / 1_000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
}

export const cartsWords = (carts: number) => (carts === 1 ? '1 cart' : `${carts} carts`);

export function jobsWords(wish: Wish): string {
  if (wish.jobs === 'endless') return 'queue never empty';
  return wish.jobs === 'per_hour' ? `${wish.jobs_per_hour} jobs an hour` : 'the floor’s demand';
}

export const wishWords = (wish: Wish) => `${cartsWords(wish.carts)}, ${wish.hours} h, ${jobsWords(wish)}, seed ${wish.seed}`;

/** How it is judged whether carts kept up with what was asked for. */
export const keptUpRule =
  'Met: no job was refused, and at the end no more jobs are open than there are carts, or 95 of 100 asked for are delivered.';

/** Null where the queue is never empty: nothing could be met. */
export function metOf(report: Report, wish: Wish): boolean | null {
  if (wish.jobs === 'endless') return null;
  const keptUp = report.jobs_open <= wish.carts || report.deliveries >= 0.95 * report.jobs_created;
  return report.jobs_refused === 0 && keptUp;
}

export function metWords(report: Report, wish: Wish): string {
  const met = metOf(report, wish);
  if (met === null) return 'Not asked: the queue was never empty';
  const refused = report.jobs_refused ? `, ${report.jobs_refused} refused` : '';
  return `${met ? 'Met' : 'Not met'}: ${report.deliveries} of ${report.jobs_created} jobs delivered, ${report.jobs_open} open at the end${refused}`;
}

/** What must never happen, counted. */
export function safetyWords(report: Report): { good: boolean; text: string } {
  const counts = [
    [report.body_contacts, 'contact of bodies', 'contacts of bodies'],
    [report.held_conflicts, 'conflict in the books', 'conflicts in the books'],
    [report.gridlocks, 'gridlock', 'gridlocks'],
    [report.stuck_carts, 'cart stuck', 'carts stuck'],
  ] as const;
  const text = counts.map(([count, one, many]) => `${count} ${count === 1 ? one : many}`).join(', ');
  return { good: !report.broken && counts.every(([count]) => count === 0), text };
}

export const percent = (share: number) => `${(100 * share).toFixed(share < 0.1 ? 1 : 0)} %`;

/** The merges that were waited for, longest first. */
export const waitedFor = (report: Report) => report.merges.filter((m) => m.seconds > 0).sort((a, b) => b.seconds - a.seconds);

/** Waited, but for no merge: behind a cart at a station, say. s */
export function waitedElsewhere(report: Report, wish: Wish): number {
  const all = report.share.waiting * wish.carts * report.simulated_s;
  return Math.max(0, all - report.merges.reduce((sum, merge) => sum + merge.seconds, 0));
}

/** Deliveries an hour more than with one cart fewer, all else the same; null if nobody has tried that. */
export function gain(one: Tried, tried: readonly Tried[]): number | null {
  const fewer = JSON.stringify({ ...one.wish, carts: one.wish.carts - 1 });
  const before = tried.find((other) => other.drawing === one.drawing && JSON.stringify(other.wish) === fewer);
  return before ? one.tryout.report.deliveries_per_hour - before.tryout.report.deliveries_per_hour : null;
}

export const gainWords = (more: number | null) => (more === null ? '' : `${more < 0 ? '−' : '+'}${Math.abs(more).toFixed(1)}`);

const doings: Record<string, string> = {
  loaded: 'drives with a load',
  empty: 'drives empty',
  waiting: 'waits for its way',
  handling: 'is at a station',
  charging: 'charges',
  resting: 'rests',
};
export const doingWords = (doing: string) => doings[doing] ?? doing;
