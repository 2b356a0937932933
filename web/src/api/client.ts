// Asks the service over HTTP. Every refusal and every silence becomes one sentence that a person
// can act on; the caller never sees an exception.
import type {
  Account,
  Alarm,
  AuditEntry,
  Cart,
  Downtime,
  Figures,
  Floor,
  Handling,
  Job,
  Me,
  PastBoards,
  PastSpan,
  Problem,
  Role,
  Station,
  Stop,
  Token,
  Zone,
} from './types.ts';

/** Past this the asker is told that no answer came, ms. */
const patience = 10_000;

export type Result<T> =
  | { ok: true; value: T; status: number }
  /**
   * `answered`: the service has decided, and nothing came of it. Otherwise (silence, or an error of
   * the service or of a proxy) nobody knows; `status` is 0 where no answer came at all.
   */
  | {
      ok: false;
      text: string;
      answered: boolean;
      status: number;
      /** Of GET /api/me: nobody has an account yet. */
      setup: boolean;
    };

/** What goes with each question once somebody is signed in; kept by the page that asks. */
export const pass = {
  csrf: '',
  /** Nobody is signed in (any more). */
  turnedAway: () => {},
  /** Asks for `csrf` anew. */
  renew: () => Promise.resolve(),
};

export interface Question {
  method: 'GET' | 'POST' | 'PUT';
  path: string;
  body?: unknown;
  /** Idempotency key. */
  key?: string;
  /** Version of what is replaced. */
  ifMatch?: number;
  /** Where an answer takes longer than usual, ms. */
  patience?: number;
  /** A 401 is an answer to this question, no reason to leave the page. */
  atDoor?: boolean;
}

export async function ask<T>(question: Question): Promise<Result<T>> {
  const used = pass.csrf;
  const answer = await askOnce<T>(question);
  if (answer.ok || question.atDoor) return answer;
  // Asked before it was known who is signed in, or signed in anew in another tab: nothing waits for
  // that beforehand, least of all a stop.
  if (answer.status === 403) {
    await pass.renew();
    if (pass.csrf !== used) return askOnce<T>(question);
  }
  if (answer.status === 401) pass.turnedAway();
  return answer;
}

