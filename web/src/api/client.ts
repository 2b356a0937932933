// Asks the service over HTTP. Every refusal and every silence becomes one sentence that a person
// can act on; the caller never sees an exception.
import type { Cart, Downtime, Floor, Job, Problem, Station, Stop, Zone } from './types.ts';

/** Past this the asker is told that no answer came, ms. */
const patience = 10_000;

export type Result<T> =
  | { ok: true; value: T; status: number }
  /**
   * `answered`: the service has decided, and nothing came of it. Otherwise (silence, or an error of
   * the service or of a proxy) nobody knows; `status` is 0 where no answer came at all.
   */
  | { ok: false; text: string; answered: boolean; status: number };

async function ask<T>(method: string, path: string, body?: unknown, key?: string): Promise<Result<T>> {
  const headers: Record<string, string> = { Accept: 'application/json' };
  if (body !== undefined) headers['Content-Type'] = 'application/json';
  if (key) headers['Idempotency-Key'] = key;
  const limit = new AbortController();
  const timer = setTimeout(() => limit.abort(), patience);
  try {
    const answer = await fetch(path, {
      method,
      headers,
      signal: limit.signal,
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    const text = await answer.text();
    if (answer.ok) return { ok: true, value: JSON.parse(text) as T, status: answer.status };
    const { status } = answer;
    return { ok: false, answered: decided(status), status, text: sentence(text, status) };
  } catch {
    return { ok: false, answered: false, status: 0, text: 'The service did not answer.' };
  } finally {
    clearTimeout(timer);
  }
}

/** Not signed in any more, asked too often, an error: the same wish may well be taken later. */
const decided = (status: number) => status < 500 && status !== 401 && status !== 429;

/** The most useful sentence of a problem body; the status when there is none. */
export function sentence(body: string, status: number): string {
  try {
    const problem = JSON.parse(body) as Problem;
    const parts = [problem.detail ?? problem.title ?? ''];
    for (const error of problem.errors ?? []) {
      if (error.detail !== problem.detail) parts.push(`${error.pointer}: ${error.detail}`);
    }
    const text = parts.filter(Boolean).join(' ');
    if (text) return text;
  } catch {
    // Not JSON: a proxy in between answered, say.
  }
  return `The service answered with error ${status}.`;
}

export interface Wish {
  from: string;
  to: string;
  via?: Stop[];
  due?: string;
  priority?: number;
  note?: string;
}

/** What can be taken out of service. */
export type ThingKind = 'segment' | 'station' | 'cart';

export interface DownWish {
  reason?: string;
  from?: string;
  until?: string;
}

const thingPath = (kind: ThingKind, id: string, what: string) =>
  `/api/${kind}s/${encodeURIComponent(id)}/${what}`;
const zonePath = (id: string, what: string) => `/api/zones/${encodeURIComponent(id)}/${what}`;
const cartPath = (id: string, what: string) => `/api/carts/${encodeURIComponent(id)}/${what}`;

export const api = {
  floor: () => ask<Floor>('GET', '/api/floor'),
  job: (id: number) => ask<Job>('GET', `/api/jobs/${id}`),
  queueJob: (wish: Wish, key: string) => ask<Job>('POST', '/api/jobs', wish, key),
  cancelJob: (id: number) => ask<Job>('POST', `/api/jobs/${id}/cancel`),
  placeCart: (id: string, point: string, cameFrom: string) =>
    ask<Cart>('POST', cartPath(id, 'place'), cameFrom ? { point, came_from: cameFrom } : { point }),
  removeCart: (id: string) => ask<Cart>('POST', cartPath(id, 'remove')),
  stopCart: (id: string) => ask<Cart>('POST', cartPath(id, 'stop')),
  releaseCart: (id: string) => ask<Cart>('POST', cartPath(id, 'release')),
  countLoads: (id: string, loads: number) =>
    ask<Station>('POST', `/api/stations/${encodeURIComponent(id)}/loads`, { loads }),
  takeDown: (kind: ThingKind, id: string, wish: DownWish) =>
    ask<{ downtimes: Downtime[] }>('POST', thingPath(kind, id, 'down'), wish),
  bringUp: (kind: ThingKind, id: string) =>
    ask<{ downtimes: Downtime[] }>('POST', thingPath(kind, id, 'up')),
  stopZone: (id: string) => ask<Zone>('POST', zonePath(id, 'stop')),
  releaseZone: (id: string) => ask<Zone>('POST', zonePath(id, 'release')),
  stopAll: () => ask<{ all_stopped: boolean }>('POST', '/api/stop'),
  releaseAll: () => ask<{ all_stopped: boolean }>('POST', '/api/release'),
};

/** A new idempotency key. crypto.randomUUID would need https, which a workshop may not have. */
export function newKey(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join('');
}
