// What a survey read, as a way: places in the order they were passed, and the time from each to the
// next. Knows no page and no drawing.

/** As the service tells it (server/net/API.md, "A survey"). */
export interface SurveyRead {
  number: number;
  tag: string;
  /** When it arrived, since the survey began. */
  at_ms: number;
  /** For how long the cart said it stood since the read before. */
  stood_ms: number;
  /** It waited in the cart for the link: nobody knows when it was read. */
  late: boolean;
}

/** A place that was passed: one tag, or several that lie at one point. */
export interface Visit {
  /** Of its first read; names it for as long as the survey lasts. */
  number: number;
  tags: string[];
}

/** Why the time of a leg says little. */
export type Doubt = '' | 'late' | 'stood' | 'quick';

export interface Leg {
  from: Visit;
  to: Visit;
  /** Time on the way, without what the cart said it stood; null if nobody knows it. */
  ms: number | null;
  doubt: Doubt;
}

export interface Walk {
  visits: Visit[];
  /** One fewer than visits; leg k leads to visit k + 1. */
  legs: Leg[];
}

/** What a person said of single reads, by number. */
export interface Said {
  /** Marks the same point as the read before it. */
  same: ReadonlySet<number>;
  leftOut: ReadonlySet<number>;
}

/** Faster from tag to tag than a cart is driven: then the radio held them up, ms. */
const tooQuick = 300;

/** `placeOf`: the point that a tag belongs to already. */
export function walkOf(reads: readonly SurveyRead[], said: Said, placeOf: (tag: string) => string | undefined): Walk {
  const visits: Visit[] = [];
  const legs: Leg[] = [];
  const there = (visit: Visit, tag: string) =>
    visit.tags.includes(tag) || (placeOf(tag) !== undefined && visit.tags.some((other) => placeOf(other) === placeOf(tag)));
  let left = { at: 0, late: false }; // when the last place was left, as far as its first tag tells
  let stood = 0;
  for (const read of reads) {
    stood += read.stood_ms;
    if (said.leftOut.has(read.number)) continue;
    const last = visits.at(-1);
    if (last && (there(last, read.tag) || said.same.has(read.number))) {
      if (!last.tags.includes(read.tag)) last.tags.push(read.tag);
      // Rolled to and fro over it: the way begins with the last time.
      if (read.tag === last.tags[0]) left = { at: read.at_ms, late: read.late };
      else continue;
      stood = 0;
      continue;
    }
    const visit: Visit = { number: read.number, tags: [read.tag] };
    visits.push(visit);
    if (last) {
      const untimed = left.late || read.late;
      const ms = read.at_ms - left.at - stood;
      const doubt: Doubt = untimed ? 'late' : ms < tooQuick ? 'quick' : stood > 0 ? 'stood' : '';
      legs.push({ from: last, to: visit, ms: untimed || ms <= 0 ? null : ms, doubt });
    }
    left = { at: read.at_ms, late: read.late };
    stood = 0;
  }
  return { visits, legs };
}

/** So many reads in a row came late that the cart may have kept only the last of them. */
export const mayMiss = (reads: readonly SurveyRead[]): boolean => {
  let run = 0;
  return reads.some((read) => (run = read.late ? run + 1 : 0) >= keptByCarts);
};

/** What the cart's library keeps without a link (protocol/README.md, "Not too much"). */
const keptByCarts = 12;
