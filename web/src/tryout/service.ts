// Try-outs at the service (server/net/API.md, "A floor tried out").
import { ask, pass, type Result } from '../api/client.ts';

export type Jobs = 'demand' | 'per_hour' | 'endless';

export interface Wish {
  carts: number;
  hours: number;
  seed: number;
  jobs: Jobs;
  /** With per_hour. */
  jobs_per_hour?: number;
}

export interface Report {
  jobs_created: number;
  jobs_refused: number;
  deliveries: number;
  jobs_open: number;
  deliveries_per_hour: number;
  bound_per_hour: number | null;
  body_contacts: number;
  held_conflicts: number;
  gridlocks: number;
  stuck_carts: number;
  helped: number;
  lead_time_s: { p50: number; p95: number };
  /** Parts of all carts' time, 0 to 1. */
  share: Record<'loaded' | 'empty' | 'waiting' | 'handling' | 'charging' | 'resting', number>;
  merges: { point: string; waits: number; seconds: number }[];
  simulated_s: number;
  broken?: string;
}

/** [ms since the run began, x and y of the body's middle in mm, degrees counter-clockwise from the x
    axis, index into `doing`, 1: loaded] */
export type Sighting = readonly [at: number, x: number, y: number, nose: number, doing: number, loaded: number];

export interface Movement {
  until_s: number;
  doing: readonly string[];
  carts: readonly { cart: string; sightings: readonly Sighting[] }[];
}

export interface Tryout {
  max_live_carts: number;
  demand_per_hour: number;
  report: Report;
  movement: Movement;
}

/** The service ends it by itself before that: two processes of 3 min at most. */
const patience = 380_000;

export const queryOf = (wish: Wish) =>
  new URLSearchParams(Object.entries(wish).map(([key, value]) => [key, String(value)])).toString();

export const service = {
  /** `drawing`: a floor file. */
  tryOut: (drawing: object, wish: Wish): Promise<Result<Tryout>> =>
    ask({ method: 'POST', path: `/api/floor/tryout?${queryOf(wish)}`, body: drawing, patience }),
  end: () => ask<{ ended: boolean }>({ method: 'POST', path: '/api/floor/tryout/end' }),
  /** As the page is left: nobody is there for the answer, and nothing after it runs. */
  endAsPageGoes: () => {
    const headers: Record<string, string> = pass.csrf ? { 'X-Tagline-Csrf': pass.csrf } : {};
    void fetch('/api/floor/tryout/end', { method: 'POST', keepalive: true, headers }).catch(() => {});
  },
};
