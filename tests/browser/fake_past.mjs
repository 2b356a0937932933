// A made-up past for the fake service: two runs with a gap in between. In the second cart-1 waits, then
// drives; an alarm was raised in it.
import { cartAt, floor, job, link, pathPoint } from './fake_floor.mjs';

const text = (ms) => new Date(ms).toISOString();

export class FakePast {
  /** Questions of boards, as they came. */
  asked = [];
  /** So many are first answered with 503. */
  notYet = 0;

  constructor(end = Date.now()) {
    this.end = end;
    this.runs = [
      { run: 1, from: text(end - 7_200_000), to: text(end - 5_400_000), floor: 'Test pottery', ending: 'stopped' },
      { run: 2, from: text(end - 3_600_000), to: text(end), floor: 'Test pottery', ending: null },
    ];
    /** From here on cart-1 drives. */
    this.drives = end - 600_000;
    this.alarmAt = end - 1_200_000;
  }

  answer = (method, where, body, headers, url) => {
    if (where === '/api/past/floor') return { status: 200, body: { ...floor, name: `Pottery, run ${url.searchParams.get('run')}` } };
    if (where !== '/api/past') return undefined;
    if (!url.search) return { status: 200, body: { runs: this.runs } };
    this.asked.push(Object.fromEntries(url.searchParams));
    if (this.notYet-- > 0) return { status: 503, body: { title: 'Not yet', detail: 'It has been worked out until half the way. Ask again.' } };
    const { at, from = at, to = at, step = '1' } = Object.fromEntries(url.searchParams);
    const span = this.runs.findLast((r) => r.from <= text(Date.parse(from)));
    if (!span) return { status: 404, body: { detail: 'The journal begins later.' } };
    const messages = [];
    let until = Date.parse(from);
    for (let t = until; t <= Date.parse(to) && (t === Date.parse(from) || t <= Date.parse(span.to)); t += Number(step) * 1_000) {
      messages.push(this.board(t, span.run, messages.length));
      until = t;
    }
    const alarms = span.run === 2 ? [this.alarm()] : [];
    return { status: 200, body: { span, until: text(until), messages, alarms, alarms_until: span.to } };
  };

  alarm() {
    return { id: 3, kind: 'missed_tag', cart: null, job: null, point: 'P3', text: 'The tag of P3 was missed.', since: text(this.alarmAt) };
  }

  board(t, run, rev) {
    const driving = run === 2 && t >= this.drives;
    const why = [
      link('turn', 'cart-1 waits at P15 for P10, where cart-2 passes first.', { cart: 'cart-1', other: 'cart-2', since: text(this.drives - 90_000) }),
      link('needs_release', 'cart-2 stands at P9 until a person releases it.', { cart: 'cart-2' }),
    ];
    const carts = [
      driving
        ? cartAt('cart-1', 'P15', 'S16', {
            mode: 'driving', authority: 1, passed_at: text(this.drives),
            path: [pathPoint(1, 'P15', 'S16'), pathPoint(2, 'P10', 'S18', { act: 'rest' })],
          })
        : cartAt('cart-1', 'P15', 'S16', { mode: 'waiting', why }),
      cartAt('cart-2', 'P9', 'S8', { mode: 'needs_release', why: why.slice(1) }),
    ];
    if (rev) return { type: 'change', rev: rev + 1, time: text(t), carts };
    return {
      type: 'snapshot', run: `past-${run}`, rev: 1, time: text(t), pace: 1, all_stopped: false, carts,
      jobs: [job(5, { created: text(t - 60_000), state: driving ? 'assigned' : 'queued', cart: driving ? 'cart-1' : null, why: driving ? [] : why })],
      stations: [], alarms: t >= this.alarmAt && run === 2 ? [this.alarm()] : [], downtimes: [], zones: [],
    };
  }
}
