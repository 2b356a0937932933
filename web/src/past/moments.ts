// Moments of the past in words, and the part of time that the slider is about. Pure.
import type { PastSpan } from '../api/types.ts';
import { zonedClockWords } from '../words/words.ts';

/** "Thu 26 Nov 2026, 14:03:20 +01:00" */
export function wholeMoment(ms: number): string {
  const at = new Date(ms);
  const day = at.toLocaleDateString('en-GB', { weekday: 'short', day: 'numeric', month: 'short', year: 'numeric' });
  return `${day.replace(',', '')}, ${zonedClockWords(ms)}`;
}

export interface Span {
  run: number;
  from: number;
  to: number;
  /** How the run ended; null if that is not written or it goes on. */
  ending: string | null;
}

export const spanOf = (span: PastSpan): Span => ({
  run: span.run, from: Date.parse(span.from), to: Date.parse(span.to), ending: span.ending,
});

export const windows = [
  { name: 'Last hour', ms: 3_600_000 },
  { name: 'Last 8 hours', ms: 8 * 3_600_000 },
  { name: 'Last day', ms: 24 * 3_600_000 },
  { name: 'Last 3 days', ms: 72 * 3_600_000 },
  { name: 'Everything kept', ms: Infinity },
] as const;

export interface Range {
  from: number;
  to: number;
}

/** What the slider covers: the last so much before the end of what is known. */
export function rangeOf(spans: readonly Span[], window: number): Range | null {
  const first = spans[0];
  const last = spans[spans.length - 1];
  if (!first || !last) return null;
  const to = Math.max(last.to, last.from + 1_000);
  return { from: Math.max(first.from, to - window), to };
}

export const within = (at: number, { from, to }: Range) => Math.min(to, Math.max(from, at));

/** The run that was going on at `at`; null while none was. */
export const spanAt = (spans: readonly Span[], at: number): Span | null =>
  spans.find((span) => span.from <= at && at <= span.to) ?? null;

/** How often the board is asked for when it is played so many times faster, s, and how many at once. */
export function strideOf(speed: number): { step: number; count: number } {
  if (speed <= 1) return { step: 1, count: 20 };
  if (speed <= 10) return { step: 2, count: 60 };
  return { step: 10, count: 60 };
}
