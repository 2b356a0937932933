// Plain words for what the service names briefly. The one place to look for wording.
import type { Cart, CartMode, Handling, Job, JobState } from '../api/types.ts';
import { nameOf } from '../carts/identity.ts';
import type { FloorPlan } from '../floor/geometry.ts';
import { handlingOf, stopsOf } from '../jobs/handling.ts';

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

/** "Casting to Packing" */
export function placesWords(way: { from: string; to: string }, plan: FloorPlan | null): string {
  const name = (id: string) => plan?.stationName(id) ?? id;
  return `${name(way.from)} to ${name(way.to)}`;
}

/** "Casting to Packing", "Casting to Packing by way of Glazing, Kiln room" */
export function jobWords(job: Job, plan: FloorPlan | null): string {
  const name = (id: string) => plan?.stationName(id) ?? id;
  // Unloaded and loaded again at one place: named once.
  const between = job.via.map((s) => s.station).filter((id, i, all) => id !== all[i - 1]);
  const by = between.length ? ` by way of ${between.map(name).join(', ')}` : '';
  return `${placesWords(job, plan)}${by}`;
}

/**
 * What an open job's cart does for it now: "Cart 2 is on its way to Casting", "Cart 2 is unloading
 * at Drying", "Cart 2 waits on its way to Drying".
 */
export function cartOfJobWords(job: Job, cart: Cart | undefined, plan: FloorPlan | null): string {
  if (job.state === 'queued' || job.cart === null) return 'Waits for a cart';
  const who = nameOf(job.cart);
  const name = (id: string) => plan?.stationName(id) ?? id;
  const next = name(stopsOf(job)[job.stops_done] ?? job.to);
  const handling = handlingOf(job, cart);
  if (handling) return `${who} is ${handling.what}ing at ${next}`;
  if (cart?.job === job.id && cart.mode !== 'driving') {
    const stands = cart.mode === 'waiting' ? 'waits' : 'stands';
    return `${who} ${stands} on its way to ${next}`;
  }
  return `${who} is on its way to ${next}`;
}

/** "Delivered 3 min ago, took 6 min" */
export function endedWords(job: Job, now: number): string {
  if (!job.ended_at) return '';
  const ended = Date.parse(job.ended_at);
  const ago = `${stateWords(job.state)} ${spanWords(now - ended)} ago`;
  return job.state === 'delivered' ? `${ago}, took ${spanWords(ended - Date.parse(job.created))}` : ago;
}

const handlings: Record<Handling, string> = { load: 'Load', unload: 'Unload' };
export const handlingWords = (what: Handling) => handlings[what] ?? what;

/** "1 of 3 stops done, next: unload at Glazing"; "" for a job without stops in between. */
export function stopWords(job: Job, plan: FloorPlan | null): string {
  if (!job.via.length) return '';
  const stops = [
    { station: job.from, what: 'load' as const },
    ...job.via,
    { station: job.to, what: 'unload' as const },
  ];
  const done = `${job.stops_done} of ${stops.length} stops done`;
  const next = stops[job.stops_done];
  if (!next || job.ended_at) return done;
  return `${done}, next: ${handlingWords(next.what).toLowerCase()} at ${plan?.stationName(next.station) ?? next.station}`;
}

/** When it is due, and how late it is or was. */
export function dueWords(job: Job, now: number): { text: string; late: boolean } | null {
  if (!job.due) return null;
  const due = Date.parse(job.due);
  const over = (job.ended_at ? Date.parse(job.ended_at) : now) - due;
  const late = over > 0 && (!job.ended_at || job.state === 'delivered');
  const was = job.ended_at ? 'was due' : 'due';
  return { text: `${was} ${momentWords(due, now)}${late ? `, ${spanWords(over)} late` : ''}`, late };
}

/** "2 of 3 loads", "1 of 1 load" */
export const loadWords = (loads: number, capacity: number) =>
  `${loads} of ${capacity} ${capacity === 1 ? 'load' : 'loads'}`;

const alarms: Record<string, string> = {
  link_lost: 'Link lost',
  in_doubt: 'Position in doubt',
  needs_release: 'Needs a release',
  fault: 'Fault',
  unknown_tag: 'Unknown tag',
  missed_tag: 'Missed tag',
  battery_low: 'Battery low',
  stranded_load: 'Stranded load',
  handling_overdue: 'Handling takes too long',
  all_stopped: 'All stopped',
  zone_stopped: 'Zone stopped',
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

/** Local time of day to the minute, with the day if it is another one than that of `now`. */
export function momentWords(ms: number, now: number): string {
  const at = new Date(ms);
  const time = at.toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' });
  if (at.toDateString() === new Date(now).toDateString()) return time;
  return `${at.toLocaleDateString('en-GB', { day: 'numeric', month: 'short' })}, ${time}`;
}

/** What a datetime-local field takes: local time, to the minute. */
export function localInput(ms: number): string {
  const at = new Date(ms);
  return (
    `${at.getFullYear()}-${twoDigits(at.getMonth() + 1)}-${twoDigits(at.getDate())}` +
    `T${twoDigits(at.getHours())}:${twoDigits(at.getMinutes())}`
  );
}

const twoDigits = (n: number) => String(n).padStart(2, '0');

/** Local time of day, with seconds. By hand: it is in a page's first picture, and a phone takes a
 *  twentieth of a second to fetch what it knows about the world's ways of writing times. */
export function clockWords(ms: number): string {
  const at = new Date(ms);
  return [at.getHours(), at.getMinutes(), at.getSeconds()].map(twoDigits).join(':');
}

/** "+01:00": how far the device's clock is from UTC then. */
export function offsetWords(ms: number): string {
  const minutes = -new Date(ms).getTimezoneOffset();
  const size = Math.abs(minutes);
  return `${minutes < 0 ? '−' : '+'}${twoDigits(Math.floor(size / 60))}:${twoDigits(size % 60)}`;
}

/** "14:03:22 +01:00", for clocks that stand alone. */
export const zonedClockWords = (ms: number) => `${clockWords(ms)} ${offsetWords(ms)}`;

/** "At Casting in about 3 min", then "At Glazing in about 5 min"; "" while nobody can tell. Whole
 * minutes, as the service itself tells a moment anew only when it has moved by 10 s. */
export function expectedWords(job: Job, now: number, plan: FloorPlan | null): string {
  if (job.ended_at) return '';
  const [at, station] = job.expected_pickup
    ? [job.expected_pickup, job.from]
    : [job.expected_delivery, job.to];
  if (!at) return '';
  const minutes = Math.round((Date.parse(at) - now) / 60_000);
  const name = plan?.stationName(station) ?? station;
  const what = job.expected_pickup ? `At ${name}` : `Unloaded at ${name}`;
  return minutes < 1 ? `${what} within a minute` : `${what} in about ${minutes} min`;
}
