// The jobs asked for from this phone, as last seen: the service tells only of open jobs and of those
// that ended lately, and an operator wants to see what became of theirs.
import type { Job } from '../api/types.ts';
import { isOpen } from '../live/state.ts';

/** So many are remembered. */
export const mineKept = 12;

export function withNew(mine: readonly Job[], job: Job): readonly Job[] {
  return [job, ...mine.filter((j) => !same(j, job))].slice(0, mineKept);
}

/** Brought up to date; the very same list when nothing has changed. */
export function refreshed(mine: readonly Job[], jobs: ReadonlyMap<number, Job>): readonly Job[] {
  let changed = false;
  const now = mine.map((old) => {
    const fresh = jobs.get(old.id);
    if (!fresh || fresh === old || !same(fresh, old)) return old;
    changed = changed || JSON.stringify(fresh) !== JSON.stringify(old);
    return fresh;
  });
  return changed ? now : mine;
}

/** What another tab has kept, each job as whoever saw it last; the very same list where nothing differs. */
export function merged(kept: readonly Job[], mine: readonly Job[]): readonly Job[] {
  const now = kept.map((theirs) => {
    const own = mine.find((j) => same(j, theirs));
    return own && own.changed >= theirs.changed ? own : theirs;
  });
  return now.length === mine.length && now.every((job, i) => job === mine[i]) ? mine : now;
}

/** Open when last seen, but the service tells nothing of them any more: worth asking after. */
export const lostSight = (mine: readonly Job[], jobs: ReadonlyMap<number, Job>): Job[] =>
  mine.filter((job) => isOpen(job) && !jobs.has(job.id));

/** A service with another data folder counts its jobs anew, so the number alone won't do. */
export const same = (a: Job, b: Job) => a.id === b.id && a.created === b.created;
