// For work on the page without a service: plays carts over a floor file, forever, through the fake
// service. `node tests/browser/play.mjs [floor.json] [port] [pace]`. Its traffic is make-believe.
import { readFileSync } from 'node:fs';
import { floor as smallFloor, job as newJob, link, pathPoint } from './fake_floor.mjs';
import { FakeService, now } from './fake_service.mjs';

/** A floor file (tagline-floor/1) as GET /api/floor gives it. */
export function asApi(file) {
  const at = new Map(file.points.map((p) => [p.id, [p.x, p.y]]));
  return {
    name: file.name,
    pace: 1,
    live_limit: { carts: 5, reason: '' },
    cart: { speed: 400, acceleration: 300, deceleration: 600, clearance: 100, reader_to_nose: 0, ...file.cart },
    points: file.points.map((p) => ({
      id: p.id, x: p.x, y: p.y, siding: p.siding ?? false, turn_round: p.turn_round ?? false,
      tagged: (p.tags ?? []).length > 0,
    })),
    segments: file.segments.map((s) => {
      const line = [at.get(s.from), ...(s.via ?? []), at.get(s.to)];
      let length = 0;
      for (let i = 1; i < line.length; i++) {
        length += Math.hypot(line[i][0] - line[i - 1][0], line[i][1] - line[i - 1][1]);
      }
      return {
        id: s.id, from: s.from, to: s.to, line, length: s.length ?? Math.round(length),
        speed: s.speed ?? 400, two_way: s.two_way ?? false, spur: s.spur ?? false,
      };
    }),
    stations: file.stations.map(({ id, name, point, capacity }) => ({
      id, name, point, capacity: capacity ?? null, loads: capacity ? Math.ceil(capacity / 2) : null,
    })),
    chargers: (file.chargers ?? []).map(({ id, point }) => ({ id, point })),
  };
}

export class Play {
  constructor(service, count, pace = 1) {
    this.service = service;
    this.pace = pace;
    this.out = new Map();
    for (const s of service.floor.segments) {
      if (s.spur || s.two_way) continue;
      this.out.set(s.from, [...(this.out.get(s.from) ?? []), s]);
    }
    const starts = service.floor.segments.filter((s) => !s.spur && !s.two_way && this.out.has(s.to));
    this.drives = [];
    service.carts.clear();
    for (let i = 0; i < count; i++) {
      const by = starts[Math.floor((i * starts.length) / count)];
      const drive = { id: `cart-${i + 1}`, step: 1, path: [pathPoint(1, by.to, by.id)], done: 0 };
      this.drives.push(drive);
      service.carts.set(drive.id, this.report(drive, 'idle'));
    }
  }

  holds(drive) {
    return [drive.path[0].segment, ...drive.path.flatMap((p, i) => (i ? [p.segment, p.point] : [p.point]))];
  }

  report(drive, mode, more = {}) {
    return {
      id: drive.id, mode, connected: true, loaded: drive.loaded ?? false, battery: 88 - drive.step % 60,
      fault: 'none', trouble: '', job: drive.job ?? null, trip: 1, path: drive.path,
      authority: drive.path.length - 1, passed_at: drive.passed ?? now(), holds: this.holds(drive),
      waits_for: null, why: [], ...more,
    };
  }

  /** A tenth of a second passes. */
  tick() {
    for (const drive of this.drives) {
      const next = drive.path[1];
      if (next) {
        const segment = this.service.floor.segments.find((s) => s.id === next.segment);
        drive.done += Math.min(segment.speed, this.service.floor.cart.speed) * 0.1 * this.pace;
        if (drive.done < segment.length) continue;
        drive.done = 0;
        drive.path = drive.path.slice(1);
        drive.passed = now();
      }
      const taken = new Map();
      for (const d of this.drives) if (d !== drive) for (const id of this.holds(d)) taken.set(id, d.id);
      let inWay = null;
      while (drive.path.length < 4) {
        const last = drive.path[drive.path.length - 1];
        const ways = this.out.get(last.point) ?? [];
        const way = ways[Math.floor(Math.random() * ways.length)];
        if (!way) break;
        const other = taken.get(way.to) ?? taken.get(way.id);
        if (other) {
          inWay = { track: way.to, cart: other, for_turn: false, since: now() };
          break;
        }
        drive.step += 1;
        drive.path = [...drive.path, pathPoint(last.step + 1, way.to, way.id)];
      }
      if (drive.path.length > 1) {
        drive.waiting = false;
        this.service.change({ carts: [this.report(drive, 'driving')] });
      } else if (!drive.waiting) {
        drive.waiting = true;
        const since = now();
        const why = !inWay ? [] : [
          link('held_track', `${drive.id} waits at ${drive.path[0].point} for ${inWay.track}, which ${inWay.cart} holds.`, { since }),
          link('handling', `${inWay.cart} is being unloaded at Glazing.`, { since }),
        ];
        this.service.change({ carts: [this.report(drive, 'waiting', { waits_for: inWay, why })] });
      }
    }
  }
}

const [, , file, port = '18400', pace = '1'] = process.argv;
if (process.argv[1]?.endsWith('play.mjs')) {
  const floor = file ? asApi(JSON.parse(readFileSync(file, 'utf8'))) : smallFloor;
  const service = new FakeService(floor);
  const play = new Play(service, 5, Number(pace));
  const stations = floor.stations.map((s) => s.id);
  [['delivered', -9], ['delivered', -5], ['loaded', -3], ['assigned', -2], ['queued', -1]].forEach(([state, min], i) => {
    const then = new Date(Date.now() + min * 60_000).toISOString();
    service.jobs.set(i + 1, newJob(i + 1, {
      from: stations[i % stations.length], to: stations[(i + 2) % stations.length], state,
      cart: state === 'queued' ? null : `cart-${i}`, created: then, changed: then,
      ended_at: state === 'delivered' ? now() : null,
      note: i === 3 ? 'glazed bowls, fragile' : '', priority: i === 4 ? 9 : 5,
      via: i === 2 ? [{ station: stations[3], what: 'unload' }, { station: stations[3], what: 'load' }] : [],
      stops_done: i < 2 ? 2 : i === 2 ? 1 : 0,
      due: i > 0 ? new Date(Date.now() + (i - 3) * 240_000).toISOString() : null,
      why: state !== 'queued' ? [] : [
        link('no_cart_free', `Job ${i + 1} waits: every cart is busy; cart-2 is expected to be free first.`, { until: new Date(Date.now() + 90_000).toISOString() }),
        link('turn', `cart-2 waits at ${floor.points[2].id} for ${floor.points[3].id}, where cart-1 passes first.`, { since: then }),
        link('handling', 'cart-1 is being unloaded at Glazing.', { since: then }),
      ],
    }));
  });
  play.drives[2].loaded = true;
  play.drives[2].job = 3;
  play.drives[3].job = 4;
  if (process.env.ALARM) {
    service.alarms = [
      { id: 1, kind: 'in_doubt', cart: 'cart-5', job: null, point: null, text: 'Cart 5 read no tag for 2 minutes. Look where it stands and place it, or take it off the floor.', since: now() },
      { id: 2, kind: 'missed_tag', cart: null, job: null, point: floor.points[3].id, text: `The tag of ${floor.points[3].id} was missed 3 times. Clean or replace it.`, since: now() },
    ];
    service.allStopped = process.env.ALARM === '2';
  }
  await service.start(Number(port));
  setInterval(() => play.tick(), 100);
  console.log(service.url);
}
