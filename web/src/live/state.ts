// What the board knows, and how each live message changes it. Pure: same state and message in,
// same state out, so that resume can be tested without a socket.
import type { Alarm, Cart, CartChange, Downtime, Job, LiveMessage, Station, Zone } from '../api/types.ts';
import { byText } from '../words/order.ts';

/** Ended jobs kept for display. */
const endedKept = 50;

export interface BoardState {
  run: string;
  rev: number;
  pace: number;
  allStopped: boolean;
  carts: ReadonlyMap<string, Cart>;
  jobs: ReadonlyMap<number, Job>;
  /** Those with a capacity. */
  stations: ReadonlyMap<string, Station>;
  alarms: readonly Alarm[];
  downtimes: readonly Downtime[];
  zones: readonly Zone[];
}

export const nothingKnown: BoardState = {
  run: '',
  rev: -1,
  pace: 1,
  allStopped: false,
  carts: new Map(),
  jobs: new Map(),
  stations: new Map(),
  alarms: [],
  downtimes: [],
  zones: [],
};

export type Applied =
  | { state: BoardState; ok: true }
  /** A message is missing: the link must be made anew and ask for a snapshot. */
  | { ok: false; why: string };

export const isOpen = (job: Job) =>
  job.state === 'queued' || job.state === 'assigned' || job.state === 'loaded';

export function apply(state: BoardState, message: LiveMessage): Applied {
  switch (message.type) {
    case 'snapshot':
      return {
        ok: true,
        state: {
          run: message.run,
          rev: message.rev,
          pace: message.pace,
          allStopped: message.all_stopped,
          carts: new Map(message.carts.map((c) => [c.id, c])),
          jobs: new Map(message.jobs.map((j) => [j.id, j])),
          stations: new Map(message.stations.map((s) => [s.id, s])),
          alarms: message.alarms,
          downtimes: message.downtimes ?? [],
          zones: message.zones ?? [],
        },
      };
    case 'resumed':
      // The missed changes follow, counted on from what we have.
      if (message.run !== state.run) return { ok: false, why: 'resumed another run' };
      return { ok: true, state };
    case 'change': {
      if (message.rev <= state.rev) return { ok: true, state };
      if (message.rev !== state.rev + 1) return { ok: false, why: 'a change is missing' };
      return {
        ok: true,
        state: {
          ...state,
          rev: message.rev,
          carts: changedCarts(state.carts, message.carts),
          jobs: withoutOldest(merged(state.jobs, message.jobs)),
          stations: merged(state.stations, message.stations),
          alarms: message.alarms ?? state.alarms,
          downtimes: message.downtimes ?? state.downtimes,
          zones: message.zones ?? state.zones,
          allStopped: message.all_stopped ?? state.allStopped,
        },
      };
    }
    case 'time':
      return { ok: true, state };
    default:
      return { ok: true, state }; // a kind this page does not know yet
  }
}

function merged<K, T extends { id: K }>(old: ReadonlyMap<K, T>, news?: T[]): ReadonlyMap<K, T> {
  if (!news?.length) return old;
  const all = new Map(old);
  for (const item of news) all.set(item.id, item);
  return all;
}

function changedCarts(old: ReadonlyMap<string, Cart>, news?: CartChange[]): ReadonlyMap<string, Cart> {
  if (!news?.length) return old;
  const all = new Map(old);
  for (const { path_from: first, ...change } of news) {
    const before = all.get(change.id);
    const cart = { ...before, ...change } as Cart; // the snapshot has every cart
    if (before && first !== undefined) cart.path = before.path.filter(({ step }) => step >= first);
    all.set(cart.id, cart);
  }
  return all;
}

function withoutOldest(jobs: ReadonlyMap<number, Job>): ReadonlyMap<number, Job> {
  const ended = [...jobs.values()].filter((j) => !isOpen(j));
  if (ended.length <= endedKept) return jobs;
  const dropped = new Set(ended.sort(latestFirst).slice(endedKept).map((j) => j.id));
  return new Map([...jobs].filter(([id]) => !dropped.has(id)));
}

const latestFirst = (a: Job, b: Job) =>
  byText(b.ended_at ?? b.changed, a.ended_at ?? a.changed) || b.id - a.id;

/** Open jobs by age, then ended ones, latest first. */
export function sortedJobs(state: BoardState): { open: Job[]; ended: Job[] } {
  const all = [...state.jobs.values()];
  return {
    open: all.filter(isOpen).sort((a, b) => byText(a.created, b.created) || a.id - b.id),
    ended: all.filter((j) => !isOpen(j)).sort(latestFirst),
  };
}
