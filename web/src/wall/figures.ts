// How the works ran in the last hour, from the jobs that the page knows of. Pure.
import type { Job } from '../api/types.ts';
import { isOpen } from '../live/state.ts';

export const hour = 3_600_000;

export interface Figures {
  /** Start of the time that the figures are about, ms: an hour ago, or later if no more is known. */
  since: number;
  delivered: number;
  /** From asked to delivered, the middle one of those delivered, ms; null without any. */
  lead: number | null;
  /** Delivered after they were due. */
  deliveredLate: number;
  open: number;
  /** Open and overdue now. */
  openLate: number;
}

/**
 * `knownSince`: nothing that ended before is known, ms (0 if all is); `now` by the service's clock.
 */
export function figuresOf(jobs: Iterable<Job>, knownSince: number, now: number): Figures {
  const since = Math.max(now - hour, knownSince);
  const all = [...jobs];
  const delivered = all.filter((j) => j.state === 'delivered' && j.ended_at && Date.parse(j.ended_at) > since);
  const leads = delivered.map((j) => Date.parse(j.ended_at!) - Date.parse(j.created)).sort((a, b) => a - b);
  const open = all.filter(isOpen);
  return {
    since,
    delivered: delivered.length,
    lead: leads.length ? leads[Math.floor(leads.length / 2)]! : null,
    deliveredLate: delivered.filter((j) => j.due && j.ended_at! > j.due).length,
    open: open.length,
    openLate: open.filter((j) => j.due && Date.parse(j.due) < now).length,
  };
}
