// The builder's office of the fake service: a draft with its version, a check and changes that a test
// decides (server/net/API.md, "The floor drawn anew").
import { floor as served } from './fake_floor.mjs';
import { now } from './fake_service.mjs';

/** A floor file of the fake service's floor, with a key that no page knows. */
export const floorFile = () => ({
  format: 'tagline-floor/1',
  name: 'Small works',
  cart: { length: 600, width: 400 },
  points: served.points.map(({ id, x, y }, k) => ({ id, x, y, tags: [`04A1${k.toString(16).padStart(4, '0').toUpperCase()}`] })),
  segments: served.segments.map(({ id, from, to, line, two_way, spur }) => ({
    id, from, to, ...(line.length > 2 ? { via: line.slice(1, -1) } : {}), ...(two_way ? { two_way } : {}), ...(spur ? { spur } : {}),
  })),
  stations: served.stations.map(({ id, name, point }) => ({ id, name, point })),
  chargers: [{ id: 'C1', point: 'P11' }],
  made_by: 'somebody who knows more',
});

export const finding = (more = {}) => ({
  severity: 'costs', kind: 'stands-in-way', place: 'station GLAZE at P3', at: [8000, 0],
  figure: 'A cart being handled there keeps the others behind it.', rule: 'Stations lie on tape of their own.',
  source: 'common practice, no source', remedy: 'Lay a second way past it.', ...more,
});

/** What a try-out answers: two carts, the second standing, for one minute. */
export const tryout = (carts, more = {}) => ({
  max_live_carts: 3,
  demand_per_hour: 0,
  report: {
    jobs_created: 100, jobs_refused: 0, deliveries: 90, jobs_open: 10, deliveries_per_hour: 10 * carts, bound_per_hour: 40,
    body_contacts: 0, held_conflicts: 0, gridlocks: 0, stuck_carts: 0, helped: 0, lead_time_s: { p50: 95, p95: 400 },
    share: { loaded: 0.3, empty: 0.2, waiting: 0.25, handling: 0.1, charging: 0.05, resting: 0.1 },
    merges: [{ point: 'P10', waits: 12, seconds: 340 }, { point: 'P15', waits: 0, seconds: 0 }], simulated_s: 3_600,
    ...more,
  },
  movement: {
    until_s: 60,
    doing: ['loaded', 'empty', 'waiting', 'handling', 'charging', 'resting'],
    carts: [
      { cart: 'cart-1', sightings: [[0, 2_000, 0, 0, 1, 0], [20_000, 8_000, 0, 0, 3, 1], [40_000, 8_000, 0, 0, 0, 1], [60_000, 14_000, 0, 0, 0, 1]] },
      { cart: 'cart-2', sightings: [[0, 17_000, 5_000, 90, 2, 0]] },
    ],
  },
});

export class FakeOffice {
  /** Decides what a try-out answers: its query and the drawing in. */
  tries = (query) => ({ status: 200, body: tryout(Number(query.get('carts'))) });
  /** [query, drawing] of each that was asked for, and how often one was ended. */
  tried = [];
  ended = 0;

  version = 0;
  draft = null;
  by = 'demo';
  inUse = floorFile();
  findings = [finding()];
  wrong = [];
  against = [];
  published = [];
  checked = 0;

  /** Answers for that service. */
  serve(service) {
    const before = service.answer;
    service.answer = (method, path, body, headers, url) => this.answer(method, path, body, headers, url) ?? before(method, path, body);
    return this;
  }

  state = () => ({ version: this.version, saved_by: this.draft ? this.by : null, saved_at: this.draft ? this.at : null });

  answer(method, path, body, headers, url) {
    if (!path.startsWith('/api/floor/')) return undefined;
    const what = path.slice('/api/floor/'.length);
    if (what === 'survey') return { status: 200, body: { survey: null } };
    if (what === 'file') return { status: 200, body: this.inUse };
    if (what === 'check') {
      this.checked += 1;
      const may = this.wrong.length === 0 && this.findings.every((f) => f.severity !== 'forbids');
      const check = this.wrong.length ? null : { findings: this.findings, max_live_carts: 3, bound_per_hour: 20 };
      return { status: 200, body: { may_run: may, wrong: this.wrong, too_long: false, check } };
    }
    if (what === 'tryout') {
      this.tried.push([String(url.searchParams), body]);
      return this.tries(url.searchParams, body);
    }
    if (what === 'tryout/end') {
      this.ended += 1;
      return { status: 200, body: { ended: true } };
    }
    if (what === 'draft' && method === 'GET') return { status: 200, body: { ...this.state(), floor: this.draft ?? this.inUse } };
    if (what === 'draft') {
      if (headers['if-match'] !== `"${this.version}"`) {
        return { status: 412, body: { detail: `${this.by} saved version ${this.version}.` } };
      }
      this.save(body, 'demo');
      return { status: 200, body: this.state() };
    }
    if (what === 'draft/changes') {
      return {
        status: 200,
        body: {
          ...this.state(), against: this.against, places_anew: true,
          things: [{ text: 'point P3 is altered: x.' }], jobs: [{ text: 'Job 4 loses its station GLAZE and ends as cancelled.' }],
          carts: [{ text: 'cart-1 was last seen at P15: a person must look where it stands and place it.' }], loads: [],
        },
      };
    }
    if (what === 'draft/publish') {
      if (body.version !== this.version) return { status: 412, body: { detail: 'Another version.' } };
      this.published.push(this.draft);
      this.inUse = this.draft;
      this.draft = null;
      this.version += 1;
      return { status: 200, body: { version: this.version } };
    }
    if (what === 'history') return { status: 200, body: { editions: [{ number: 1, by: null, at: now() }] } };
    return { status: 200, body: floorFile() };
  }

  save(draft, by) {
    this.version += 1;
    this.draft = draft;
    this.by = by;
    this.at = now();
  }
}
