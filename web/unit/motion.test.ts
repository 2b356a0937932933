// The drawn cart between two reads: it moves as planned and never runs ahead of the evidence.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { Cart, Floor, PathPoint } from '../src/api/types.ts';
import { planOf } from '../src/floor/geometry.ts';
import { Glide, holdBefore } from '../src/floor/motion.ts';

const floor: Floor = {
  name: 'test',
  pace: 1,
  live_limit: { carts: 1, reason: '' },
  cart: {
    length: 600, width: 400, reader_to_nose: 100, speed: 400, acceleration: 300, deceleration: 600,
    clearance: 100,
  },
  points: [[0, 0], [2000, 0], [4000, 0], [4000, 3000]].map(([x, y], i) => ({
    id: `P${i}`, x: x!, y: y!, siding: false, turn_round: false, tagged: true,
  })),
  segments: [['S1', 'P0', 'P1'], ['S2', 'P1', 'P2'], ['S3', 'P2', 'P3']].map(([id, from, to], i) => ({
    id: id!, from: from!, to: to!, length: i === 2 ? 3000 : 2000, speed: 400, two_way: false,
    spur: false,
    line: [[[0, 0], [2000, 0]], [[2000, 0], [4000, 0]], [[4000, 0], [4000, 3000]]][i] as [number, number][],
  })),
  stations: [],
  chargers: [],
};
const plan = planOf(floor);
const start = Date.parse('2026-01-01T08:00:00Z');

const step = (n: number, point: string, segment: string | null, more: Partial<PathPoint> = {}): PathPoint => ({
  step: n, point, segment, reversed: false, back: false, turn: false, act: 'go', ...more,
});
const whole = [step(1, 'P0', null), step(2, 'P1', 'S1'), step(3, 'P2', 'S2'), step(4, 'P3', 'S3', { act: 'rest' })];
const cart = (more: Partial<Cart> = {}): Cart => ({
  id: 'cart-1', mode: 'driving', connected: true, loaded: false, battery: 80, fault: 'none',
  trouble: '', job: null, trip: 1, path: whole, authority: 2,
  passed_at: new Date(start).toISOString(), holds: [], waits_for: null, why: [], ...more,
});
const run = (glide: Glide, from: number, to: number, look?: (now: number) => void) => {
  for (let now = from + 20; now <= to; now += 20) {
    glide.advance(now, 20);
    look?.(now);
  }
};

test('it speeds up and keeps the planned speed (s = v t - v^2 / 2 a)', () => {
  const glide = new Glide(plan, cart(), start);
  run(glide, start, start + 4_000);
  const expected = 400 * 4 - 400 ** 2 / (2 * 300);
  assert.ok(Math.abs(glide.pose()!.at[0] - expected) < 20, `${glide.pose()!.at[0]} is not ${expected}`);
});

test('it is held just before the point not yet read, however late the read', () => {
  const glide = new Glide(plan, cart(), start);
  run(glide, start, start + 60_000, () => assert.ok(glide.pose()!.at[0] <= 2000 - holdBefore + 0.01));
  assert.ok(Math.abs(glide.pose()!.at[0] - (2000 - holdBefore)) < 1);
});

test('without authority it does not move', () => {
  const glide = new Glide(plan, cart({ authority: 0, mode: 'driving' }), start);
  run(glide, start, start + 10_000);
  assert.deepEqual(glide.pose()!.at, [0, 0]);
});

test('a read ahead of the drawing is caught up smoothly, never by a leap', () => {
  const glide = new Glide(plan, cart(), start);
  run(glide, start, start + 3_000);
  const before = glide.pose()!.at[0];
  assert.ok(before < 1_000);
  const now = start + 3_020;
  glide.report(cart({ path: whole.slice(1), authority: 2, passed_at: new Date(now).toISOString() }), now);
  let last = before;
  run(glide, now, now + 1_500, () => {
    const x = glide.pose()!.at[0];
    assert.ok(x >= last - 0.01, 'it goes back');
    assert.ok(x - last < 150, `it leaps by ${x - last} mm`);
    last = x;
  });
  const driven = 400 * 1.5;
  assert.ok(Math.abs(last - (2000 + driven)) < 120, `${last} has not caught up with ${2000 + driven}`);
});

test('it brakes for the end of its authority', () => {
  const glide = new Glide(plan, cart({ authority: 1 }), start);
  let last = 0;
  const speeds: number[] = [];
  run(glide, start, start + 12_000, () => {
    speeds.push((glide.driven - last) / 0.02);
    last = glide.driven;
  });
  const near = speeds[speeds.findIndex((_, i) => speeds.slice(0, i).reduce((a, v) => a + v * 0.02, 0) > 1_900)]!;
  // 100 mm before the stop: v = sqrt(2 a s) = sqrt(2 * 600 * 100) = 346 mm/s
  assert.ok(near > 200 && near < 360, `speed ${near}`);
});