async function askOnce<T>({ method, path, body, key, ifMatch, patience: longest }: Question): Promise<Result<T>> {
  const headers: Record<string, string> = { Accept: 'application/json' };
  if (body !== undefined) headers['Content-Type'] = 'application/json';
  if (key) headers['Idempotency-Key'] = key;
  if (ifMatch !== undefined) headers['If-Match'] = `"${ifMatch}"`;
  if (method !== 'GET' && pass.csrf) headers['X-Tagline-Csrf'] = pass.csrf;
  const limit = new AbortController();
  const timer = setTimeout(() => limit.abort(), longest ?? patience);
  try {
    const answer = await fetch(path, {
      method,
      headers,
      signal: limit.signal,
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    const text = await answer.text();
    const { status } = answer;
    if (answer.ok) return { ok: true, value: (text ? JSON.parse(text) : undefined) as T, status };
    const problem = problemOf(text);
    return {
      ok: false,
      answered: decided(status),
      status,
      text: sentence(text, status),
      setup: problem.setup === true,
    };
  } catch {
    return { ok: false, answered: false, status: 0, text: 'The service did not answer.', setup: false };
  } finally {
    clearTimeout(timer);
  }
}

function problemOf(text: string): Problem {
  try {
    return (JSON.parse(text) ?? {}) as Problem;
  } catch {
    return {}; // not JSON: a proxy in between answered, say
  }
}

const get = <T>(path: string) => ask<T>({ method: 'GET', path });
const post = <T>(path: string, body?: unknown) => ask<T>({ method: 'POST', path, body });
const atDoor = <T>(method: 'GET' | 'POST', path: string, body?: unknown) =>
  ask<T>({ method, path, body, atDoor: true });

/** Not signed in any more, asked too often, an error: the same wish may well be taken later. */
const decided = (status: number) => status < 500 && status !== 401 && status !== 429;

/** The most useful sentence of a problem body; the status when there is none. */
export function sentence(body: string, status: number): string {
  const problem = problemOf(body);
  const parts = [problem.detail ?? problem.title ?? problem.error ?? ''];
  for (const error of problem.errors ?? []) {
    if (error.detail !== problem.detail) parts.push(`${error.pointer}: ${error.detail}`);
  }
  return parts.filter(Boolean).join(' ') || `The service answered with error ${status}.`;
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

const accountPath = (name: string, what: string) =>
  `/api/accounts/${encodeURIComponent(name)}/${what}`;

export interface NewToken {
  name: string;
  scope: Role | 'call';
  days: number;
  from?: string;
  to?: string;
}

export const api = {
  me: () => atDoor<Me>('GET', '/api/me'),
  signIn: (name: string, password: string) => atDoor<Me>('POST', '/api/sign-in', { name, password }),
  setUp: (code: string, name: string, password: string) =>
    atDoor<Me>('POST', '/api/setup', { code, name, password }),
  signOut: () => post<undefined>('/api/sign-out'),
  accounts: () => get<{ accounts: Account[] }>('/api/accounts'),
  addAccount: (name: string, role: Role, password: string) =>
    post<unknown>('/api/accounts', { name, role, password }),
  setRole: (name: string, role: Role) => post<unknown>(accountPath(name, 'role'), { role }),
  setPassword: (name: string, password: string) =>
    post<unknown>(accountPath(name, 'password'), { password }),
  setOwnPassword: (name: string, old: string, password: string) =>
    atDoor<unknown>('POST', accountPath(name, 'password'), { old, password }),
  removeAccount: (name: string) => post<unknown>(accountPath(name, 'remove')),
  tokens: () => get<{ tokens: Token[] }>('/api/tokens'),
  addToken: (wish: NewToken) => post<Token & { token: string }>('/api/tokens', wish),
  revokeToken: (id: string) => post<unknown>(`/api/tokens/${encodeURIComponent(id)}/revoke`),
  audit: (limit: number, before?: number) =>
    get<{ entries: AuditEntry[] }>(`/api/audit?limit=${limit}${before === undefined ? '' : `&before=${before}`}`),
  seeAlarm: (alarm: Alarm) => post<Alarm>(`/api/alarms/${alarm.id}/seen`, { since: alarm.since }),
  floor: () => get<Floor>('/api/floor'),
  figures: (range: string) => get<Figures>(`/api/figures?${range}`),
  pastSpans: () => get<{ runs: PastSpan[] }>('/api/past'),
  /** `at`, or `from`, `to` and `step`. */
  pastBoards: (asked: Record<string, string>) => get<PastBoards>(`/api/past?${new URLSearchParams(asked)}`),
  pastFloor: (run: number) => get<Floor>(`/api/past/floor?run=${run}`),
  jobs: (limit: number) => get<{ jobs: Job[] }>(`/api/jobs?limit=${limit}`),
  job: (id: number) => get<Job>(`/api/jobs/${id}`),
  queueJob: (wish: Wish, key: string) => ask<Job>({ method: 'POST', path: '/api/jobs', body: wish, key }),
  cancelJob: (id: number) => post<Job>(`/api/jobs/${id}/cancel`),
  sayHandled: (id: number, what: Handling) => post<Job>(`/api/jobs/${id}/handled`, { what }),
  placeCart: (id: string, point: string, cameFrom: string) =>
    post<Cart>(cartPath(id, 'place'), cameFrom ? { point, came_from: cameFrom } : { point }),
  removeCart: (id: string) => post<Cart>(cartPath(id, 'remove')),
  stopCart: (id: string) => post<Cart>(cartPath(id, 'stop')),
  releaseCart: (id: string) => post<Cart>(cartPath(id, 'release')),
  countLoads: (id: string, loads: number) =>
    post<Station>(`/api/stations/${encodeURIComponent(id)}/loads`, { loads }),
  takeDown: (kind: ThingKind, id: string, wish: DownWish) =>
    post<{ downtimes: Downtime[] }>(thingPath(kind, id, 'down'), wish),
  bringUp: (kind: ThingKind, id: string) =>
    post<{ downtimes: Downtime[] }>(thingPath(kind, id, 'up')),
  stopZone: (id: string) => post<Zone>(zonePath(id, 'stop')),
  releaseZone: (id: string) => post<Zone>(zonePath(id, 'release')),
  stopAll: () => post<{ all_stopped: boolean }>('/api/stop'),
  releaseAll: () => post<{ all_stopped: boolean }>('/api/release'),
};

/** A new idempotency key. crypto.randomUUID would need https, which a workshop may not have. */
export function newKey(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join('');
}
