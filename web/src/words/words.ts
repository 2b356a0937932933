// Plain words for what the service names briefly. The one place to look for wording.
import type { Cart, CartMode, Job, JobState } from '../api/types.ts';
import type { FloorPlan } from '../floor/geometry.ts';
import { nameOf } from '../carts/identity.ts';

const modes: Record<CartMode, string> = {
  off_floor: 'Off the floor',
  in_doubt: 'Position in doubt',
  needs_release: 'Stopped, needs a release',
  idle: 'Free',
  driving: 'Driving',
  waiting: 'Waiting',
  handling: 'At a station',
  charging: 'Charging',
};

export function modeWords(cart: Cart, plan: FloorPlan | null): string {
  if (cart.mode !== 'handling') return modes[cart.mode] ?? cart.mode;
  const here = cart.path[0];
  const place = here && plan?.stationAt.get(here.point);
  const what =
    here?.act === 'load' ? 'Loading' : here?.act === 'unload' ? 'Unloading' : modes.handling;
  return place && what !== modes.handling ? `${what} at ${place}` : what;
}

const states: Record<JobState, string> = {
  queued: 'Queued',
  assigned: 'Cart on its way',
  loaded: 'Load on board',
  delivered: 'Delivered',
  cancelled: 'Cancelled',
  stranded: 'Stranded',
};
export const stateWords = (state: JobState) => states[state] ?? state;

export function jobWords(job: Job, plan: FloorPlan | null): string {
  return `${plan?.stationName(job.from) ?? job.from} to ${plan?.stationName(job.to) ?? job.to}`;
}

/** "waits for P12, Cart 2 is there" */
export function waitWords(cart: Cart): string {
  const waits = cart.waits_for;
  if (!waits) return '';
  return waits.cart
    ? `waits for ${waits.track}, ${nameOf(waits.cart)} is there`
    : `waits for ${waits.track}`;
}

const alarms: Record<string, string> = {
  link_lost: 'Link lost',
  in_doubt: 'Position in doubt',
  needs_release: 'Needs a release',
  fault: 'Fault',
  unknown_tag: 'Unknown tag',
  missed_tag: 'Missed tag',
  battery_low: 'Battery low',
  stranded_load: 'Stranded load',
  all_stopped: 'All stopped',
  no_way: 'No way',
};
export const alarmWords = (kind: string) => alarms[kind] ?? kind.replace(/_/g, ' ');

const faults: Record<string, string> = {
  blocked: 'Something is in its way',
  tape_lost: 'It lost the tape',
  overrun: 'It ran past its stop',
  wrong_tag: 'It read a tag that is not on its way',
  battery: 'Battery trouble',
  drive: 'Drive trouble',
  reader: 'Tag reader trouble',
};
export const faultWords = (fault: string) =>
  !fault || fault === 'none' ? '' : (faults[fault] ?? fault);

/** "45 s", "3 min", "2 h 5 min": how long ago or how long, rounded down. */
export function spanWords(ms: number): string {
  const s = Math.max(0, Math.floor(ms / 1_000));
  if (s < 60) return `${s} s`;
  const min = Math.floor(s / 60);
  if (min < 60) return `${min} min`;
  const h = Math.floor(min / 60);
  if (h < 24) return min % 60 ? `${h} h ${min % 60} min` : `${h} h`;
  const d = Math.floor(h / 24);
  return h % 24 ? `${d} d ${h % 24} h` : `${d} d`;
}

/** Local time of day, with seconds. */
export function clockWords(ms: number): string {
  return new Date(ms).toLocaleTimeString('en-GB', { hour12: false });
}