test('standing modes stand where they are', () => {
  for (const mode of ['waiting', 'handling', 'charging', 'idle', 'needs_release', 'in_doubt'] as const) {
    const glide = new Glide(plan, cart({ authority: 0, mode }), start);
    run(glide, start, start + 5_000);
    assert.deepEqual(glide.pose()!.at, [0, 0], mode);
  }
  const glide = new Glide(plan, cart(), start);
  run(glide, start, start + 2_000);
  const x = glide.pose()!.at[0];
  glide.report(cart({ mode: 'needs_release' }), start + 2_020);
  run(glide, start + 2_020, start + 8_000);
  assert.ok(Math.abs(glide.pose()!.at[0] - x) < 15, 'a stopped cart stays where it was drawn');
});

test('reverse gear keeps the nose where it was', () => {
  const back = [step(5, 'P1', 'S1'), step(6, 'P0', 'S1', { reversed: true, back: true })];
  const glide = new Glide(plan, cart({ path: back, authority: 1 }), start);
  run(glide, start, start + 2_000);
  const pose = glide.pose()!;
  assert.ok(pose.at[0] < 2000, 'it goes back along the segment');
  assert.ok(Math.abs(pose.nose % (2 * Math.PI)) < 0.01, `the nose points to ${pose.nose}`);
});

test('after backing out it is drawn on the segment it drove, not the one its tail lay on before', () => {
  // Mouth P1, entered from P0 by S1; the spur is S2, its end P2.
  const path = [
    step(5, 'P2', 'S2'), step(6, 'P1', 'S2', { reversed: true, back: true }), step(7, 'P0', 'S1', { reversed: true }),
  ];
  const glide = new Glide(plan, cart({ path, authority: 1 }), start);
  run(glide, start, start + 3_000);
  const before = glide.pose()!.at[0];
  const now = start + 3_020;
  const mouth = [step(6, 'P1', 'S1'), path[2]!];
  glide.report(cart({ path: mouth, authority: 0, mode: 'waiting', passed_at: new Date(now).toISOString() }), now);
  let last = before;
  run(glide, now, now + 2_000, () => {
    const x = glide.pose()!.at[0];
    assert.ok(x <= last + 0.01 && x >= 2_000, `it is drawn at ${x}`);
    last = x;
  });
  assert.equal(last, 2_000);
});

test('it turns on the spot before it drives', () => {
  const turned = [step(5, 'P1', 'S1'), step(6, 'P0', 'S1', { reversed: true, turn: true })];
  const glide = new Glide(plan, cart({ path: turned, authority: 1 }), start);
  run(glide, start, start + 5_000);
  assert.deepEqual(glide.pose()!.at, [2000, 0]);
  run(glide, start + 5_000, start + 9_000);
  assert.ok(glide.pose()!.at[0] < 1_800);
  assert.ok(Math.abs(Math.abs(glide.pose()!.nose) - Math.PI) < 0.01);
});

test('a cart placed elsewhere is drawn there at once', () => {
  const glide = new Glide(plan, cart(), start);
  run(glide, start, start + 2_000);
  glide.report(
    cart({ mode: 'idle', authority: 0, path: [step(9, 'P3', 'S3', { act: 'rest' })] }),
    start + 2_020,
  );
  assert.deepEqual(glide.pose()!.at, [4000, 3000]);
});

test('off the floor it is not drawn', () => {
  assert.equal(new Glide(plan, cart({ mode: 'off_floor', path: [], authority: 0 }), start).pose(), null);
});

test('random reports: never beyond the next unread point, never beyond the authority', () => {
  let seed = 7;
  const random = () => (seed = (seed * 1103515245 + 12345) % 2 ** 31) / 2 ** 31;
  for (let round = 0; round < 300; round++) {
    let at = 0;
    let now = start;
    const report = () =>
      cart({
        path: whole.slice(at),
        authority: Math.floor(random() * (whole.length - at)),
        mode: random() < 0.8 ? 'driving' : 'waiting',
        passed_at: new Date(now - random() * 500).toISOString(),
      });
    let current = report();
    const glide = new Glide(plan, current, now);
    for (let k = 0; k < 40; k++) {
      const pause = random() * 2_000;
      run(glide, now, now + pause, () => {
        const limit = current.authority > 0 ? 2_000 + (at === 2 ? 1_000 : 0) : 0;
        assert.ok(glide.driven <= limit + 0.01, `round ${round}: ${glide.driven} > ${limit}`);
      });
      now += pause;
      if (random() < 0.4 && at < whole.length - 1) at += 1;
      current = report();
      glide.report(current, now);
    }
  }
});
