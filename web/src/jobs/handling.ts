// What a job's cart stands at a station for, if it does.
import type { Cart, Handling, Job } from '../api/types.ts';

export function handlingOf(job: Job, cart: Cart | undefined): { station: string; what: Handling } | null {
  if (job.ended_at || cart?.job !== job.id || cart.mode !== 'handling') return null;
  const act = cart.path[0]?.act;
  if (act !== 'load' && act !== 'unload') return null;
  return { station: stopsOf(job)[job.stops_done] ?? job.to, what: act };
}

/** Stations in the order of the stops. */
export const stopsOf = (job: Job) => [job.from, ...job.via.map((stop) => stop.station), job.to];
