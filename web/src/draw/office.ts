// Floor files at the service (server/net/API.md, "The floor drawn anew").
import { ask, type Result } from '../api/client.ts';
import type { FloorFile } from './file.ts';

export interface Draft {
  version: number;
  saved_by: string | null;
  saved_at: string | null;
}

export interface Wrong {
  pointer: string;
  wrong: string;
  right: string;
}

export interface Finding {
  severity: 'forbids' | 'costs' | 'note';
  kind: string;
  place: string;
  at: [number, number];
  figure: string;
  rule: string;
  source: string;
  remedy: string;
}

export interface Check {
  may_run: boolean;
  wrong: Wrong[];
  too_long: boolean;
  check: { findings: Finding[]; max_live_carts: number; bound_per_hour: number | null } | null;
}

export interface Told {
  text: string;
}

export interface Changes {
  version: number;
  /** Why it can't be published; none: it can. */
  against: string[];
  /** Left out while the draft is no floor file. */
  things?: Told[];
  places_anew?: boolean;
  carts?: Told[];
  jobs?: Told[];
  loads?: Told[];
}

export interface Edition {
  number: number;
  by: string | null;
  at: string;
}

/** A check ends after 60 s by itself. */
const patience = 75_000;

/** One question of that kind at a time: the page's own check may still be under way. */
async function inTurn<T>(asking: () => Promise<Result<T>>): Promise<Result<T>> {
  for (let tries = 20; ; tries--) {
    const answer = await asking();
    if (answer.ok || answer.status !== 429 || tries === 0) return answer;
    await new Promise((done) => setTimeout(done, 1_500));
  }
}

export const office = {
  draft: () => ask<Draft & { floor: unknown }>({ method: 'GET', path: '/api/floor/draft' }),
  save: (file: FloorFile, version: number): Promise<Result<Draft>> =>
    ask({ method: 'PUT', path: '/api/floor/draft', body: file, ifMatch: version }),
  check: (file: FloorFile) => ask<Check>({ method: 'POST', path: '/api/floor/check', body: file, patience }),
  changes: () => inTurn(() => ask<Changes>({ method: 'GET', path: '/api/floor/draft/changes', patience })),
  publish: (version: number) =>
    inTurn(() => ask<unknown>({ method: 'POST', path: '/api/floor/draft/publish', body: { version }, patience })),
  inUse: () => ask<unknown>({ method: 'GET', path: '/api/floor/file' }),
  history: () => ask<{ editions: Edition[] }>({ method: 'GET', path: '/api/floor/history' }),
  edition: (number: number) => ask<unknown>({ method: 'GET', path: `/api/floor/history/${number}` }),
};
